"""Dates worked out from dates: an age from a birth, a birth from a service.

Pure calendar arithmetic in the proleptic Gregorian calendar; today is an argument.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr


class DateOrderError(ExamError):
    """A date that must lie in the past lies in the future, or is none."""

    advice = to_translate(
        "This date cannot be right. Nothing was changed. "
        "Type a day that is not after today, as 2026-03-14."
    )


@dataclass(frozen=True, slots=True)
class PregnancyWindow:
    """A published length of pregnancy, in days from service; never a limit.

    Attributes:
        low_days: First day of the window; ``None`` where the source prints none.
        high_days: Last day of the window; ``None`` where the source prints none.
        mean_days: The mean; where there is no window, the source's only number.
    """

    species: str
    source_id: str
    low_days: int | None = None
    high_days: int | None = None
    mean_days: Decimal | None = None
    note: str = ""

    @property
    def problem(self) -> str:
        """Why it can be used neither as a window nor as one number, or nothing."""
        low, high = self.low_days, self.high_days
        if low is None and high is None:
            return "" if self.mean_days else "it has no number"
        if low is None or high is None:
            return "a window has two ends"
        return "" if low < high else "a window of one day is no window"


@dataclass(frozen=True, slots=True)
class DueWindow:
    """When a birth is expected by one source.

    Attributes:
        earliest: First day expected; ``about`` where the source prints one number.
        latest: Last day expected; ``about`` where the source prints one number.
        about: The day by that one number; ``None`` where there is a window.
    """

    earliest: date
    latest: date
    window: PregnancyWindow
    about: date | None = None


def read_day(typed: str) -> date:
    """Read a day written as ``2026-03-14``.

    Raises:
        DateOrderError: It is no day.
    """
    try:
        return date.fromisoformat(typed.strip())
    except ValueError as error:
        raise DateOrderError(tr("no day")) from error


def age_in_days(birth: date, today: date) -> int:
    """Return whole days since birth; 0 on the day itself.

    Raises:
        DateOrderError: The birth lies after today.
    """
    days = (today - birth).days
    if days < 0:
        raise DateOrderError(tr("birth after today"))
    return days


def due_windows(
    windows: tuple[PregnancyWindow, ...], service: date, today: date
) -> tuple[DueWindow, ...]:
    """Return every source's window for a birth, and what is one number only.

    Args:
        windows: As the table orders them.
        service: The day of service, counted as day 0.
        today: No service lies after it.

    Returns:
        Windows first, then single numbers, each in the order of the table.

    Raises:
        DateOrderError: The service lies after today.
    """
    if service > today:
        raise DateOrderError(tr("service after today"))
    found = [_due(window, service) for window in windows]
    return tuple(sorted(found, key=lambda due: due.about is not None))


def _due(window: PregnancyWindow, service: date) -> DueWindow:
    if window.low_days is None or window.high_days is None:
        mean = (window.mean_days or Decimal(0)).quantize(Decimal(1), ROUND_HALF_UP)
        day = service + timedelta(days=int(mean))
        return DueWindow(day, day, window, day)
    first, last = (timedelta(days=n) for n in (window.low_days, window.high_days))
    return DueWindow(service + first, service + last, window)

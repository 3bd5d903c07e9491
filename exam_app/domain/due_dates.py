"""Dates worked out from dates: an age from a birth, a birth from a service.

Pure calendar arithmetic in the proleptic Gregorian calendar; today is an argument.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from exam_app.domain.errors import ExamError


class DateOrderError(ExamError):
    """A date that must lie in the past lies in the future, or is none."""

    advice = (
        "This date cannot be right. Nothing was changed. "
        "Type a day that is not after today, as 2026-03-14."
    )


@dataclass(frozen=True, slots=True)
class PregnancyWindow:
    """A published length of pregnancy, in days from service; never a limit."""

    species: str
    low_days: int
    high_days: int
    source_id: str
    mean_days: Decimal | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class DueWindow:
    """When a birth is expected by one source."""

    earliest: date
    latest: date
    window: PregnancyWindow


def read_day(typed: str) -> date:
    """Read a day written as ``2026-03-14``.

    Raises:
        DateOrderError: It is no day.
    """
    try:
        return date.fromisoformat(typed.strip())
    except ValueError as error:
        raise DateOrderError("no day") from error


def age_in_days(birth: date, today: date) -> int:
    """Return whole days since birth; 0 on the day itself.

    Raises:
        DateOrderError: The birth lies after today.
    """
    days = (today - birth).days
    if days < 0:
        raise DateOrderError("birth after today")
    return days


def due_windows(
    windows: tuple[PregnancyWindow, ...], service: date, today: date
) -> tuple[DueWindow, ...]:
    """Return every source's window for a birth, in the order of the table.

    Args:
        service: The day of service, counted as day 0.

    Raises:
        DateOrderError: The service lies after today.
    """
    if service > today:
        raise DateOrderError("service after today")
    return tuple(
        DueWindow(
            service + timedelta(days=window.low_days),
            service + timedelta(days=window.high_days),
            window,
        )
        for window in windows
    )

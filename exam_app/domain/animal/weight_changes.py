"""A weight beside the animal's own earlier one: kilograms, per cent, days, estimates.

Whether a weight is asked about once more is common practice and has no source: it
refuses nothing, names nothing, and the person's word stands.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from exam_app.domain.animal.history import PastValue
from exam_app.domain.measure.conversion import (
    convert,
    plain_number,
    round_to_step,
    with_unit,
)
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.language.catalogue import tr, tr_plural

# Common practice, no source: far enough apart that a slip is likelier than a change.
# They only ask once more, and the young grow.
_LEAST_LEFT, _MOST_GAINED, _MOST_GROWN = Fraction(3, 4), Fraction(4, 3), Fraction(2)


@dataclass(frozen=True, slots=True)
class WeightChange:
    """One weight beside an earlier one.

    Attributes:
        by: The difference in ``unit``, below zero for a loss.
        percent: Of the earlier weight, to 0.1, halves away from zero.
        days: Between the two local dates.
        was_estimate, is_estimate: Whether the earlier, or this one, was not weighed.
    """

    by: Decimal
    unit: str
    percent: Decimal
    days: int
    was_estimate: bool = False
    is_estimate: bool = False

    @property
    def words(self) -> str:
        """Say it in numbers, and whether a weight was estimated."""
        number = with_unit(_shortest(abs(self.by)), self.unit)
        percent = _signed(self.percent)
        if self.by == 0:
            changed = tr("the same weight")
        elif self.by > 0:
            changed = tr("{weight} more ({percent} %)", weight=number, percent=percent)
        else:
            changed = tr("{weight} less ({percent} %)", weight=number, percent=percent)
        return f"{self._since(changed)}{self._estimated}"

    def _since(self, changed: str) -> str:
        if not self.days:
            return tr("{changed} that day", changed=changed)
        return tr_plural(
            "{changed} after {count} day",
            "{changed} after {count} days",
            self.days,
            changed=changed,
        )

    @property
    def _estimated(self) -> str:
        if self.was_estimate and self.is_estimate:
            return tr("; both weights are estimates")
        if self.was_estimate:
            return tr("; the earlier weight is an estimate")
        return tr("; this weight is an estimate") if self.is_estimate else ""


def _shortest(number: Decimal) -> str:
    text = plain_number(number)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _signed(number: Decimal) -> str:
    sign = "+" if number > 0 else "\N{MINUS SIGN}" if number < 0 else ""
    return f"{sign}{plain_number(abs(number))}"


def weight_change(before: PastValue, now: PastValue) -> WeightChange | None:
    """Return what a weight differs by from an earlier one.

    Returns:
        ``None`` where one is no number, is not above zero, or has another unit, and
        where this one was seen on a day before the other.
    """
    days = _days(before.at, now.at)
    if days < 0 or before.unit != now.unit:
        return None
    if before.number is None or now.number is None:
        return None
    if before.number <= 0 or now.number <= 0:
        return None
    by = now.number - before.number
    share = 100 * Fraction(by) / Fraction(before.number)
    return WeightChange(
        by,
        now.unit,
        round_to_step(share, Decimal("0.1")),
        days,
        before.is_estimate,
        now.is_estimate,
    )


def _days(before: Moment, now: Moment) -> int:
    dates: tuple[date, date] = (before.local().date(), now.local().date())
    return (dates[1] - dates[0]).days


def is_grown(protocol: SpeciesProtocol, life_stage: str) -> bool:
    """Say whether an animal is in its last stage of life, or of an age not known."""
    stages = [one for one in protocol.life_stages if one.stage_id == life_stage]
    return not stages or stages[0].until_days is None


def is_unlikely_weight(before: PastValue, now: Reading, *, is_grown: bool) -> bool:
    """Say whether a weight is so far off the last one that it is asked about.

    More than a quarter lost, or more than a third gained by a grown animal and more
    than doubled by a young one. Common practice, no source: it asks and refuses
    nothing.

    Args:
        before: The last weight.
        now: As typed.
        is_grown: As the function of that name says.

    Raises:
        UnitMismatchError: What was typed is no weight.
    """
    if before.number is None or before.number <= 0:
        return False
    share = convert(now.value, now.unit, before.unit) / Fraction(before.number)
    return share < _LEAST_LEFT or share > (_MOST_GAINED if is_grown else _MOST_GROWN)

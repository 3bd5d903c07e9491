"""Lumps: what is felt, how it was measured, and when a difference may be called one.

Sizes keep tool, direction and person, since two people's callipers can differ by
centimetres on the same lump. A difference is stated only beyond that error, and
length by width is never multiplied: a product would look like an area.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from exam_app.domain.errors import LumpSizeError
from exam_app.domain.measure.conversion import (
    convert,
    plain_number,
    round_to_step,
    with_unit,
)
from exam_app.domain.measure.units import Measure, Reading
from exam_app.domain.wording.kept_words import offered
from exam_app.language.catalogue import to_translate, tr, tr_context


class LumpDepth(StrEnum):
    """How deep a lump lies."""

    IN_SKIN = "in_skin"
    UNDER_SKIN = "under_skin"
    DEEP = "deep"
    NOT_SURE = "not_sure"


class LumpTool(StrEnum):
    """What a lump was measured with."""

    CALLIPER = "calliper"
    RULER = "ruler"
    TAPE = "tape"
    BY_EYE = "by_eye"


class Consistency(StrEnum):
    """How a lump feels."""

    SOFT = "soft"
    FIRM = "firm"
    HARD = "hard"
    FLUID = "fluid"
    MIXED = "mixed"


class Mobility(StrEnum):
    """How a lump moves under the fingers."""

    MOVES_FREELY = "moves_freely"
    MOVES_WITH_SKIN = "moves_with_skin"
    FIXED = "fixed"
    NOT_SURE = "not_sure"


class Surface(StrEnum):
    """What the skin over a lump looks like."""

    SMOOTH = "smooth"
    UNEVEN = "uneven"
    HAIRLESS = "hairless"
    OPEN = "open"


class LumpPain(StrEnum):
    """What the animal shows when a lump is touched."""

    NONE_SHOWN = "none_shown"
    SHOWN = "shown"
    NOT_TESTED = "not_tested"


@dataclass(frozen=True, slots=True)
class LumpSize:
    """One measuring of a lump.

    Args:
        dimensions: One to three lengths as typed, the longest first.
        tool: What it was measured with.
        direction: How the longest lay: a clock hour, or along or across the body.
        measured_by: Who measured, as shown on the record.
    """

    dimensions: tuple[Reading, ...]
    tool: LumpTool
    direction: str
    measured_by: str


@dataclass(frozen=True, slots=True)
class Lump:
    """A lump as found. What was not noted is None.

    Args:
        second_size: A second measuring, the calliper taken off and put on again.
    """

    depth: LumpDepth
    size: LumpSize
    second_size: LumpSize | None = None
    consistency: Consistency | None = None
    mobility: Mobility | None = None
    surface: Surface | None = None
    pain: LumpPain | None = None


_FEEL = {
    LumpDepth.IN_SKIN: to_translate("in skin"),
    LumpDepth.UNDER_SKIN: to_translate("under skin"),
    LumpDepth.DEEP: to_translate("deep"),
    LumpDepth.NOT_SURE: to_translate("not sure"),
    Consistency.SOFT: to_translate("soft"),
    Consistency.FIRM: to_translate("firm"),
    Consistency.HARD: to_translate("hard"),
    Consistency.FLUID: to_translate("fluid"),
    Consistency.MIXED: to_translate("mixed"),
    Mobility.MOVES_FREELY: to_translate("moves freely"),
    Mobility.MOVES_WITH_SKIN: to_translate("moves with skin"),
    Mobility.FIXED: to_translate("fixed"),
    Surface.SMOOTH: to_translate("smooth"),
    Surface.UNEVEN: to_translate("uneven"),
    Surface.HAIRLESS: to_translate("hairless"),
    LumpPain.NONE_SHOWN: to_translate("none shown"),
    LumpPain.SHOWN: to_translate("shown"),
    LumpPain.NOT_TESTED: to_translate("not tested"),
    LumpTool.CALLIPER: to_translate("calliper"),
    LumpTool.RULER: to_translate("ruler"),
    LumpTool.TAPE: to_translate("tape"),
    LumpTool.BY_EYE: to_translate("by eye"),
}


FEEL_WORDS = frozenset(_FEEL.values())


def feel_words(felt: StrEnum) -> str:
    """Say how a lump is, or what it was measured with: ``under skin``, ``by eye``."""
    if felt is Surface.OPEN:
        return tr_context("skin", "open")
    return tr(_FEEL[felt])


LUMP_LENGTH = Measure(
    measure_id="lump_size",
    label=to_translate("Size"),
    plain_label=to_translate("Size"),
    unit="mm",
    units_offered=("mm", "cm", "in"),
    precision=Decimal("0.1"),
    plausible_low=Decimal(1),
    plausible_high=Decimal(500),
)
_SAME_PERSON = (Decimal("11.9"), Decimal("28.1"))
_TWO_PEOPLE = (Decimal("15.9"), Decimal("55.6"))


def require_lump_size(size: LumpSize) -> None:
    """Refuse a size that has not one to three lengths above zero.

    Raises:
        LumpSizeError: There are none, more than three, or one is zero.
        UnitMismatchError: One is no length.
    """
    if not 1 <= len(size.dimensions) <= 3:
        raise LumpSizeError(tr("a lump has one to three sizes"))
    for reading in size.dimensions:
        if convert(reading.value, reading.unit, LUMP_LENGTH.unit) <= 0:
            raise LumpSizeError(tr("a size is above zero"))


def longest_mm(lump: Lump) -> Decimal:
    """Return the longest dimension in mm, the mean of two measurings if there are two.

    Rounded to 0.1 mm.

    Raises:
        LumpSizeError: A size is missing, zero, or there are more than three.
        UnitMismatchError: A size is no length.
    """
    lengths = []
    for size in _sizes(lump):
        require_lump_size(size)
        lengths.append(
            max(convert(one.value, one.unit, "mm") for one in size.dimensions)
        )
    return round_to_step(sum(lengths, Fraction(0)) / len(lengths), Decimal("0.1"))


def show_lump_size(size: LumpSize) -> str:
    """Return ``12 × 8 mm (calliper, along the body, Kim)``, numbers as typed.

    The sign between the numbers reads "by"; they are never multiplied.
    """
    units = {reading.unit for reading in size.dimensions}
    if len(units) == 1:
        numbers = " × ".join(plain_number(reading.value) for reading in size.dimensions)
        text = with_unit(numbers, size.dimensions[0].unit)
    else:
        text = " × ".join(
            with_unit(plain_number(reading.value), reading.unit)
            for reading in size.dimensions
        )
    how = (feel_words(size.tool), offered(size.direction), size.measured_by)
    return f"{text} ({', '.join(part for part in how if part)})"


def compare_lumps(before: Lump, now: Lump) -> str:
    """Say both sizes of one lump, and what may be said of them, in plain sentences.

    A difference of the longest dimension is stated only beyond the largest limit of
    agreement published: 28.1 mm when one person measured both with one tool in one
    direction, 55.6 mm otherwise. Below that the sizes are shown with the error and
    nothing is called unchanged, since a small lump can double within it. A size
    judged by eye is not compared.

    Raises:
        LumpSizeError: A size is missing, zero, or there are more than three.
        UnitMismatchError: A size is no length.

    References:
        Ranganathan 2018: callipers, 12 subcutaneous tumours of dogs, longest
        diameter; limits 11.9 to 28.1 mm within one rater, 15.9 to 55.6 mm between
        four. Two readings averaged are not credited with a smaller error.
    """
    before_mm, now_mm = longest_mm(before), longest_mm(now)
    is_same_way = _is_same_way(before, now)
    low, high = _SAME_PERSON if is_same_way else _TWO_PEOPLE
    difference = now_mm - before_mm
    sizes = tr(
        "Longest {before} mm before, {now} mm now.", before=before_mm, now=now_mm
    )
    if any(size.tool is LumpTool.BY_EYE for size in (*_sizes(before), *_sizes(now))):
        return f"{sizes} {tr('A size judged by eye is not compared.')}"
    if difference > high:
        return f"{sizes} {tr('Larger by more than the measuring error.')}"
    if -difference > high:
        return f"{sizes} {tr('Smaller by more than the measuring error.')}"
    beyond = _ONE_CAN_DIFFER if is_same_way else _TWO_CAN_DIFFER
    return f"{sizes} {tr(beyond, low=low, high=high)}"


_ONE_CAN_DIFFER = to_translate(
    "The difference is not beyond the measuring error: one person can differ "
    "by {low} to {high} mm. This does not mean unchanged."
)
_TWO_CAN_DIFFER = to_translate(
    "The difference is not beyond the measuring error: two people, tools or "
    "directions can differ by {low} to {high} mm. This does not mean unchanged."
)


def _sizes(lump: Lump) -> tuple[LumpSize, ...]:
    return (lump.size,) if lump.second_size is None else (lump.size, lump.second_size)


def _is_same_way(before: Lump, now: Lump) -> bool:
    """Say whether one person, one tool and one direction measured; unknown is not."""
    sizes = (*_sizes(before), *_sizes(now))
    ways = {(size.measured_by, size.tool, size.direction) for size in sizes}
    is_known = all(size.measured_by and size.direction for size in sizes)
    return is_known and len(ways) == 1

"""What the screen of one vital offers beside its value."""

from exam_app.domain.measure.counting import CountKind
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.protocol import Vital

RHYTHMS = (
    "regular",
    "varies with breathing",
    "dropped beats",
    "irregular without pattern",
)


def may_choose_several(vital: Vital) -> bool:
    """Whether a vital is a list of signs, of which several can be seen at once."""
    return vital.several


def offers_rhythm(vital: Vital) -> bool:
    """Whether the examiner's words on the rhythm belong to this rate."""
    return vital.counted in {CountKind.HEART, CountKind.PULSE}


def offers_beats_felt(vital: Vital) -> bool:
    """Whether "every beat felt?" belongs to this rate."""
    return vital.counted is CountKind.PULSE


def offers_estimate(vital: Vital) -> bool:
    """Whether the value can be an estimate: only a weight can."""
    return vital.is_body_weight


def pad_units(measure: Measure) -> tuple[str, ...]:
    """Return the units with keys on the pad, for readings such as 22 lb 9 oz."""
    return ("lb", "oz") if "lb" in measure.units_offered else ()


def chosen_units(measure: Measure) -> tuple[tuple[str, str], ...]:
    """Return the unit buttons as (unit, label); an ounce never stands alone."""
    return tuple((u, measure.label_of(u)) for u in measure.units_offered if u != "oz")

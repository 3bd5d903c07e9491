"""What the screen of one vital offers beside its value.

Unit, site and state are kept beside a value or note that was typed, never alone: they
are the usual ones as long as nothing is typed.
"""

from dataclasses import replace
from typing import Any

from exam_app.app.forms.vital_form import VitalForm, type_text
from exam_app.app.typed_entries import Typed
from exam_app.domain.exam.vitals import RateState
from exam_app.domain.measure.counting import CountAlong, CountKind
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.protocol import Vital
from exam_app.language.catalogue import to_translate

TYPED, NOTE, COUNTED = "typed", "note", "counted"
_BESIDE = (NOTE, "unit", "site")
STATE = "state"


def begun_with(typed: Typed, form: VitalForm) -> VitalForm:
    """Return a form with what was entered in it before and not recorded."""
    text = typed.value(TYPED, form.typed)
    if text != form.typed:
        form = type_text(form, text)
    beside: dict[str, Any] = {
        name: typed.value(name, getattr(form, name)) for name in _BESIDE
    }
    state = typed.value(STATE)
    said = RateState(state) if state else form.state
    return replace(form, state=said, **beside)


def keep_entered(typed: Typed, form: VitalForm, saved: VitalForm) -> None:
    """Keep what a form holds beyond what is recorded.

    A number that a count or a word took away is not typed any more.
    """
    typed.forget(TYPED, STATE, *_BESIDE)
    is_typed = form.typed != saved.typed and not form.values and form.evidence is None
    if not is_typed and form.note == saved.note:
        return
    if is_typed:
        typed.note(TYPED, form.typed)
    for name in _BESIDE:
        typed.note(name, getattr(form, name), getattr(saved, name))
    if form.state is not None and form.state is not saved.state:
        typed.note(STATE, form.state.value)


def keep_counted(typed: Typed, digits: str, seconds: int) -> None:
    """Keep the digits of a count whose clock has run, until the count is used."""
    typed.note(COUNTED, f"{digits} in {seconds} s" if digits else "")


def counted_before(typed: Typed) -> CountAlong | None:
    """Return a count that was typed and never used."""
    digits, _, rest = typed.value(COUNTED).partition(" in ")
    seconds = rest.removesuffix(" s")
    if not (digits.isdigit() and seconds.isdigit()):
        return None
    return CountAlong(int(digits), int(seconds))


# As they are recorded; ``tr`` shows them.
RHYTHMS = (
    to_translate("regular"),
    to_translate("varies with breathing"),
    to_translate("dropped beats"),
    to_translate("irregular without pattern"),
)


def offers_rhythm(vital: Vital) -> bool:
    """Whether the examiner's words on the rhythm belong to this rate."""
    return vital.counted in {CountKind.HEART, CountKind.PULSE}


def pad_units(measure: Measure) -> tuple[str, ...]:
    """Return the units with keys on the pad, for readings such as 22 lb 9 oz."""
    return ("lb", "oz") if "lb" in measure.units_offered else ()


def chosen_units(measure: Measure) -> tuple[tuple[str, str], ...]:
    """Return the unit buttons as (unit, label); an ounce never stands alone."""
    return tuple((u, measure.label_of(u)) for u in measure.units_offered if u != "oz")

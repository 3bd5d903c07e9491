"""What is entered on a vital's sheet and not recorded, kept until it is.

Unit, site and state are kept beside a value or note that was typed, never alone: they
are the usual ones as long as nothing is typed.
"""

from dataclasses import replace

from exam_app.app.forms.vital_form import VitalForm, type_text
from exam_app.app.typed_entries import Typed
from exam_app.domain.exam.vitals import RateState
from exam_app.domain.measure.counting import CountAlong

TYPED, NOTE, COUNTED = "typed", "note", "counted"
_BESIDE = ("unit", "site")
STATE = "state"


def begun_with(typed: Typed, form: VitalForm) -> VitalForm:
    """Return a form with what was entered in it before and not recorded."""
    text = typed.value(TYPED, form.typed)
    if text != form.typed:
        form = type_text(form, text)
    form = typed.begin(form, NOTE, *_BESIDE)
    state = typed.value(STATE)
    return replace(form, state=RateState(state)) if state else form


def keep_entered(typed: Typed, form: VitalForm, saved: VitalForm) -> None:
    """Keep what a form holds beyond what is recorded.

    A number that a count or a word took away is not typed any more.
    """
    typed.forget(TYPED, NOTE, STATE, *_BESIDE)
    is_typed = form.typed != saved.typed and not form.values and form.evidence is None
    if not is_typed and form.note == saved.note:
        return
    if is_typed:
        typed.note(TYPED, form.typed)
    typed.keep(form, saved, NOTE, *_BESIDE)
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

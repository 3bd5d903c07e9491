"""The answer to an urgent sign while it is given: who, how, what was instructed."""

from dataclasses import dataclass
from typing import ClassVar

from exam_app.app.forms.form import Ask, Form, Kind, choice
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.moments import Moment

HOW = (("in person", "here"), ("phone", "phone"), ("message", "message"))
WHEN = (("0", "now"), ("10", "10 min ago"), ("30", "30 min ago"))
KINDS = (
    ("told", "Told"),
    ("tried", "Tried, not reached"),
    ("am-veterinarian", "I am the veterinarian"),
)


class NobodyNamedError(ExamError):
    """An answer says that somebody was told, but not who."""

    advice: ClassVar[str] = (
        "The answer does not say who was told. Nothing was changed. "
        "Type the name of the veterinarian, or choose “Tried, not reached”."
    )


@dataclass(frozen=True, slots=True)
class AnswerForm:
    """What the sheet holds before the answer is recorded.

    Attributes:
        minutes_ago: How long ago it happened, as chosen.
    """

    kind: AnswerKind | None = None
    whom: str = ""
    how: str = ""
    instruction: str = ""
    was_read_back: bool = False
    minutes_ago: int = 0


def answer_asks(veterinarians: tuple[str, ...]) -> tuple[Ask, ...]:
    """Return what is asked of an answer; names known here are offered."""
    names = tuple((name, name) for name in veterinarians)
    return (
        choice("kind", "", KINDS),
        choice("known", "", names, identifier="urgent-whom-known"),
        Ask("whom", "Name of the veterinarian"),
        choice("how", "", HOW),
        Ask("instruction", "What was instructed", lines=2),
        Ask("read-back", "Instruction read back", kind=Kind.TOGGLE),
        choice("when", "", WHEN, start="0"),
    )


def kind_of(key: str) -> AnswerKind | None:
    """Return the kind of a chosen key, also as an earlier version kept it."""
    return AnswerKind.__members__.get(key.upper().replace("-", "_"))


def answer_form(form: Form) -> AnswerForm:
    """Read what stands in the sheet."""
    return AnswerForm(
        kind_of(form["kind"]),
        form["whom"],
        form["how"],
        form["instruction"],
        was_read_back=bool(form["read-back"]),
        minutes_ago=int(form["when"]),
    )


def to_answer(form: AnswerForm, by: Attribution, now: Moment) -> UrgentAnswer:
    """Turn the sheet into an answer.

    Raises:
        NobodyNamedError: Told, but nobody is named.
    """
    kind = form.kind or AnswerKind.TOLD
    if kind is AnswerKind.TOLD and not form.whom.strip():
        raise NobodyNamedError
    is_self = kind is AnswerKind.AM_VETERINARIAN
    return UrgentAnswer(
        kind=kind,
        attribution=by,
        whom="" if is_self else form.whom.strip(),
        how="" if is_self else form.how,
        at=Moment(now.utc_ms - form.minutes_ago * 60_000, now.offset_min),
        instruction=form.instruction.strip(),
        was_read_back=kind is AnswerKind.TOLD and form.was_read_back,
    )


def clinic_line(practice: str, phone: str) -> str:
    """Show whom to call; the number is readable without signal and never dialled."""
    if not phone.strip():
        return "No clinic number is stored. Add it in the settings."
    return f"{practice.strip() or 'Clinic'}: {phone.strip()}"


def banner_text(unanswered: tuple[UrgentEntry, ...]) -> str:
    """Name the unanswered signs for the banner; empty when there is none."""
    if not unanswered:
        return ""
    labels = "; ".join(entry.label for entry in unanswered)
    return f"URGENT, not yet told: {labels}"


def answered_text(entry: UrgentEntry) -> str:
    """Say how often a sign was answered; a sign that was only tried says so."""
    if not entry.answers:
        return "No answer yet"
    last = entry.answers[-1]
    clock = f" {last.at.clock()}" if last.at else ""
    whom = f": {last.whom}" if last.whom else ""
    return f"{last.kind.value.capitalize()}{whom}{clock}"

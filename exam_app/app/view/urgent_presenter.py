"""The answer to an urgent sign while it is given: who, how, what was instructed."""

from collections.abc import Mapping
from typing import ClassVar

from exam_app.app.forms.form import Ask, Kind, choice
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


def to_answer(texts: Mapping[str, str], by: Attribution, now: Moment) -> UrgentAnswer:
    """Turn what stands in the sheet into an answer.

    Args:
        texts: By the names of ``answer_asks``; what is left out was not answered.
        by: Who examined and who enters it.
        now: What "10 min ago" counts from.

    Raises:
        NobodyNamedError: Told, but nobody is named.
    """
    kind = kind_of(texts.get("kind", "")) or AnswerKind.TOLD
    whom = texts.get("whom", "").strip()
    if kind is AnswerKind.TOLD and not whom:
        raise NobodyNamedError
    is_self = kind is AnswerKind.AM_VETERINARIAN
    ago_ms = int(texts.get("when", "0")) * 60_000
    return UrgentAnswer(
        kind=kind,
        attribution=by,
        whom="" if is_self else whom,
        how="" if is_self else texts.get("how", ""),
        at=Moment(now.utc_ms - ago_ms, now.offset_min),
        instruction=texts.get("instruction", "").strip(),
        was_read_back=kind is AnswerKind.TOLD and bool(texts.get("read-back")),
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

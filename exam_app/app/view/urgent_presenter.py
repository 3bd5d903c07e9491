"""The answer to an urgent sign while it is given: who, how, what was instructed."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import ClassVar

from exam_app.app.forms.form import Ask, Kind, choice
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution, Role
from exam_app.domain.exam.transitions import answer_urgent
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.moments import Moment
from exam_app.domain.wording.exam_wording import sign_words
from exam_app.domain.wording.phrases import capital
from exam_app.language.catalogue import to_translate, tr

HOW = (
    ("in person", to_translate("here")),
    ("phone", to_translate("phone")),
    ("message", to_translate("message")),
)
WHEN = (
    ("0", to_translate("now")),
    ("10", to_translate("10 min ago")),
    ("30", to_translate("30 min ago")),
)
KINDS = (
    ("told", to_translate("Told")),
    ("tried", to_translate("Tried, not reached")),
    ("am-veterinarian", to_translate("I am the veterinarian")),
)


class NobodyNamedError(ExamError):
    """An answer says that somebody was told, but not who."""

    advice: ClassVar[str] = to_translate(
        "The answer does not say who was told. Nothing was changed. "
        "Type the name of the veterinarian, or choose “Tried, not reached”."
    )


HEARD = Ask(
    "heard",
    to_translate("Who heard it"),
    hint=to_translate("Name of the veterinarian, or of who passes it on."),
    required=to_translate("Say who heard it."),
)
# Stored in a note, which is English.
_BY_TELEPHONE = "Told on the telephone: "


def told_by_telephone(exam: Exam, whom: str, by: Attribution) -> Exam:
    """Answer every sign of which nobody was told: whoever listens heard them all."""
    answer = UrgentAnswer(AnswerKind.TOLD, by, whom, "phone", by.entered)
    for entry in exam.urgent:
        if not any(one.kind is not AnswerKind.TRIED for one in entry.answers):
            exam = answer_urgent(exam, entry.entry_id, answer)
    return exam


def heard_note(whom: str, at: Moment) -> str:
    """Say beside a closed record who heard of it and when."""
    return f"{_BY_TELEPHONE}{whom}, {at.local():%Y-%m-%d %H:%M}"


def heard_words(notes: Iterable[str]) -> str:
    """Return who heard last of a closed record, from its notes; empty for nobody."""
    heard = [text for text in notes if text.startswith(_BY_TELEPHONE)]
    if not heard:
        return ""
    who = heard[-1].removeprefix(_BY_TELEPHONE)
    return tr("Told on the telephone: {who}.", who=who)


def answer_asks(
    veterinarians: tuple[str, ...], role: Role, unanswered: int = 1
) -> tuple[Ask, ...]:
    """Return what is asked of an answer; names known here are offered.

    Args:
        role: Of who answers: nobody else is offered to be the veterinarian.
        unanswered: How many signs such an answer would be for.
    """
    names = tuple((name, name) for name in veterinarians)
    told, tried, (key, label) = KINDS
    if unanswered > 1:
        label = tr("I am the veterinarian: all {count} signs", count=unanswered)
    mine = ((key, label),) if role is Role.VETERINARIAN else ()
    return (
        choice("kind", "", (told, tried, *mine)),
        choice("known", "", names, identifier="urgent-whom-known"),
        Ask("whom", to_translate("Name of the veterinarian")),
        choice("how", "", HOW),
        Ask("instruction", to_translate("What was instructed"), lines=2),
        Ask("read-back", to_translate("Instruction read back"), kind=Kind.TOGGLE),
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


def answered(exam: Exam, entry_id: str, answer: UrgentAnswer) -> Exam:
    """Record an answer; the veterinarian who is here is so for every open sign."""
    exam = answer_urgent(exam, entry_id, answer)
    if answer.kind is AnswerKind.AM_VETERINARIAN:
        for entry in exam.urgent:
            if not entry.is_answered:
                own = replace(answer, instruction="")
                exam = answer_urgent(exam, entry.entry_id, own)
    return exam


def clinic_line(practice: str, phone: str) -> str:
    """Show whom to call; the number is readable without signal and never dialled."""
    if not phone.strip():
        return tr("No clinic number is stored. Add it in the settings.")
    name = practice.strip() or tr("Clinic")
    return f"{name}: {phone.strip()}"


def banner_text(unanswered: tuple[UrgentEntry, ...]) -> str:
    """Name the unanswered signs for the banner; empty when there is none."""
    if not unanswered:
        return ""
    labels = "; ".join(map(sign_words, unanswered))
    return tr("URGENT, not yet told: {signs}", signs=labels)


def answered_text(entry: UrgentEntry) -> str:
    """Say how often a sign was answered; a sign that was only tried says so."""
    if not entry.answers:
        return tr("No answer yet")
    last = entry.answers[-1]
    clock = f" {last.at.clock()}" if last.at else ""
    whom = f": {last.whom}" if last.whom else ""
    return f"{capital(tr(last.kind.value))}{whom}{clock}"

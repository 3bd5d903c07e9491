"""The rows around an exam: what stands on each, and which ones this exam has."""

from dataclasses import dataclass
from enum import Enum

from exam_app.app.forms import visit_forms as forms
from exam_app.app.forms.form import Ask
from exam_app.domain.animal.chips import is_scan_open, scans_of
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.exam.visit import PrivateNote
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.exam_wording import person_name
from exam_app.domain.wording.visit_wording import (
    bite_lines,
    given_words,
    procedure_words,
    sample_words,
    scan_words,
)
from exam_app.language.catalogue import to_translate, tr

NOT_HERE = to_translate(
    "A private note was signed with this record. It is not on this device: it goes to "
    "the clinic's computer only."
)


class Part(Enum):
    """One row: its key, the exam's field it follows, and its two names."""

    DANGERS = (
        "dangers",
        "animal",
        to_translate("Handling warning"),
        to_translate("What can hurt you"),
    )
    PRESENTATION = (
        "presentation",
        "presentation",
        to_translate("Presentation"),
        to_translate("Who and why"),
    )
    INTAKE = (
        "intake",
        "intake",
        to_translate("Intake"),
        to_translate("How it came to us"),
    )
    SCANS = ("scans", "intake", to_translate("Chip scan"), "")
    BITE = ("bite", "bite", to_translate("Bites, scratches, rabies"), "")
    GIVEN = ("given", "given", to_translate("Given"), to_translate("Medicine given"))
    PROCEDURES = (
        "procedures",
        "procedures",
        to_translate("Procedures"),
        to_translate("Done to it"),
    )
    SAMPLES = ("samples", "samples", to_translate("Samples and tests"), "")
    PLAN = (
        "plan",
        "plan",
        to_translate("Plan and re-check"),
        to_translate("Next look"),
    )
    CARE = ("care", "care", to_translate("Care"), to_translate("For whoever feeds it"))
    PRIVATE = ("private", "private_notes", to_translate("Private note"), "")

    @property
    def key(self) -> str:
        """The end of its identifier."""
        return self.value[0]

    @property
    def follows(self) -> str:
        """Name of the exam's field."""
        return self.value[1]

    def title(self, words: Role) -> str:
        """Return its name in trade or plain words."""
        _, _, trade, plain = self.value
        return tr(plain if words is Role.VOLUNTEER and plain else trade)


# The rows below an exam, in the order a visit ends.
AFTER_PARTS = tuple(Part)[list(Part).index(Part.GIVEN) :]
# What is asked of each, whoever examines and whatever was said.
ASKS = {
    Part.DANGERS: forms.DANGERS,
    Part.PRESENTATION: forms.PRESENTATION,
    Part.INTAKE: forms.INTAKE,
    Part.PROCEDURES: forms.PROCEDURE,
    Part.SAMPLES: forms.SAMPLE,
    Part.PLAN: forms.plan_asks(Role.VETERINARIAN),
    Part.CARE: forms.CARE,
}


@dataclass(frozen=True, slots=True)
class PartCard:
    """One row as it is shown.

    Attributes:
        lines: What is said, a line for each entry; empty when nothing is.
        is_needed: Whether the exam cannot close without it.
    """

    part: Part
    title: str
    lines: tuple[str, ...]
    is_needed: bool = False


def before_parts(exam: Exam) -> tuple[Part, ...]:
    """Return the rows above an exam; intake and chip where an animal is taken in."""
    taken_in = (Part.INTAKE, Part.SCANS) if is_taken_in(exam) else ()
    return (Part.DANGERS, Part.PRESENTATION, *taken_in, Part.BITE)


def is_taken_in(exam: Exam) -> bool:
    """Whether intake and chip scans are offered: a look-over, or in a shelter."""
    in_shelter = exam.setting is Setting.SHELTER
    return exam.scope is Scope.INTAKE or in_shelter or exam.intake is not None


def part_card(exam: Exam, part: Part, viewer: Person) -> PartCard:
    """Return a row as the one who examines now may see it."""
    is_needed = part is Part.SCANS and is_scan_open(exam)
    lines = _lines(exam, part, viewer)
    return PartCard(part, part.title(words_for(exam)), lines, is_needed)


def _lines(exam: Exam, part: Part, viewer: Person) -> tuple[str, ...]:
    if part is Part.SCANS:
        return tuple(map(scan_words, scans_of(exam)))
    if part is Part.GIVEN:
        return tuple(given_words(exam, given) for given in exam.given)
    if part is Part.PROCEDURES:
        return tuple(map(procedure_words, exam.procedures))
    if part is Part.SAMPLES:
        return tuple(map(sample_words, exam.samples))
    if part is Part.PRIVATE:
        count = len(notes_for(exam, viewer))
        several = tr("{count} written", count=count)
        return (several if count > 1 else tr("written"),) if count else ()
    return bite_lines(exam.bite) if part is Part.BITE else _said(exam, part)


def _said(exam: Exam, part: Part) -> tuple[str, ...]:
    asks = ASKS[part]
    words = words_for(exam)
    said = getattr(exam, part.follows)
    texts = forms.texts_of(said, asks)
    return tuple(
        f"{ask.short(words)}: {_answer(ask, texts[ask.name])}"
        for ask in asks
        if texts[ask.name]
    )


def _answer(ask: Ask, text: str) -> str:
    """Show an answer that was chosen; one in somebody's own words stays as it is."""
    return tr(text) if text in (*ask.options, *dict(ask.choices)) else text


def notes_for(exam: Exam, viewer: Person) -> tuple[PrivateNote, ...]:
    """Return the private notes that a person is shown.

    A veterinarian is shown all; anybody else, while the exam is open, their own.
    """
    if viewer.role is Role.VETERINARIAN:
        return exam.private_notes
    if exam.is_closed:
        return ()
    return tuple(
        note
        for note in exam.private_notes
        if viewer.person_id
        in (note.attribution.examined_by, note.attribution.entered_by)
    )


def notes_for_reader(
    exam: Exam, reader: Person, *, lacks_private: bool = False
) -> tuple[str, ...]:
    """Return the private notes a reader is shown, with who wrote them and when.

    Args:
        exam: With the private notes that are kept here.
        reader: The person at the screen.
        lacks_private: Whether one was signed that is not here; a veterinarian is told.
    """
    is_told = lacks_private and reader.role is Role.VETERINARIAN
    missing = (tr(NOT_HERE),) if is_told else ()
    return missing + tuple(
        f"{note.text} ({person_name(exam, note.attribution.examined_by)}, "
        f"{note.attribution.entered.date_and_time()})"
        for note in notes_for(exam, reader)
    )

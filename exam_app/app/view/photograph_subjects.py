"""What a photograph is to show: a finding, a part, or the animal as a whole."""

from dataclasses import dataclass

from exam_app.app.view.body_presenter import key_words
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.photographs import mark_of, photos_of_finding, shown_finding
from exam_app.domain.exam.visit import Photo
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.exam_wording import (
    found_words,
    join_words,
    mark_words,
)
from exam_app.language.catalogue import in_english, tr, tr_plural


@dataclass(frozen=True, slots=True)
class Subject:
    """What a photograph is to show.

    Attributes:
        key: Region key of a part; empty for the animal as a whole.
        finding_id: A finding of that part, or an earlier one of it; or empty.
    """

    key: str = ""
    finding_id: str = ""

    def shows(self, caption: str) -> Photo:
        """Return what a photograph of it says, before its picture is named."""
        return Photo("", caption, self.key, finding_id=self.finding_id)

    @property
    def place(self) -> str:
        """Names it among the places of an exam where something is typed."""
        return f"photograph-{self.finding_id or self.key or 'whole'}"


WHOLE = Subject()


def photos_of(exam: Exam, subject: Subject) -> tuple[Photo, ...]:
    """Return the photographs of a finding, of a part with its findings, or all."""
    if subject.finding_id:
        return photos_of_finding(exam, subject.finding_id)
    return tuple(one for one in exam.photos if subject.key in ("", one.key))


def photographs(count: int) -> str:
    """Count them: ``1 photograph``."""
    return tr_plural("{count} photograph", "{count} photographs", count)


def subject_words(exam: Exam, protocol: SpeciesProtocol, subject: Subject) -> str:
    """Name what a photograph is to show: ``Chest, left: Lump, mark 1, left view``."""
    if not subject.key:
        return exam.animal.name
    part = key_words(exam, protocol, subject.key)
    said = same_find_words(exam, subject.shows(""))
    return f"{part}: {said}" if said else part


def proposed_caption(exam: Exam, protocol: SpeciesProtocol, subject: Subject) -> str:
    """Propose what a photograph shows, from what is recorded there; may be empty.

    In English, as it becomes part of the record.
    """
    with in_english():
        return _proposed(exam, protocol, subject)


def _proposed(exam: Exam, protocol: SpeciesProtocol, subject: Subject) -> str:
    if words := _found_words(exam, subject.shows("")):
        return words
    return key_words(exam, protocol, subject.key) if subject.key else ""


def same_find_words(exam: Exam, photo: Photo) -> str:
    """Name what two photographs side by side have in common, as ``mark 1``."""
    return join_words(_found_words(exam, photo), mark_words(mark_of(exam, photo)))


def _found_words(exam: Exam, photo: Photo) -> str:
    """Name what a photograph shows of what was found; empty for nothing."""
    found = shown_finding(exam, photo)
    if found is None or isinstance(found, Finding):
        return found_words(found) if found else ""
    # What follows in the line of an earlier one, as its size, was said then.
    label = found.summary.partition(",")[0]
    return tr(label) if found.term_id else label

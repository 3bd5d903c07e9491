"""What screens show of a record's photographs: those here, those that wait, and others.

A picture is shown only where a record names it. One that is named and not here waits;
the record is whole without it.
"""

from dataclasses import dataclass

from exam_app.app.queries.history import rows_of_animal
from exam_app.app.queries.kept_records import read_kept
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.photographs import earlier_photos, mark_of
from exam_app.domain.exam.visit import Photo
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.photo_wording import photo_line, photo_words
from exam_app.language.catalogue import tr_plural
from exam_app.store.vault.vault import Vault


@dataclass(frozen=True, slots=True)
class ShownPhotograph:
    """One photograph of one exam.

    Attributes:
        photo: As the exam names it.
        title: What it shows: part, caption, finding, mark.
        words: The same with who took it, when, and its size.
        mark: Number of the mark of its finding; 0 for none.
        is_here: Whether ``vault.photographs.get(photo.sha256)`` has it.
        exam_id: The exam that names it.
        date: Local date and time of that exam's start.
    """

    photo: Photo
    title: str
    words: str
    mark: int
    is_here: bool
    exam_id: str
    date: str


def shown_photographs(
    vault: Vault, exam: Exam, protocol: SpeciesProtocol
) -> tuple[ShownPhotograph, ...]:
    """Return an exam's photographs in the order they were added."""
    return tuple(_shown(vault, exam, protocol, one) for one in exam.photos)


def put_off_words(count: int) -> str:
    """Say how many photographs in a folder cannot be kept for now; empty for none."""
    if not count:
        return ""
    return tr_plural(
        "{count} photograph waits in the folder for its record or for room.",
        "{count} photographs wait in the folder for their records or for room.",
        count,
    )


def waiting_words(vault: Vault, exam: Exam) -> str:
    """Say how many photographs of a record are not here: ``2 photographs wait``.

    Empty where all are, or where there are none.
    """
    missing = vault.photographs.missing(one.sha256 for one in exam.photos)
    if not missing:
        return ""
    return tr_plural(
        "{count} photograph waits", "{count} photographs wait", len(missing)
    )


def earlier_of_same(
    vault: Vault, exam: Exam, photo: Photo
) -> tuple[ShownPhotograph, ...]:
    """Return the photographs that earlier records have of the same find, newest first.

    To be shown beside this one; those that are not here say so.
    """
    rows = rows_of_animal(vault, exam.animal.animal_id) if photo.finding_id else ()
    kept = [read_kept(vault, row.exam_id) for row in rows]
    protocols = {one.exam.exam_id: one.loaded.protocol for one in kept if one}
    exams = [one.exam for one in kept if one is not None]
    return tuple(
        _shown(vault, one, protocols[one.exam_id], earlier)
        for one, earlier in earlier_photos(exam, photo, exams)
    )


def _shown(
    vault: Vault, exam: Exam, protocol: SpeciesProtocol, photo: Photo
) -> ShownPhotograph:
    mark = mark_of(exam, photo)
    return ShownPhotograph(
        photo,
        photo_words(exam, protocol, photo),
        photo_line(exam, protocol, photo),
        mark.number if mark else 0,
        vault.photographs.has(photo.sha256),
        exam.exam_id,
        exam.started.date_and_time(),
    )

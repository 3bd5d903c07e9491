"""Photographs of an exam: added, described, taken out, and earlier ones of one find.

The exam names a picture by its hash and says what it shows; the picture itself stands
beside it. A photograph says nothing of a part by itself: whoever looked says that, as
without one. One of a finding is of the part and side that this finding has when it is
read and signed, so that the two never say otherwise.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from exam_app.domain.animal.body_marks import BodyMark
from exam_app.domain.errors import (
    PhotographTwiceError,
    TooManyPhotographsError,
    UnknownItemError,
)
from exam_app.domain.exam.exam import Exam, require_open
from exam_app.domain.exam.findings import EarlierFinding, Finding
from exam_app.domain.exam.marks import earlier_of
from exam_app.domain.exam.visit import Photo
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key

MOST_PHOTOS = 24
MEDIA_TYPE = "image/jpeg"


def add_photo(exam: Exam, protocol: SpeciesProtocol, photo: Photo) -> Exam:
    """Add a photograph whose picture is kept.

    Args:
        photo: Of a finding, its part and side are filled in from there.

    Raises:
        ExamClosedError: The exam is closed.
        PhotographTwiceError: The same picture is in this exam.
        TooManyPhotographsError: It has ``MOST_PHOTOS``.
        UnknownItemError: No such part, or no such finding.
    """
    require_open(exam)
    if photo_of(exam, photo.sha256) is not None:
        raise PhotographTwiceError
    require_room(exam)
    placed = _placed(exam, protocol, photo)
    return replace(exam, photos=(*exam.photos, placed))


def require_room(exam: Exam) -> None:
    """Refuse one more photograph where an exam has as many as it may have.

    Raises:
        TooManyPhotographsError: It has ``MOST_PHOTOS``.
    """
    if len(exam.photos) >= MOST_PHOTOS:
        raise TooManyPhotographsError


def change_photo(exam: Exam, protocol: SpeciesProtocol, photo: Photo) -> Exam:
    """Say otherwise what a photograph shows; its picture stays as it was.

    Args:
        photo: With the hash of the one meant; of it caption, part, side and finding
            are taken.

    Raises:
        ExamClosedError: The exam is closed.
        UnknownItemError: No such photograph, part or finding.
    """
    require_open(exam)
    known = known_photo(exam, photo.sha256)
    said = replace(
        known,
        caption=photo.caption,
        key=photo.key,
        side=photo.side,
        finding_id=photo.finding_id,
    )
    return _with(exam, known, _placed(exam, protocol, said))


def remove_photo(exam: Exam, sha256: str) -> Exam:
    """Take a photograph out of an open exam; its picture is kept for an undo.

    Raises:
        ExamClosedError: The exam is closed.
        UnknownItemError: The exam has no such photograph.
    """
    require_open(exam)
    known = known_photo(exam, sha256)
    kept = tuple(one for one in exam.photos if one is not known)
    return replace(exam, photos=kept)


def photo_of(exam: Exam, sha256: str) -> Photo | None:
    """Return a photograph by its hash; ``None`` where the exam has no such one."""
    return next((one for one in exam.photos if one.sha256 == sha256), None)


def known_photo(exam: Exam, sha256: str) -> Photo:
    """Return a photograph by its hash.

    Raises:
        UnknownItemError: The exam has no such photograph.
    """
    known = photo_of(exam, sha256)
    if known is None:
        raise UnknownItemError(sha256[:12])
    return known


def photos_of_finding(exam: Exam, finding_id: str) -> tuple[Photo, ...]:
    """Return the photographs of one finding, in the order they were added."""
    shown = (one for one in exam.photos if one.finding_id == finding_id)
    return tuple(shown) if finding_id else ()


def shown_finding(exam: Exam, photo: Photo) -> Finding | EarlierFinding | None:
    """Return the finding that a photograph shows, of this exam or an earlier one.

    ``None`` where it shows none, or where the finding was taken back.
    """
    own = _own_finding(exam, photo.finding_id)
    return own[1] if own else earlier_of(exam, photo.finding_id)


def mark_of(exam: Exam, photo: Photo) -> BodyMark | None:
    """Return the mark of what a photograph shows; ``None`` where it has none."""
    shown = shown_finding(exam, photo)
    return shown.mark if shown else None


def as_placed(exam: Exam, photo: Photo) -> Photo:
    """Return a photograph with the part and side its finding has now.

    A finding may have changed its side since, or was taken back: then the photograph
    stays, with its words, and is of its part alone.
    """
    own = _own_finding(exam, photo.finding_id)
    if own is not None:
        return replace(photo, key=own[0], side=own[1].side)
    earlier = earlier_of(exam, photo.finding_id)
    if earlier is not None:
        return replace(photo, key=earlier.key, side="")
    return replace(photo, finding_id="")


def settled_photos(exam: Exam) -> tuple[Photo, ...]:
    """Return an exam's photographs as they are to be signed."""
    return tuple(as_placed(exam, one) for one in exam.photos)


def earlier_photos(
    exam: Exam, photo: Photo, records: Sequence[Exam]
) -> tuple[tuple[Exam, Photo], ...]:
    """Return the photographs that earlier records have of the same find.

    A find is the same where the examiner said so (``same_as``), however many records
    lie between; two finds of one number alone are not.

    Args:
        exam: The exam of the photograph.
        records: Other records of the animal, in any order.

    Returns:
        Each with its record, the newest first.
    """
    ids = {photo.finding_id} if photo.finding_id else set()
    newest_first = sorted(records, key=lambda one: one.started, reverse=True)
    for one in (exam, *newest_first):
        ids |= _same_before(one, ids)
    return tuple(
        (one, shown)
        for one in newest_first
        if one.exam_id != exam.exam_id
        for shown in one.photos
        if shown.finding_id in ids and shown.sha256 != photo.sha256
    )


def _same_before(exam: Exam, ids: set[str]) -> set[str]:
    """Return the earlier finds that finds of these ids are said to be."""
    return {
        found.same_as
        for entry in exam.regions.values()
        for found in entry.findings
        if found.finding_id in ids and found.same_as
    }


def _findings(exam: Exam) -> Iterator[tuple[str, Finding]]:
    for key, entry in exam.regions.items():
        for finding in entry.findings:
            yield key, finding


def _own_finding(exam: Exam, finding_id: str) -> tuple[str, Finding] | None:
    found = (one for one in _findings(exam) if one[1].finding_id == finding_id)
    return next(found, None) if finding_id else None


def _placed(exam: Exam, protocol: SpeciesProtocol, photo: Photo) -> Photo:
    """Return it with the part and side of its finding, where it has one.

    Raises:
        UnknownItemError: No such part, or no such finding.
    """
    if photo.finding_id:
        placed = as_placed(exam, photo)
        if not placed.finding_id:
            raise UnknownItemError(photo.finding_id)
        return placed
    if photo.key:
        region = protocol.region(split_key(photo.key)[0])
        if region is None or photo.key not in region.answer_keys():
            raise UnknownItemError(photo.key)
    return photo


def _with(exam: Exam, known: Photo, changed: Photo) -> Exam:
    photos = tuple(changed if one is known else one for one in exam.photos)
    return replace(exam, photos=photos)

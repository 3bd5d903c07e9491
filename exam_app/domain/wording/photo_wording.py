"""What the record says of its photographs, in words."""

from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.photographs import as_placed, shown_finding
from exam_app.domain.exam.review import part_label
from exam_app.domain.exam.visit import Photo
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key
from exam_app.domain.wording.exam_wording import (
    found_words,
    join_words,
    mark_words,
    side_words,
    summary_shown,
)
from exam_app.domain.wording.people_words import both_names
from exam_app.domain.wording.record_times import AS_STATED, TimeStyle
from exam_app.language.catalogue import in_english, to_translate, tr

NO_CAPTION = to_translate("no caption")
PHOTOGRAPHS = to_translate("Photographs")


def photo_lines(
    exam: Exam, protocol: SpeciesProtocol, times: TimeStyle = AS_STATED
) -> tuple[str, ...]:
    """Return a line for each photograph, in the order they were added."""
    return tuple(photo_line(exam, protocol, one, times) for one in exam.photos)


def photo_line(
    exam: Exam, protocol: SpeciesProtocol, photo: Photo, times: TimeStyle = AS_STATED
) -> str:
    """Say what a photograph shows, who added it and when, and which picture it is."""
    shown = photo_words(exam, protocol, photo)
    taken = _taken(exam, photo.attribution, times) if photo.attribution else ""
    pixels = ""
    if photo.width:
        pixels = tr(
            "{width} by {height} pixels", width=photo.width, height=photo.height
        )
    size = tr("{size} bytes", size=photo.size) if photo.size else ""
    facts = join_words(taken, pixels, size, f"SHA-256 {photo.sha256[:12]}")
    return f"{shown} ({facts})"


def photo_words(exam: Exam, protocol: SpeciesProtocol, photo: Photo) -> str:
    """Say what a photograph shows: its part, its caption, its finding and mark."""
    photo = as_placed(exam, photo)
    part = part_label(exam, protocol, photo.key) if photo.key else ""
    side = "" if split_key(photo.key)[1] == photo.side else side_words(photo.side)
    found = _of_finding(exam, protocol, photo)
    with in_english():
        is_part = part and photo.caption == part_label(exam, protocol, photo.key)
    if is_part:
        return join_words(part, side, found)
    said = join_words(side, photo.caption or tr(NO_CAPTION), found)
    return f"{part}: {said}" if part else said


def _of_finding(exam: Exam, protocol: SpeciesProtocol, photo: Photo) -> str:
    found = shown_finding(exam, photo)
    if found is None:
        return ""
    if isinstance(found, Finding) and found.words == photo.caption:
        return mark_words(found.mark)
    if isinstance(found, Finding):
        said = join_words(found_words(found), mark_words(found.mark))
        return tr("shows {found}", found=said)
    return tr(
        "shows what was found on {date}: {found}",
        date=found.date,
        found=summary_shown(found, protocol),
    )


def is_taking_told(by: Attribution) -> bool:
    """Whether somebody said when a photograph was taken: a file may be an older one."""
    return AS_STATED.full(by.observed) != AS_STATED.full(by.entered)


def _taken(exam: Exam, by: Attribution, times: TimeStyle) -> str:
    taken, added = times.full(by.observed), times.full(by.entered)
    names = both_names(exam, by)
    if not is_taking_told(by):
        return tr("added {added} by {names}", added=added, names=names)
    return tr(
        "taken {taken} by {names}, added {added}",
        taken=taken,
        names=names,
        added=added,
    )

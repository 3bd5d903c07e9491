"""A lump measured again: laid beside the one of an earlier record, and no more said.

Which earlier lump a new one is, is the examiner's to say. One that was chosen by its
mark and measured again is the same. Otherwise they are laid side by side where the
place reads the same, or where there is one of each in the region, and the line says
then that this holds if it is the same lump.
"""

from exam_app.domain.errors import LumpSizeError, UnitMismatchError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.marks import earlier_of, found_again
from exam_app.domain.lumps.lumps import Lump, compare_lumps, show_lump_size
from exam_app.language.catalogue import tr


def earlier_lumps(exam: Exam, key: str) -> tuple[EarlierFinding, ...]:
    """Return the lumps measured before in a region, neither gone nor found again."""
    again = found_again(exam)
    return tuple(
        found
        for found in exam.earlier
        if found.key == key
        and found.lump
        and found.outcome is not EarlierOutcome.GONE
        and found.finding_id not in again
    )


def lump_line(exam: Exam, key: str, now: Finding) -> str:
    """Lay a lump beside the earlier one; empty when there is nothing to lay beside it.

    Args:
        key: Region key.
        now: The finding, recorded or still being measured.
    """
    if now.same_as:
        return _same_line(exam, now)
    earlier = earlier_lumps(exam, key)
    place = f", {now.place},"
    placed = [f for f in earlier if now.place and place in f", {f.summary},"]
    is_one_each = len(earlier) == 1 and not _has_others(exam, key, now)
    fitting = placed or (list(earlier) if is_one_each else [])
    if not fitting:
        return ""
    before = max(fitting, key=lambda found: found.date)
    if before.lump is None or now.lump is None:
        return ""
    change = compared(before.lump, now.lump)
    if not change:
        return ""
    if placed:
        return tr(
            "Beside the lump of {date} at this place: {change}",
            date=before.date,
            change=change,
        )
    return tr(
        "Beside the lump of {date} here, if it is the same one: {change}",
        date=before.date,
        change=change,
    )


def _same_line(exam: Exam, now: Finding) -> str:
    """Lay both readings of one lump side by side, with tool, direction and person."""
    before = earlier_of(exam, now.same_as)
    if before is None or now.lump is None:
        return ""
    is_now = measured_words(now.lump)
    if before.lump is None:
        return tr(
            "The same one as on {date}, not measured then; now {size}.",
            date=before.date,
            size=is_now,
        )
    readings = tr(
        "The same lump: {before} on {date}; now {now}.",
        before=measured_words(before.lump),
        date=before.date,
        now=is_now,
    )
    return " ".join(filter(None, (readings, compared(before.lump, now.lump))))


def measured_words(lump: Lump) -> str:
    """Return every reading of a lump with tool, direction and person."""
    second = lump.second_size
    first = show_lump_size(lump.size)
    if second is None:
        return first
    again = show_lump_size(second)
    return tr("{first}, second reading {second}", first=first, second=again)


def compared(before: Lump, now: Lump) -> str:
    """Say what may be said of two readings; empty where a size is none at all."""
    try:
        return compare_lumps(before, now)
    except (LumpSizeError, UnitMismatchError):
        # A record from elsewhere can hold one.
        return ""


def _has_others(exam: Exam, key: str, now: Finding) -> bool:
    return any(
        found.lump and found.finding_id != now.finding_id
        for found in exam.entry(key).findings
    )

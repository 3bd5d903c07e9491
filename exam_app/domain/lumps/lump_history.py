"""A lump measured again: laid beside the one of an earlier record, and no more said.

Which earlier lump a new one is, is the examiner's to say: they are laid side by side
where the place reads the same, or where there is one of each in the region, and the
line says then that this holds if it is the same lump.
"""

from exam_app.domain.errors import LumpSizeError, UnitMismatchError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.lumps.lumps import compare_lumps


def earlier_lumps(exam: Exam, key: str) -> tuple[EarlierFinding, ...]:
    """Return the lumps measured before in a region that were not found gone."""
    return tuple(
        found
        for found in exam.earlier
        if found.key == key and found.lump and found.outcome is not EarlierOutcome.GONE
    )


def lump_line(exam: Exam, key: str, now: Finding) -> str:
    """Lay a lump beside the earlier one; empty when there is nothing to lay beside it.

    Args:
        key: Region key.
        now: The finding, recorded or still being measured.
    """
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
    try:
        change = compare_lumps(before.lump, now.lump)
    except (LumpSizeError, UnitMismatchError):
        # A record from elsewhere can hold a size nobody could have measured.
        return ""
    where = "at this place" if placed else "here, if it is the same one"
    return f"Beside the lump of {before.date} {where}: {change}"


def _has_others(exam: Exam, key: str, now: Finding) -> bool:
    return any(
        found.lump and found.finding_id != now.finding_id
        for found in exam.entry(key).findings
    )

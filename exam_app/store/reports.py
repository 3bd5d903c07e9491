"""What the person is told of damage: what happened, what is safe, what to do."""

from exam_app.store.replay import Replayed

TORN = (
    "The app or the power stopped in the middle of a save. Everything saved before "
    "is kept; only that unfinished save is missing. Check the last exam you changed."
)
OTHER_COPY = (
    "The exams come from another copy of this folder than the one used last. What "
    "this copy holds is shown, and it is whole. Look for the other copy if something "
    "is missing."
)
KEYS_REPAIRED = (
    "One of the two pages with the keys was damaged. The other one is whole and was "
    "copied over it; no exam is missing. If this happens again, copy your exams to "
    "another disk."
)
KEYS_NOT_REPAIRED = (
    "One of the two pages with the keys is damaged and could not be written again. "
    "The other one is whole. Copy your exams to another disk."
)


def missing(count: int) -> str:
    """Say that saves which were kept once are not there any more."""
    what = "last save is" if count == 1 else f"last {count} saves are"
    return (
        f"The {what} missing: the file was damaged or cut at its end, or an older "
        "copy of it was put back. Everything before is whole and shown. Check the "
        "exams you changed last, and restore a backup elsewhere to compare."
    )


def of_journal(found: Replayed) -> str | None:
    """Give the report on a journal as it was read, or None when all is well."""
    if found.missing:
        return missing(found.missing)
    if found.is_other_copy:
        return OTHER_COPY
    return TORN if found.end < found.size else None

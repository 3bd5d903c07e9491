"""Which animals go along in a day pack, and what it says once it was made."""

from collections.abc import Iterable, Sequence
from enum import StrEnum

from exam_app.domain.wording.count_words import count_words
from exam_app.store.repositories.rows import ClosedExam

MOST_ANIMALS = 25
WHAT_GOES = (
    "A day pack is sealed to one device. It carries the chosen animals with their "
    "newest record, the notes and acknowledgements for what the device examined, and "
    "its signed receipts."
)


class Choice(StrEnum):
    """Which animals go along."""

    OF_DEVICE = "device"
    NEWEST = "newest"
    CHOSEN = "chosen"
    NONE = "none"


LABELS = (
    (Choice.OF_DEVICE.value, f"The {MOST_ANIMALS} this device saw last"),
    (Choice.NEWEST.value, f"The {MOST_ANIMALS} seen last by anybody"),
    (Choice.CHOSEN.value, "Today's plan, and others by name"),
    (Choice.NONE.value, "None: notes and receipts only"),
)


def animals_of(
    choice: Choice, rows: Iterable[ClosedExam], device_id: str, chosen: Sequence[str]
) -> tuple[str, ...]:
    """Return the animal ids that go along, the one seen last first.

    Args:
        choice: Which ones.
        rows: Projections of closed records, newest first.
        device_id: Of the device the pack is for.
        chosen: Ids chosen one by one.
    """
    if choice is Choice.NONE:
        return ()
    if choice is Choice.CHOSEN:
        return tuple(chosen)
    is_own = choice is Choice.OF_DEVICE
    seen = (r for r in rows if not is_own or r.device_id == device_id)
    ids = dict.fromkeys(row.animal_id for row in seen)
    return tuple(ids)[:MOST_ANIMALS]


def animals_words(count: int) -> str:
    """Say how many animals go along."""
    if not count:
        return "No animal goes along; notes and receipts do."
    return f"{count_words(count, 'animal goes', 'animals go')} along."


def made_words(device: str, folder: str, size: int, left_out: int = 0) -> str:
    """Say what was made, where it is, and what private notes kept back."""
    where = f"It is in the folder: {folder}." if folder else "Save it as a file now."
    made = f"Sealed for {device}, {size} bytes. {where} Only that device can open it."
    if not left_out:
        return made
    whose = count_words(left_out, "animal's", "animals'")
    return (
        f"{made} {whose} newest record stays here: an older version of the program "
        "wrote a private note into it. The one before went, where there is one."
    )

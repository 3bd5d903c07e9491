"""Which animals go along in a day pack, and what it says once it was made."""

from collections.abc import Iterable, Sequence
from enum import StrEnum

from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.store.repositories.rows import ClosedExam

MOST_ANIMALS = 25
WHAT_GOES = to_translate(
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


# A message of a catalogue holds no number of the code: it is ``MOST_ANIMALS``.
LABELS = (
    (Choice.OF_DEVICE.value, to_translate("The 25 this device saw last")),
    (Choice.NEWEST.value, to_translate("The 25 seen last by anybody")),
    (Choice.CHOSEN.value, to_translate("Today's plan, and others by name")),
    (Choice.NONE.value, to_translate("None: notes and receipts only")),
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
        return tr("No animal goes along; notes and receipts do.")
    return tr_plural("{count} animal goes along.", "{count} animals go along.", count)


def made_words(device: str, folder: str, size: int, left_out: int = 0) -> str:
    """Say what was made, where it is, and what private notes kept back."""
    where = (
        tr("It is in the folder: {folder}.", folder=folder)
        if folder
        else tr("Save it as a file now.")
    )
    made = tr(
        "Sealed for {device}, {size} bytes. {where} Only that device can open it.",
        device=device,
        size=size,
        where=where,
    )
    if not left_out:
        return made
    kept_back = tr_plural(
        "{count} animal's newest record stays here: an older version of the program "
        "wrote a private note into it. The one before went, where there is one.",
        "{count} animals' newest record stays here: an older version of the program "
        "wrote a private note into it. The one before went, where there is one.",
        left_out,
    )
    return f"{made} {kept_back}"

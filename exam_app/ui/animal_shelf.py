"""Animals as they are kept: the animal's own fields, and its owner beside them."""

from typing import TYPE_CHECKING, Any, ClassVar

from exam_app.domain.chips import normalise_chip
from exam_app.domain.errors import ExamError
from exam_app.domain.findings import EarlierFinding
from exam_app.domain.signalment import Animal, Owner
from exam_app.record.draft_codec import (
    animal_from_plain,
    animal_to_plain,
    owner_from_plain,
    owner_to_plain,
)
from exam_app.ui.exam_start import open_findings
from exam_app.ui.kept_records import read_kept

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab

OWNER = "owner"


class AnimalNotHereError(ExamError):
    """An address names an animal that this device does not know."""

    advice: ClassVar[str] = (
        "This device does not know that animal. Nothing was changed. "
        "Look for it in the list, or add it."
    )


def fetch(tab: "Tab", animal_id: str) -> tuple[Animal, Owner]:
    """Return an animal and its owner.

    Raises:
        AnimalNotHereError: There is none of that id.
    """
    plain = tab.vault.animals.get(animal_id)
    if plain is None:
        raise AnimalNotHereError
    return _animal(plain), _owner(plain)


def find(tab: "Tab", text: str) -> list[Animal]:
    """Return the animals whose name, tag, chip or owner has every word typed."""
    return [_animal(plain) for plain in tab.vault.animals.search(text)]


def others_with_chip(tab: "Tab", typed: str, but: Animal) -> list[Animal]:
    """Return the other animals here whose chip number may be the one typed."""
    number = normalise_chip(typed)
    found = find(tab, number) if number else []
    return [animal for animal in found if animal.animal_id != but.animal_id]


def _animal(plain: dict[str, Any]) -> Animal:
    return animal_from_plain({k: v for k, v in plain.items() if k != OWNER})


def _owner(plain: dict[str, Any]) -> Owner:
    kept = plain.get(OWNER)
    return owner_from_plain(kept) if kept else Owner()


async def keep(tab: "Tab", animal: Animal, owner: Owner) -> None:
    """Store an animal with its owner; returns after the commit."""

    def put() -> None:
        before = tab.vault.animals.get(animal.animal_id)
        plain = animal_to_plain(animal, before=before)
        kept_owner = before.get(OWNER) if before else None
        plain[OWNER] = owner_to_plain(owner, before=kept_owner)
        tab.vault.animals.put(plain)

    await tab.save(put)


def earlier_findings(tab: "Tab", animal_id: str) -> tuple[EarlierFinding, ...]:
    """Return what the newest closed record of an animal left to be looked at."""
    for row in tab.vault.closed.for_animal(animal_id):
        kept = read_kept(tab.vault, row["exam_id"])
        if kept is not None:
            return open_findings(kept.exam, kept.loaded.protocol)
    return ()

"""Which owner details were erased, so that they do not come back in silence.

A mark is the salted hash that a signed record holds of its owner block. Once block and
salt are gone it says nothing of anybody, and still knows the same block again.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from exam_app.store.sealed_table import SealedTables
from exam_app.store.state import Document


class Erasures:
    """What was erased, when, by whom, and what was set aside since."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of erasures and of the hashes erased."""
        self._log = tables.open_table("erasures", body_fields=())
        self._hashes = tables.open_table("erased_owners", body_fields=())

    def keep(
        self, key: str, entry: Mapping[str, Any], owner_hashes: Sequence[str]
    ) -> None:
        """Keep that something was erased, inside the caller's transaction.

        Args:
            key: New.
            entry: ``animal_ids``, ``when_ms``, ``when``, ``by``, ``reason`` and
                ``fields``; nothing of what was erased.
            owner_hashes: Of the blocks, as their records hold them.
        """
        self._log.put(key, {**entry, "key": key})
        for owner_hash in owner_hashes:
            self._hashes.put(owner_hash, {"erasure": key})

    def all(self) -> list[Document]:
        """Give every erasure, oldest first."""
        return [row for _, row in self._log.rows()]

    def of_animal(self, animal_id: str) -> Document | None:
        """Give the newest erasure of an animal's owner, or None."""
        found = [row for row in self.all() if animal_id in row["animal_ids"]]
        return found[-1] if found else None

    def sets_aside(self, animal_id: str, owner_hash: str, closed_ms: int) -> bool:
        """Whether an owner block that arrives is one that was erased.

        Args:
            animal_id: Of the exam that it stands beside.
            owner_hash: As the record holds it.
            closed_ms: When the exam was closed: what stood beside an exam of before
                the erasure was meant by it, also where it had not arrived yet.
        """
        if self._hashes.fetch(owner_hash) is not None:
            return True
        erased = self.of_animal(animal_id)
        return erased is not None and closed_ms <= erased["when_ms"]

    def note_set_aside(self, animal_id: str, device_id: str, when: str) -> None:
        """Keep that erased details came again and were not kept, for a person.

        Args:
            animal_id: Whose owner's they were.
            device_id: Of the sender; empty for the clinic.
            when: Local date and time, as shown.
        """
        erased = self.of_animal(animal_id)
        if erased is not None:
            again = {"animal_id": animal_id, "device_id": device_id, "when": when}
            known = [*erased.get("set_aside", ()), {**again, "is_read": False}]
            self._log.put(erased["key"], {**erased, "set_aside": known})

    def set_aside(self) -> list[Document]:
        """Give what was set aside and nobody has read of, oldest first."""
        every = [one for row in self.all() for one in row.get("set_aside", ())]
        return [one for one in every if not one["is_read"]]

    def mark_read(self) -> None:
        """Note that a person has read of all that was set aside."""
        with self._log.sealed.transaction():
            for row in self.all():
                if any(not one["is_read"] for one in row.get("set_aside", ())):
                    read = [{**one, "is_read": True} for one in row["set_aside"]]
                    self._log.put(row["key"], {**row, "set_aside": read})

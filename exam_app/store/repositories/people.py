"""The people this device knows, and their PINs."""

import hmac
from typing import Any

from exam_app.crypto.door import hkdf_sha256, random_bytes
from exam_app.domain.exam.people import Person
from exam_app.store.engine.documents import from_text, read_row, stored_row, to_text
from exam_app.store.engine.tables import SealedTables
from exam_app.store.errors import (
    PinLockedError,
)

PIN_ATTEMPTS = 5


class People:
    """The people this device knows, by ``person_id``, and their PINs.

    A PIN is kept as a salted HKDF-SHA-256 hash. That would be far too fast for a
    hash that leaks, but it lies inside the encrypted vault: whoever can read it has
    the data key already. It says who is at the screen; it protects nothing alone.
    """

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of people and PINs."""
        self._table = tables.open_table("people", body_fields=())
        self._pins = tables.open_table("pins", body_fields=())

    def put(self, person: Person) -> None:
        """Keep a person."""
        self._table.put(person.person_id, stored_row(person))

    def get(self, person_id: str) -> Person | None:
        """Give one person, or None."""
        kept = self._table.fetch(person_id)
        return None if kept is None else read_row(Person, kept)

    def all(self) -> list[Person]:
        """Give every person, in the order they were first put."""
        return [read_row(Person, row) for _, row in self._table.rows()]

    def set_pin(self, person_id: str, pin: str) -> None:
        """Set or replace a person's PIN."""
        salt = random_bytes(16)
        document = {"salt": to_text(salt), "hash": to_text(_pin_hash(pin, salt))}
        self._pins.put(person_id, {**document, "wrong": 0})

    def has_pin(self, person_id: str) -> bool:
        """Whether this person has set a PIN."""
        return self._pins.fetch(person_id) is not None

    def check_pin(self, person_id: str, pin: str) -> bool:
        """Compare a PIN; a wrong one is counted and saved before this returns.

        Returns:
            False for a wrong PIN, and for a person without one.

        Raises:
            PinLockedError: The fifth wrong one in a row, and any after it.
        """
        kept = self._pins.fetch(person_id)
        if kept is None:
            return False
        if kept["wrong"] >= PIN_ATTEMPTS:
            raise PinLockedError("PIN is locked")
        given = _pin_hash(pin, from_text(kept["salt"]))
        if hmac.compare_digest(given, from_text(kept["hash"])):
            self._pins.put(person_id, {**kept, "wrong": 0})
            return True
        self._pins.put(person_id, {**kept, "wrong": kept["wrong"] + 1})
        if kept["wrong"] + 1 >= PIN_ATTEMPTS:
            raise PinLockedError("PIN is locked")
        return False

    def forgive_wrong_pins(self) -> None:
        """Set every count of wrong PINs to zero, after the passphrase was given."""

        def updater(table: dict[Any, Any]) -> None:
            for pin in table.values():
                pin["wrong"] = 0

        self._pins.update_documents(updater)


def _pin_hash(pin: str, salt: bytes) -> bytes:
    secret = pin.encode("utf-8", "surrogatepass")
    return hkdf_sha256(secret, salt, b"exam-vault pin v1", 32)

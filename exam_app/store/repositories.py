"""Animals, people, settings, protocols, and what stands beside records.

Repositories take and give plain dicts; what they give is a fresh copy each time.
Every ``put`` returns after the save is on the medium.
"""

import base64
import hmac
from collections.abc import Callable, Mapping
from itertools import islice
from typing import Any

from exam_app.crypto.door import hkdf_sha256, random_bytes
from exam_app.store.errors import (
    ClosedRecordChangedError,
    PinLockedError,
    UnstorableValueError,
)
from exam_app.store.row_finder import RowFinder, searchable
from exam_app.store.sealed_table import SealedTable, SealedTables
from exam_app.store.state import Document

PIN_ATTEMPTS = 5
_SEARCHED = ("name", "tag", "chip", "chips", "owner", "owner_name", "place")


class Animals:
    """The animals this device knows, by ``animal_id``."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of animals."""
        self._table = tables.open_table("animals", body_fields=())
        self._finder = RowFinder(self._table, "find", "animal")

    def put(self, animal: Mapping[str, Any]) -> None:
        """Keep an animal under its own ``animal_id``."""
        animal_id = required_id(animal, "animal_id")
        found = searchable([animal.get(field) for field in _SEARCHED])
        self._table.put(animal_id, {"find": found, "animal": dict(animal)})

    def get(self, animal_id: str) -> Document | None:
        """Give one animal, or None."""
        kept = self._table.fetch(animal_id)
        return None if kept is None else kept["animal"]

    def all(self) -> list[Document]:
        """Give every animal, in the order they were first put."""
        return [kept["animal"] for _, kept in self._table.rows()]

    def search(self, text: str, limit: int | None = None) -> list[Document]:
        """Find animals by name, tag, chip number, owner's name or place.

        Args:
            text: Words in any order and case; each must occur. A chip number may be
                typed with or without spaces. Empty finds every animal.
            limit: At most so many, the first ones put.
        """
        words = text.casefold().split()
        found = islice(self._finder.find(words), limit)
        return [kept["animal"] for kept in found]


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

    def put(self, person: Mapping[str, Any]) -> None:
        """Keep a person under their own ``person_id``."""
        self._table.put(required_id(person, "person_id"), person)

    def get(self, person_id: str) -> Document | None:
        """Give one person, or None."""
        return self._table.fetch(person_id)

    def all(self) -> list[Document]:
        """Give every person, in the order they were first put."""
        return [person for _, person in self._table.rows()]

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


class Settings:
    """Values of this device by name: text, numbers, lists, objects, or bytes."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of settings."""
        self._table = tables.open_table("settings", body_fields=())

    def get(self, key: str, default: Any = None) -> Any:  # noqa: ANN401
        """Give the value kept under a name, or ``default``."""
        kept = self._table.fetch(key)
        if kept is None:
            return default
        return from_text(kept["bytes"]) if "bytes" in kept else kept["value"]

    def put(self, key: str, value: Any) -> None:  # noqa: ANN401
        """Keep a value under a name."""
        is_bytes = isinstance(value, bytes)
        self._table.put(
            key, {"bytes": to_text(value)} if is_bytes else {"value": value}
        )


class Protocols:
    """Every version of a species protocol ever used, by its content hash."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of protocols."""
        self._table = tables.open_table("protocols")

    def put(self, protocol_hash: str, toml: bytes) -> None:
        """Keep a protocol's exact bytes; the same bytes again change nothing."""
        put_once(self._table, protocol_hash, {"toml": to_text(toml)})

    def get(self, protocol_hash: str) -> bytes | None:
        """Give a protocol's exact bytes, or None."""
        kept = self._table.fetch(protocol_hash)
        return None if kept is None else from_text(kept["toml"])


class OwnerBlocks:
    """Owner data beside the signed record, by exam: the salt and the block."""

    def __init__(self, tables: SealedTables, forget: Callable[[], None]) -> None:
        """Use the table of owner blocks.

        Args:
            tables: The open tables.
            forget: Writes the files anew, so that nothing removed is left in them.
        """
        self._table = tables.open_table("owner_blocks")
        self._forget = forget

    def put(self, exam_id: str, salt: bytes, block: Mapping[str, Any]) -> None:
        """Keep an exam's owner block with the salt that the record's hash covers."""
        self._table.put(exam_id, {"salt": to_text(salt), "block": dict(block)})

    def get(self, exam_id: str) -> tuple[bytes, Document] | None:
        """Give salt and block, or None where there was none or it was erased."""
        kept = self._table.fetch(exam_id)
        return None if kept is None else (from_text(kept["salt"]), kept["block"])

    def of(self, exam_id: str) -> list[tuple[str, bytes, Document]]:
        """Give id, salt and block of an exam and of its forks."""
        keys = [key for key, _ in self._table.rows() if _is_of(key, exam_id)]
        found = [(key, self.get(key)) for key in keys]
        return [(key, *kept) for key, kept in found if kept is not None]

    def exam_ids(self) -> set[str]:
        """Give every exam that has an owner block, or whose fork has one."""
        return {key.partition(":")[0] for key, _ in self._table.rows()}

    def drop(self, exam_id: str) -> None:
        """Remove salt and block in one save; the files still hold sealed traces.

        Those of forks of the exam, kept under its id and a record's hash, go along.
        """
        keys = [key for key, _ in self._table.rows() if _is_of(key, exam_id)]
        with self._table.sealed.transaction():
            for key in keys:
                self._table.discard(key)

    def erase(self, exam_id: str) -> None:
        """Remove salt and block, and write the files anew without them.

        Not inside a transaction, which would save the removal only afterwards.

        Raises:
            VaultError: The removal was not saved, or it was and the files still
                hold sealed traces; erase again.
        """
        if self._table.sealed.is_inside_transaction():
            raise RuntimeError("erase outside of transactions")
        self.drop(exam_id)
        self._forget()


def _is_of(key: str, exam_id: str) -> bool:
    return key == exam_id or key.startswith(f"{exam_id}:")


def required_id(document: Mapping[str, Any], field: str) -> str:
    """Give the id that a document must carry in ``field``."""
    found = document.get(field)
    if not isinstance(found, str) or not found:
        raise UnstorableValueError(f"a document must carry {field}")
    return found


def put_once(table: SealedTable, document_id: str, document: Document) -> None:
    """Keep a document that never changes.

    Raises:
        ClosedRecordChangedError: A different one is kept under this id.
    """
    kept = table.fetch(document_id)
    if kept is None:
        table.put(document_id, document)
    elif kept != document:
        raise ClosedRecordChangedError("different bytes under the same id")


def to_text(content: bytes) -> str:
    """Write bytes as base 64, since documents hold no bytes."""
    return base64.b64encode(content).decode("ascii")


def from_text(text: str) -> bytes:
    """Read what ``to_text`` wrote."""
    return base64.b64decode(text, validate=True)


def _pin_hash(pin: str, salt: bytes) -> bytes:
    secret = pin.encode("utf-8", "surrogatepass")
    return hkdf_sha256(secret, salt, b"exam-vault pin v1", 32)


class PrivateBlocks:
    """Private notes beside signed records, by record: the salt and the block."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of private blocks."""
        self._table = tables.open_table("private_blocks", head_fields=("exam_id",))

    def put(self, exam_id: str, record_hash: str, salt: bytes, block: bytes) -> None:
        """Keep a block with the salt that the record's hash covers."""
        kept = {"exam_id": exam_id, "salt": to_text(salt), "block": to_text(block)}
        self._table.put(record_hash, kept)

    def get(self, record_hash: str) -> tuple[bytes, bytes] | None:
        """Give salt and block of one record, or None where none is kept here."""
        kept = self._table.fetch(record_hash)
        if kept is None:
            return None
        return from_text(kept["salt"]), from_text(kept["block"])

    def drop(self, exam_id: str) -> None:
        """Remove those of every record of an exam; files still hold sealed traces."""
        rows = self._table.rows_with("exam_id", exam_id)
        with self._table.sealed.transaction():
            for record_hash, _ in rows:
                self._table.discard(record_hash)

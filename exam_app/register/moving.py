"""Taking a clinic's store in a folder over into the register.

Documents are copied as they are, in their order and a few hundred in a save, and each
is looked for first: so it can be broken off, begun again, and repeated later for what
came meanwhile. What the register has already stands; a note or record is never changed
there, and an acknowledgement that only the folder has is added.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from typing import ClassVar

from exam_app.domain.errors import ExamError
from exam_app.register.columns import CLOSED
from exam_app.register.register_vault import RegisterVault
from exam_app.store.engine.documents import decode_document, encode_document
from exam_app.store.engine.format import PUT
from exam_app.store.engine.journal import Change
from exam_app.store.engine.state import row_bytes
from exam_app.store.vault.vault import Vault

_AT_ONCE = 250
SETTINGS = "settings"
# What concerns the folder alone.
_OF_STATION = frozenset({"loss_reports", "backups"})


class OtherClinicError(ExamError):
    """The folder is another clinic's than the one in the register."""

    advice: ClassVar[str] = (
        "This folder belongs to another clinic than this register's. Nothing was "
        "taken over. Admit this computer as a station of a clinic of its own."
    )


@dataclass(slots=True)
class Moved:
    """What was taken over.

    Attributes:
        copied: How many documents of each kind are new in the register.
        there: How many were there already.
        kept: How many the register has otherwise, and whose version there stands.
        photographs: How many pictures are new there.
    """

    copied: dict[str, int] = field(default_factory=dict)
    there: int = 0
    kept: int = 0
    photographs: int = 0


def move_up(
    source: Vault,
    register: RegisterVault,
    progress: Callable[[Moved], None] = lambda _: None,
) -> Moved:
    """Copy everything a clinic's folder keeps into its register.

    Raises:
        OtherClinicError: The register has another clinic's identity, or one of the two
            holds invented records and the other does not.
        VaultError: The register refused or was lost; what was copied stays, and the
            next call goes on.
    """
    own, theirs = (one.settings.get("device_id") for one in (source, register))
    if (theirs and own != theirs) or source.is_demo != register.is_demo:
        raise OtherClinicError("another identity")
    moved = Moved()
    storage = source.tables.table(SETTINGS).sealed  # type: ignore[attr-defined]
    for table in sorted(storage.tables(), key=lambda name: name != SETTINGS):
        if table not in _OF_STATION:
            for changes in _in_parts(_documents(source, table)):
                _copy(register, changes, moved)
                progress(moved)
    _move_pictures(source, register, moved)
    return moved


def _documents(source: Vault, table: str) -> Iterator[Change]:
    storage = source.tables.table(table).sealed  # type: ignore[attr-defined]
    for key, entry in storage.entries(table).items():
        rest = storage.rest(table, key, entry)
        body = encode_document(rest) if rest else b""
        yield Change(PUT, table, key, row_bytes(entry), body)


def _in_parts(changes: Iterator[Change]) -> Iterator[list[Change]]:
    while part := list(islice(changes, _AT_ONCE)):
        yield part


def _copy(register: RegisterVault, changes: list[Change], moved: Moved) -> None:
    storage, table = register.storage, changes[0].table

    def copy() -> tuple[int, int, int]:
        storage.expect({table: [one.document_id for one in changes]})
        new, there, kept = [], 0, 0
        for one in changes:
            entry = storage.entry(table, one.document_id)
            if entry is None:
                new.append(one)
            elif row_bytes(entry) == one.row:
                there += 1
            elif (joined := _acknowledged(one, row_bytes(entry))) is not None:
                new.append(joined)
            else:
                kept += 1
        with storage.transaction():
            storage.save(new)
        return len(new), there, kept

    copied, there, kept = register.attempt(copy)
    moved.copied[table] = moved.copied.get(table, 0) + copied
    moved.there += there
    moved.kept += kept


def _acknowledged(from_folder: Change, in_register: bytes) -> Change | None:
    """Return a record as it is in the register, with who acknowledged it elsewhere."""
    if from_folder.table != CLOSED:
        return None
    theirs, row = decode_document(from_folder.row), decode_document(in_register)
    if row.get("acknowledged_by") or not theirs.get("acknowledged_by"):
        return None
    named = {**row, "acknowledged_by": theirs["acknowledged_by"]}
    return from_folder._replace(row=encode_document(named))


def _move_pictures(source: Vault, register: RegisterVault, moved: Moved) -> None:
    for row in source.photographs.here(source.photographs.rows()):
        if not register.photographs.has(row.sha256):
            picture = source.photographs.get(row.sha256)
            exam_id = row.exam_ids[0] if row.exam_ids else ""
            register.photographs.add(exam_id, picture, row.device_id)
            moved.photographs += 1

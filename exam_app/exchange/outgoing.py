"""What was sealed to be handed over, and how far each record has come.

A sealed bundle is kept until the recipient's signed receipt is here, so that the same
bytes can be shown again. The number of a bundle is saved with it, before anything of
it is shown, and is never used again for the same recipient.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar

from exam_app.language.catalogue import to_translate
from exam_app.store.engine.documents import from_text, read_row, to_text
from exam_app.store.engine.tables import SealedTables, required_id
from exam_app.store.repositories.listed import HANDED_OVER
from sync.errors import SyncError

WAITING = "waiting"
SHOWN = "shown"
BY_CODE = "received by code"
RECEIVED = "received"
STATES = (WAITING, SHOWN, BY_CODE, RECEIVED)


class BundleGoneError(SyncError):
    """The bundle is not here, or its bytes were dropped after the signed receipt."""

    advice: ClassVar[str] = to_translate(
        "This hand-over was received, or is not of this device. Nothing was changed. "
        "Go back to the list of what waits."
    )


@dataclass(frozen=True, slots=True)
class Outgoing:
    """One sealed bundle and how far it has come, as its row keeps it.

    Attributes:
        state: One of ``outgoing.STATES``.
        signed_hashes: Records, then notes: the order of a receipt's lines.
        wrong_codes: How many receipt codes were typed that were others.
        outcomes: By record hash, once a signed receipt came.
        receipted_ms: When the clinic received it, UTC milliseconds.
        withdrawn: Whether it is not to be handed over any more.
        code: What the clinic shows, never shown on the device; empty in lists.
        sealed: Empty in lists and once the signed receipt is here.
    """

    bundle_hash: str
    recipient_id: str
    sequence: int
    kind: str
    state: str
    made_ms: int
    made_offset_min: int
    exam_ids: tuple[str, ...]
    record_hashes: tuple[str, ...]
    signed_hashes: tuple[str, ...]
    wrong_codes: int = 0
    outcomes: Mapping[str, str] = field(default_factory=dict)
    receipted_ms: int | None = None
    withdrawn: bool = False
    code: str = ""
    sealed: bytes = b""


class OutgoingBundles:
    """Sealed bundles by their hash, and the state of each record in them."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of outgoing bundles, records handed over and numbers."""
        self._table = tables.open_table("outgoing", body_fields=("sealed", "code"))
        self._records = tables.open_table(HANDED_OVER, body_fields=())
        self._numbers = tables.open_table("sequences", body_fields=())
        self._transaction = self._table.sealed.transaction

    def next_sequence(self, recipient_id: str) -> int:
        """Give the number of the next bundle to a recipient; ``put`` uses it up."""
        kept = self._numbers.fetch(recipient_id)
        return 1 if kept is None else int(kept["next"])

    def use_sequence(self, recipient_id: str, sequence: int) -> None:
        """Use up a number."""
        self._numbers.put(recipient_id, {"next": sequence + 1})

    def put(self, bundle: Mapping[str, Any], sealed: bytes, code: str) -> None:
        """Keep a sealed bundle and use up its number, in one save.

        Args:
            bundle: ``bundle_hash``, ``recipient_id``, ``sequence``, ``kind``,
                ``made_ms``, ``exam_ids``, ``record_hashes``, ``signed_hashes``.
            code: The receipt code that only an opener can derive.
        """
        key = required_id(bundle, "bundle_hash")
        kept = {"state": WAITING, "wrong_codes": 0, "size": len(sealed), **bundle}
        with self._transaction():
            self.use_sequence(bundle["recipient_id"], int(bundle["sequence"]))
            self._table.put(key, {**kept, "sealed": to_text(sealed), "code": code})

    def outstanding(self, recipient_id: str) -> list[Outgoing]:
        """Give what is sealed to a recipient and has no signed receipt, by number."""
        rows = self._table.rows_with("recipient_id", recipient_id)
        kept = (self.get(row["bundle_hash"]) for _, row in rows)
        waiting = (one for one in kept if one and one.sealed and one.state != RECEIVED)
        return sorted(waiting, key=lambda bundle: bundle.sequence)

    def get(self, bundle_hash: str) -> Outgoing | None:
        """Give a whole bundle, or None."""
        kept = self._table.fetch(bundle_hash)
        return None if kept is None else _outgoing_of(kept)

    def all(self) -> list[Outgoing]:
        """Give every bundle, oldest first, without sealed bytes and codes."""
        return [_outgoing_of(row) for _, row in self._table.rows()]

    def change(self, bundle_hash: str, fields: Mapping[str, Any]) -> None:
        """Change fields of a bundle; a state never goes back.

        The state ``received`` drops the sealed bytes.
        """
        kept = self._table.fetch(bundle_hash)
        if kept is None:
            return
        changed = {**kept, **fields, "state": later(kept, fields.get("state", WAITING))}
        if changed["state"] == RECEIVED:
            changed.pop("sealed", None)
        self._table.put(bundle_hash, changed)

    def withdraw(self, bundle_hash: str) -> None:
        """Drop the sealed bytes of a bundle that is not to be handed over any more.

        Its number stays used, and a receipt for it is still taken: it may have been
        received. Records in it without a receipt go into the next bundle.
        """
        kept = self._table.fetch(bundle_hash)
        if kept is not None:
            kept.pop("sealed", None)
            self._table.put(bundle_hash, {**kept, "withdrawn": True})

    def mark_records(
        self, record_hashes: Iterable[str], state: str, bundle_hash: str
    ) -> None:
        """Move records on to a state; none goes back."""
        with self._transaction():
            for record_hash in record_hashes:
                kept = self._records.fetch(record_hash)
                reached = state if kept is None else later(kept, state)
                marked = {"state": reached, "bundle_hash": bundle_hash}
                self._records.put(record_hash, {**(kept or {}), **marked})

    def put_outcomes(self, outcomes: Mapping[str, str]) -> None:
        """Keep what the clinic's signed receipt says became of each record."""
        with self._transaction():
            for record_hash, outcome in outcomes.items():
                kept = self._records.fetch(record_hash) or {"state": SHOWN}
                self._records.put(record_hash, {**kept, "outcome": outcome})

    def record_outcome(self, record_hash: str) -> str:
        """Give what became of a record by its last receipt; empty before."""
        kept = self._records.fetch(record_hash) or {}
        return str(kept.get("outcome", ""))

    def record_state(self, record_hash: str) -> str:
        """Give how far one record has come."""
        kept = self._records.fetch(record_hash)
        return WAITING if kept is None else str(kept["state"])


def later(kept: Mapping[str, Any], state: str) -> str:
    """Give the later of a kept state and another."""
    before = str(kept.get("state", WAITING))
    return max(before, state, key=STATES.index)


def _outgoing_of(row: Mapping[str, Any]) -> Outgoing:
    shown = read_row(Outgoing, row, sealed="")
    return replace(shown, sealed=from_text(row.get("sealed", "")))

"""What arrived: a log of bundles with their receipts, and what was set apart.

Order is by a device's own numbers, never by a clock: a number that never came is
listed as missing until a person says that it need not come any more.
"""

from collections.abc import Mapping
from itertools import chain, islice, pairwise
from typing import Any

from exam_app.store.engine.documents import Document, from_text, to_text
from exam_app.store.engine.tables import SealedTables, required_id

MOST_MISSING = 1_000
HELD = "held"
ADMITTED = "admitted"
DROPPED = "dropped"


class IncomingBundles:
    """Bundles that were stored, by hash, each with the receipt signed for it."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of incoming bundles and of numbers given up."""
        self._table = tables.open_table("incoming", body_fields=("receipt", "outcomes"))
        self._given_up = tables.open_table("given_up", body_fields=())

    def put(self, bundle: Mapping[str, Any], receipt: bytes) -> None:
        """Keep a bundle's entry and its receipt.

        Args:
            bundle: ``bundle_hash``, ``device_id``, ``sequence``, ``kind``,
                ``made_ms``, ``received_ms``, ``skew_ms``, ``outcomes`` (record hash
                to outcome).
        """
        key = required_id(bundle, "bundle_hash")
        self._table.put(key, {**bundle, "receipt": to_text(receipt)})

    def get(self, bundle_hash: str) -> Document | None:
        """Give a bundle's entry, or None."""
        kept = self._table.fetch(bundle_hash)
        if kept is not None:
            del kept["receipt"]
        return kept

    def receipt(self, bundle_hash: str) -> bytes | None:
        """Give the signed receipt of a bundle, or None."""
        kept = self._table.fetch(bundle_hash)
        return None if kept is None else from_text(kept["receipt"])

    def latest(self, count: int) -> list[Document]:
        """Give the bundles kept last, newest first, with their outcomes."""
        found = (self.get(row["bundle_hash"]) for row in self._table.newest(count))
        return [bundle for bundle in found if bundle is not None]

    def of_device(self, device_id: str) -> list[Document]:
        """Give a device's bundles, by their numbers, without their outcomes."""
        rows = [row for _, row in self._table.rows_with("device_id", device_id)]
        return sorted(rows, key=lambda row: int(row["sequence"]))

    def missing(self, device_id: str) -> tuple[int, ...]:
        """Give the numbers below the highest that neither came nor were given up.

        At most a thousand, the lowest first.
        """
        came = [int(row["sequence"]) for row in self.of_device(device_id)]
        gaps = (range(a + 1, b) for a, b in pairwise([0, *came]))
        numbers = chain.from_iterable(gaps)
        given_up = self._given_up.fetch
        missing = (n for n in numbers if given_up(f"{device_id}:{n}") is None)
        return tuple(islice(missing, MOST_MISSING))

    def give_up(self, device_id: str, sequence: int, by: str, when_ms: int) -> None:
        """Keep that a person expects a missing bundle no more."""
        entry = {"device_id": device_id, "sequence": sequence}
        key = f"{device_id}:{sequence}"
        self._given_up.put(key, {**entry, "by": by, "when_ms": when_ms})


class Quarantine:
    """What was set apart whole: bundles and single records, until a person decides."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of what was set apart."""
        self._table = tables.open_table("quarantine", body_fields=("content",))

    def put(self, entry: Mapping[str, Any], content: bytes) -> None:
        """Keep something under its ``key``; what is there already stays as it is.

        Args:
            entry: ``key`` (a SHA-256), ``kind`` (``bundle``, ``record`` or ``note``),
                ``reason``, ``device_id``, ``bundle_hash``, ``sequence``,
                ``received_ms``, and for a record ``exam_id`` and ``waits_for``.
        """
        key = required_id(entry, "key")
        if self._table.fetch(key) is None:
            kept = {"state": HELD, "size": len(content), **entry}
            self._table.put(key, {**kept, "content": to_text(content)})

    def get(self, key: str) -> Document | None:
        """Give one entry without its bytes, or None."""
        kept = self._table.fetch(key)
        if kept is not None:
            kept.pop("content", None)
        return kept

    def content(self, key: str) -> bytes | None:
        """Give the exact bytes, or None when they were dropped or admitted."""
        kept = self._table.fetch(key)
        return from_text(kept["content"]) if kept and kept.get("content") else None

    def held(self) -> list[Document]:
        """Give what waits for a decision, oldest first."""
        return [row for row in self.all() if row.get("state") == HELD]

    def all(self) -> list[Document]:
        """Give everything that was ever set apart, oldest first."""
        return [row for _, row in self._table.rows()]

    def decide(self, key: str, state: str, by: str, when_ms: int) -> None:
        """Keep a person's decision, ``admitted`` or ``dropped``, and let go the bytes.

        ``inbox.admit`` imports an admitted bundle and calls this in the save that
        stores its records.
        """
        kept = self._table.fetch(key)
        if kept is not None:
            kept.pop("content", None)
            decided = {"state": state, "decided_by": by, "decided_ms": when_ms}
            self._table.put(key, {**kept, **decided})

    def explain(self, key: str, why: str) -> None:
        """Keep in a person's words why something was admitted or dropped."""
        kept = self._table.fetch(key)
        if kept is not None:
            self._table.put(key, {**kept, "why": why})

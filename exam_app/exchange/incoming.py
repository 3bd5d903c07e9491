"""What arrived: a log of bundles with their receipts, and what was set apart.

Order is by a device's own numbers, never by a clock: a number that never came is
listed as missing until a person says that it need not come any more.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import chain, islice, pairwise
from weakref import WeakKeyDictionary

from exam_app.crypto.door import sha256
from exam_app.domain.moments import Moment
from exam_app.store.engine.documents import from_text, read_row, stored_row, to_text
from exam_app.store.engine.tables import SealedTable, SealedTables

MOST_MISSING = 1_000
HELD = "held"
ADMITTED = "admitted"
DROPPED = "dropped"


@dataclass(frozen=True, slots=True, kw_only=True)
class Incoming:
    """A bundle that was stored.

    Attributes:
        made_ms, received_ms: UTC milliseconds, by the sender's and by this clock.
        received: Local date and time, as shown.
        skew_ms: The first less the second.
        admitted_by: Who admitted it from quarantine; empty otherwise.
        outcomes: By hash of record or note; empty in lists of a device.
        pairs_aside, uncompared: As ``JoinsAside``; None for none.
    """

    bundle_hash: str
    device_id: str
    sequence: int
    kind: str
    made_ms: int
    received_ms: int
    received: str
    skew_ms: int
    exam_count: int = 0
    admitted_by: str = ""
    outcomes: Mapping[str, str] = field(default_factory=dict)
    pairs_aside: int | None = None
    uncompared: int | None = None


@dataclass(frozen=True, slots=True)
class SetApart:
    """Something that is kept whole and not among the records.

    Attributes:
        kind: ``bundle``, ``record`` or ``note``.
        content: Its exact bytes; empty in what the store gives.
        reason: For a person, why.
        waits_for: ``record:HASH`` or ``protocol:HASH`` that would free a record.
        key: SHA-256 of the content, in hexadecimal; the store's, as are the others.
        received_ms: UTC milliseconds.
        size: In bytes.
        state: ``held`` until somebody decides.
        why: As the one who decided typed it.
    """

    kind: str
    content: bytes
    reason: str
    bundle_hash: str
    device_id: str = ""
    sequence: int = 0
    exam_id: str = ""
    waits_for: str = ""
    key: str = ""
    received_ms: int = 0
    received: str = ""
    size: int = 0
    state: str = HELD
    decided_by: str | None = None
    decided_ms: int | None = None
    why: str | None = None


class _Numbers:
    """What a table's rows say of numbers, read once and then row by row as they come.

    Rows are only ever added, one a bundle. Where something else happened to the table,
    all of it is read again.
    """

    def __init__(self) -> None:
        self._read: dict[str, dict[int, set[str]]] = {}
        self._known: set[str] = set()
        self._version: int | None = None

    def of(self, table: SealedTable) -> dict[str, dict[int, set[str]]]:
        version = table.sealed.version(table.name)
        if version is not None and version == self._version:
            return self._read
        count = 0
        if version is not None and self._version is not None:
            count = table.sealed.count(table.name) - len(self._known)
        added = table.newest(count)
        hashes = {row["bundle_hash"] for row in added} - self._known
        if count < 1 or len(hashes) != count:
            self._read, self._known = {}, set()
            added = [row for _, row in table.rows()]
        for row in added:
            numbers = self._read.setdefault(row["device_id"], {})
            numbers.setdefault(row["sequence"], set()).add(row["bundle_hash"])
            self._known.add(row["bundle_hash"])
        self._version = version
        return self._read


_NUMBERS: WeakKeyDictionary[SealedTable, _Numbers] = WeakKeyDictionary()


class IncomingBundles:
    """Bundles that were stored, by hash, each with the receipt signed for it."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of incoming bundles and of numbers given up."""
        self._table = tables.open_table("incoming", body_fields=("receipt", "outcomes"))
        self._given_up = tables.open_table("given_up", body_fields=())

    def put(self, bundle: Incoming, receipt: bytes) -> None:
        """Keep a bundle's row and its receipt."""
        row = {**stored_row(bundle), "receipt": to_text(receipt)}
        self._table.put(bundle.bundle_hash, row)

    def get(self, bundle_hash: str) -> Incoming | None:
        """Give a bundle's row, or None."""
        kept = self._table.fetch(bundle_hash)
        return None if kept is None else read_row(Incoming, kept)

    def receipt(self, bundle_hash: str) -> bytes | None:
        """Give the signed receipt of a bundle, or None."""
        kept = self._table.fetch(bundle_hash)
        return None if kept is None else from_text(kept["receipt"])

    def latest(self, count: int) -> list[Incoming]:
        """Give the bundles kept last, newest first, with their outcomes."""
        found = (self.get(row["bundle_hash"]) for row in self._table.newest(count))
        return [bundle for bundle in found if bundle is not None]

    def of_device(self, device_id: str) -> list[Incoming]:
        """Give a device's bundles, by their numbers, without their outcomes."""
        rows = self._table.rows_with("device_id", device_id)
        found = (read_row(Incoming, row) for _, row in rows)
        return sorted(found, key=lambda one: one.sequence)

    def of_number(self, device_id: str, sequence: int) -> frozenset[str]:
        """Give the hashes of the bundles that a device gave this number."""
        listed = self._table.sealed.numbered(self._table.name, device_id, sequence)
        if listed is not None:
            return frozenset(listed)
        return frozenset(self._by_number().get(device_id, {}).get(sequence, ()))

    def missing(self, device_id: str) -> tuple[int, ...]:
        """Give the numbers below the highest that neither came nor were given up.

        At most a thousand, the lowest first.
        """
        name, given_up = self._table.name, self._given_up.fetch
        numbers: Iterable[int] | None = self._table.sealed.gaps(
            name, device_id, 2 * MOST_MISSING
        )
        if numbers is None:
            numbers = self._gaps(device_id)
        missing = (n for n in numbers if given_up(f"{device_id}:{n}") is None)
        return tuple(islice(missing, MOST_MISSING))

    def _gaps(self, device_id: str) -> Iterable[int]:
        numbers_come = self._by_number().get(device_id, {})
        if not numbers_come or max(numbers_come) == len(numbers_come):
            return ()
        gaps = (range(a + 1, b) for a, b in pairwise([0, *sorted(numbers_come)]))
        return chain.from_iterable(gaps)

    def _by_number(self) -> dict[str, dict[int, set[str]]]:
        """Give the hashes of every device's bundles by their numbers."""
        return _NUMBERS.setdefault(self._table, _Numbers()).of(self._table)

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

    def put(self, item: SetApart, received: Moment) -> None:
        """Keep something by its content; what is there already stays as it is."""
        key, size = sha256(item.content).hex(), len(item.content)
        if self._table.fetch(key) is None:
            when, shown = received.utc_ms, received.date_and_time()
            kept = replace(item, key=key, size=size, received_ms=when, received=shown)
            content = to_text(item.content)
            self._table.put(key, {**stored_row(kept), "content": content})

    def get(self, key: str) -> SetApart | None:
        """Give one entry without its bytes, or None."""
        kept = self._table.fetch(key)
        return None if kept is None else read_row(SetApart, kept, content="")

    def content(self, key: str) -> bytes | None:
        """Give the exact bytes, or None when they were dropped or admitted."""
        kept = self._table.fetch(key)
        return from_text(kept["content"]) if kept and kept.get("content") else None

    def held(self) -> list[SetApart]:
        """Give what waits for a decision, oldest first."""
        return [one for one in self.all() if one.state == HELD]

    def all(self) -> list[SetApart]:
        """Give everything that was ever set apart, oldest first."""
        rows = self._table.rows()
        return [read_row(SetApart, row, content="") for _, row in rows]

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

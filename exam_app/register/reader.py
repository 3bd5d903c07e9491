"""Reading documents of the register: by id, by field, in order, by blind words."""

from collections import OrderedDict
from collections.abc import Iterable, Sequence
from functools import lru_cache

from exam_app.register.columns import (
    ANIMALS,
    CLOSED,
    INCOMING,
    RECORD_FIELDS,
    REF_OF,
)
from exam_app.register.connection import RegisterConnection, Row
from exam_app.register.keys import BEGINNING, EPOCH_LENGTH, RowSealer
from exam_app.store.engine.documents import NONCE_LENGTH
from exam_app.store.engine.format import Entry

# A row's epoch and nonce, which differ whenever it was sealed again.
_START = EPOCH_LENGTH + NONCE_LENGTH
_FEW = 20
_DOCUMENT = """
SELECT d.id, d.version, d."row", d.body FROM register.document d
WHERE d.clinic = %s AND d.kind = %s"""
_RECORD = """
SELECT r.id, k.version, r."row", r.body FROM register.record_key k
JOIN register.record r ON r.clinic = k.clinic AND r.id = k.id AND r.month = k.month
WHERE k.clinic = %s"""
_RECORD_ROW = """
SELECT r.id, r.place, r."row", NULL FROM register.record r WHERE r.clinic = %s"""
_BEGUN = """
SELECT r.id, r.place, substring(r."row" FOR %s) FROM register.record r
WHERE r.clinic = %s"""
_NEWEST = """
SELECT d.id, d.version, d."row", NULL FROM register.document d
WHERE d.clinic = %s AND d.kind = 'incoming'"""
_POINTS = """
SELECT d.kind, d.id, d.version, d."row", d.body FROM register.document d
JOIN unnest(%s::text[], %s::text[]) AS w (kind, id)
ON d.kind = w.kind AND d.id = w.id WHERE d.clinic = %s"""
_WITH = 'SELECT id, place, "row" FROM register.animals_with(%s::bigint[], %s)'
_BEGINNING = 'SELECT id, place, "row" FROM register.animals_beginning(%s::bigint, %s)'
_MOST_BODIES, _MOST_ROWS = 2048, 8192
# Animals with words that only begin alike are opened to look; no more than these.
MOST_LOOKED_AT = 150


class DocumentReader:
    """Reads and opens documents of one clinic; keeps bodies that came along."""

    def __init__(
        self, connection: RegisterConnection, sealer: RowSealer, clinic: int
    ) -> None:
        """Read by this connection."""
        self._connection = connection
        self._sealer = sealer
        self._clinic = clinic
        # What is sealed alike was opened before: lists show the same rows again.
        self._opened = lru_cache(_MOST_ROWS)(sealer.open)
        # Rows of records as lists showed them, by id and how they begin.
        self._listed: dict[tuple[str, bytes], Entry] = {}
        self._bodies: OrderedDict[tuple[str, str, bytes], bytes] = OrderedDict()

    def entry(self, kind: str, row: Row) -> tuple[str, Entry, int]:
        """Open a row as selected; give its id, its entry and its version."""
        document_id, version, sealed, body = row
        where = b"%d" % version
        plain = self._opened("row", kind, document_id, bytes(sealed))
        if body is not None:
            self._keep(kind, document_id, where, body)
        return document_id, (plain, where), version

    def points(
        self, wanted: Sequence[tuple[str, str]]
    ) -> dict[tuple[str, str], tuple[Entry, int]]:
        """Give documents by kind and id, those that are there."""
        found: dict[tuple[str, str], tuple[Entry, int]] = {}
        others = [place for place in wanted if place[0] != CLOSED]
        records = [document_id for kind, document_id in wanted if kind == CLOSED]
        asked: list[tuple[str, Sequence[object]]] = []
        if others:
            kinds, ids = zip(*others, strict=True)
            asked.append((_POINTS, (list(kinds), list(ids), self._clinic)))
        if records:
            asked.append((f"{_RECORD} AND k.id = ANY(%s)", (self._clinic, records)))
        answers = self._connection.run_all(asked) if asked else []
        if others:
            for kind, *rest in answers.pop(0):
                document_id, entry, version = self.entry(kind, tuple(rest))
                found[kind, document_id] = entry, version
        for row in answers.pop(0) if records else ():
            document_id, entry, version = self.entry(CLOSED, row)
            found[CLOSED, document_id] = entry, version
        return found

    def by_field(
        self, kind: str, name: str, values: Sequence[str]
    ) -> list[tuple[str, Entry, int]]:
        """Give documents whose listed field has one of the values, in order."""
        is_one = len(values) == 1
        given: object = values[0] if is_one else list(values)
        # Of one value the server expects one; a long list is faster in binary form.
        among = "= %s" if is_one else "= ANY(%b)"
        if kind != CLOSED:
            if kind not in REF_OF:
                raise ValueError(kind)
            # Named in the statement, so that an index of one kind is found.
            asked = f"{_DOCUMENT} AND d.ref {among} ORDER BY d.place"
            asked = asked.replace("d.kind = %s", f"d.kind = '{kind}'")
            rows = self._connection.run(asked, (self._clinic, given))
        elif name == "exam_id":
            asked = f"{_RECORD} AND k.exam_id {among} ORDER BY r.place"
            rows = self._connection.run(asked, (self._clinic, given))
        else:
            if name not in RECORD_FIELDS:
                raise ValueError(name)
            asked = f"{_RECORD_ROW} AND r.{name} {among} ORDER BY r.place"
            if name == "group_exam":
                asked = asked.replace("ORDER", "AND r.group_exam <> '' ORDER")
            rows = self._connection.run(asked, (self._clinic, given))
        return [self.entry(kind, row) for row in rows]

    def newest(self, kind: str, count: int) -> list[Entry]:
        """Give the entries put last, newest first."""
        if kind not in (CLOSED, INCOMING):
            return [entry for _, entry, _ in reversed(self.everything(kind))][:count]
        if kind == CLOSED:
            return self._newest_records(count)
        # By its name and no parameter, so that its own index is used.
        asked = f"{_NEWEST} ORDER BY d.place DESC LIMIT {count:d}"
        rows = self._connection.run(asked, (self._clinic,))
        return [self.entry(kind, row)[1] for row in rows]

    def _newest_records(self, count: int) -> list[Entry]:
        """Give the records put last; those that came before are not sent again."""
        # A number in the statement, unlike a parameter, lets the plan be kept.
        last = f"ORDER BY r.place DESC LIMIT {count:d}"
        begun = self._connection.run(f"{_BEGUN} {last}", (_START, self._clinic))
        known = self._listed
        missing = [place for key, place, begin in begun if (key, begin) not in known]
        if len(missing) > _FEW:
            rows = self._connection.run(f"{_RECORD_ROW} {last}", (self._clinic,))
        elif missing:
            asked = f"{_RECORD_ROW} AND r.place = ANY(%s)"
            rows = self._connection.run(asked, (self._clinic, missing))
        else:
            rows = []
        read = {row[0]: self.entry(CLOSED, row)[1] for row in rows}
        sealed = {row[0]: bytes(row[2][:_START]) for row in rows}
        found = {
            (key, begin): known.get((key, begin)) or read.get(key)
            for key, _, begin in begun
        }
        known |= {(key, sealed[key]): entry for key, entry in read.items()}
        if len(known) > _MOST_ROWS:
            self._listed = {key: entry for key, entry in found.items() if entry}
        return [entry for entry in found.values() if entry]

    def everything(self, kind: str) -> list[tuple[str, Entry, int]]:
        """Give every document of a kind, in order, without bodies."""
        if kind == CLOSED:
            asked, given = f"{_RECORD_ROW} ORDER BY r.place", (self._clinic,)
            return [self.entry(kind, row) for row in self._connection.run(asked, given)]
        asked = f"{self._rows_of()} ORDER BY d.place"
        rows = self._connection.run(asked, (self._clinic, kind))
        return [self.entry(kind, row) for row in rows]

    def changed_since(self, kind: str, version: int) -> list[tuple[str, Entry, int]]:
        """Give the documents of a kind that were put after a version, in order."""
        asked = f"{self._rows_of()} AND d.version > %s ORDER BY d.place"
        rows = self._connection.run(asked, (self._clinic, kind, version))
        return [self.entry(kind, row) for row in rows]

    def pressing(self, count: int) -> list[tuple[str, Entry, int]]:
        """Give received records nobody acknowledged, by class, the newest first."""
        asked = (
            f"{_RECORD_ROW} AND r.is_received AND NOT r.is_acknowledged "
            f"ORDER BY r.class, r.place DESC LIMIT {count:d}"
        )
        rows = self._connection.run(asked, (self._clinic,))
        return [self.entry(CLOSED, row) for row in rows]

    def own_records(self) -> list[tuple[str, Entry, int]]:
        """Give the closed exams that were closed at this clinic itself, in order."""
        asked = f"{_RECORD_ROW} AND NOT r.is_received ORDER BY r.place"
        rows = self._connection.run(asked, (self._clinic,))
        return [self.entry(CLOSED, row) for row in rows]

    def body(self, kind: str, document_id: str, where: bytes) -> bytes:
        """Open the body of a document as it was at a version, or as it is now.

        Signed bytes never change, and a small document's body goes with its row.
        """
        sealed = self._bodies.get((kind, document_id, where))
        if sealed is None:
            is_record = kind == CLOSED
            asked = f"{_RECORD} AND k.id = %s"
            asked = asked if is_record else f"{_DOCUMENT} AND d.id = %s"
            given = (self._clinic,) if kind == CLOSED else (self._clinic, kind)
            rows = self._connection.run(asked, (*given, document_id))
            sealed = (rows[0][3] or b"") if rows else b""
            if rows:
                # Most small documents have none, which is asked once too.
                self._keep(kind, document_id, b"%d" % rows[0][1], sealed)
        if not sealed:
            return b""
        return self._sealer.open("body", kind, document_id, sealed)

    def count(self, kind: str) -> int:
        """Count the documents of a kind."""
        if kind == CLOSED:
            asked = "SELECT count(*) FROM register.record_key WHERE clinic = %s"
            return int(self._connection.run(asked, (self._clinic,))[0][0])
        asked = "SELECT count(*) FROM register.document WHERE clinic = %s AND kind = %s"
        return int(self._connection.run(asked, (self._clinic, kind))[0][0])

    def states(self, kinds: Iterable[str]) -> dict[str, tuple[int, int]]:
        """Give how many documents of each kind there are, and the highest version."""
        asked = (
            "SELECT kind, count(*), max(version) FROM register.document "
            "WHERE clinic = %s AND kind = ANY(%s) GROUP BY kind"
        )
        wanted = list(kinds)
        rows = self._connection.run(asked, (self._clinic, wanted))
        found = {kind: (count, version) for kind, count, version in rows}
        return {kind: found.get(kind, (0, 0)) for kind in wanted}

    def numbered(self, device_id: str, number: int) -> frozenset[str]:
        """Give the ids of the bundles to which a device gave a number."""
        asked = (
            "SELECT id FROM register.document WHERE clinic = %s AND kind = %s "
            "AND ref = %s AND number = %s"
        )
        rows = self._connection.run(asked, (self._clinic, INCOMING, device_id, number))
        return frozenset(row[0] for row in rows)

    def gaps(self, device_id: str, most: int) -> list[int]:
        """Give the numbers below a device's highest that never came, lowest first."""
        asked = """
            SELECT g.n FROM (
                SELECT number, lag(number, 1, 0) OVER (ORDER BY number) AS before
                FROM (SELECT DISTINCT number FROM register.document
                    WHERE clinic = %s AND kind = %s AND ref = %s) AS come
            ) AS pairs, LATERAL generate_series(before + 1, number - 1) AS g (n)
            WHERE number > before + 1 ORDER BY g.n LIMIT %s"""
        rows = self._connection.run(asked, (self._clinic, INCOMING, device_id, most))
        return [row[0] for row in rows]

    def noted(self, exam_ids: Sequence[str]) -> dict[str, int]:
        """Give how many notes each exam has, of those with any."""
        asked = (
            "SELECT ref, count(*) FROM register.document WHERE clinic = %s "
            "AND kind = 'notes' AND ref = ANY(%b) GROUP BY ref"
        )
        rows = self._connection.run(asked, (self._clinic, list(exam_ids)))
        return dict(rows)

    def marked(self, marks: Sequence[str]) -> dict[str, frozenset[str]]:
        """Give, by mark, the ids of the animals that bear it."""
        values = {mark: set(self._sealer.marks(mark)) for mark in marks}
        asked = "SELECT id, terms FROM register.animals_marked(%s::bigint[])"
        every = [value for one in values.values() for value in sorted(one)]
        rows = self._connection.run(asked, (every,)) if every else []
        return {
            mark: frozenset(key for key, terms in rows if not blind.isdisjoint(terms))
            for mark, blind in values.items()
        }

    def with_words(self, words: Sequence[str], limit: int) -> list[Entry]:
        """Give animals that hold every word; where none does, that may begin so."""
        whole, begun = self._sealer.words(words), self._sealer.beginnings(words)
        joined = self._sealer.words(["".join(words)]) if len(words) > 1 else []
        found = self._animals((*whole, *joined), limit)
        if not found and begun:
            # All that begin so are meant where no more than the beginning was typed.
            is_all = all(len(word) == BEGINNING for word in words)
            most = limit if is_all else MOST_LOOKED_AT
            found = self._animals(begun, most, is_begun=True)
        return [entry for _, entry in sorted(found.values(), key=lambda one: one[0])]

    def _animals(
        self, ways: Sequence[Sequence[int]], most: int, *, is_begun: bool = False
    ) -> dict[str, tuple[int, Entry]]:
        found: dict[str, tuple[int, Entry]] = {}
        for terms in ways:
            if terms and len(found) < most:
                is_alone = is_begun and len(terms) == 1
                given: object = terms[0] if is_alone else list(terms)
                asked = _BEGINNING if is_alone else _WITH
                for key, place, sealed in self._connection.run(asked, (given, most)):
                    entry = self.entry(ANIMALS, (key, place, sealed, None))[1]
                    found.setdefault(key, (place, entry))
        return found

    def _rows_of(self) -> str:
        return _DOCUMENT.replace("d.body", "NULL")

    def _keep(self, kind: str, document_id: str, where: bytes, sealed: bytes) -> None:
        self._bodies[kind, document_id, where] = sealed
        if len(self._bodies) > _MOST_BODIES:
            self._bodies.popitem(last=False)

"""The sealed tables behave as TinyDB's own tables on its memory storage do."""

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tinydb import Query, TinyDB, where
from tinydb.storages import MemoryStorage
from tinydb.table import Document, Table

from exam_app.store.engine.documents import Bodies, decode_document, encode_document
from exam_app.store.engine.format import MOVE, NEW, PUT, REMOVE, Line
from exam_app.store.engine.index import TableRows, decode_index, encode_index
from exam_app.store.engine.tables import SealedTables
from exam_app.store.errors import (
    DocumentDamagedError,
    UnstorableValueError,
    VaultDamagedError,
)
from tests.samples import examples
from tests.store_disks import MemoryFile
from tests.store_journals import BODIES, begun, reread, written_anew

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
leaves = st.none() | st.booleans() | st.integers(-(2**63) + 1, 2**63 - 1) | texts
values = st.recursive(
    leaves,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3)
    ),
    max_leaves=6,
)
fields = st.sampled_from("abcd")
documents = st.dictionaries(fields, values | st.integers(0, 2), max_size=4)
ids = st.sampled_from(["x1", "x2", "x3", "7f" * 16])
small = st.integers(0, 2)


def fails_on_three(value):
    return isinstance(value, int) and value > 1


conditions = st.one_of(
    st.builds(lambda f: where(f).exists(), fields),
    st.builds(lambda f, v: where(f) == v, fields, small | leaves),
    st.builds(lambda f, v: where(f) != v, fields, small),
    st.builds(lambda f, g, v: where(f)[g] == v, fields, texts, leaves),
    st.builds(lambda f, v: where(f).any([v]), fields, leaves),
    st.builds(lambda f, v: where(f).one_of([v, 1]), fields, leaves),
    st.builds(lambda f: where(f).test(fails_on_three), fields),
    st.builds(lambda f: where(f).map(str) == "1", fields),
    st.builds(
        lambda d: Query().fragment(d), st.dictionaries(fields, small, max_size=2)
    ),
    st.builds(lambda f, g: where(f).exists() & ~where(g).exists(), fields, fields),
    st.builds(lambda f, v: (where(f) == v) | Query().noop(), fields, small),
)
# These raise on some documents, in both alike.
raising = st.one_of(
    st.builds(lambda f, v: where(f) >= v, fields, small),
    st.builds(lambda f: where(f).fragment({"q": 1}), fields),
)
changes = st.lists(
    st.one_of(
        st.tuples(st.just("insert"), st.none(), documents),
        st.tuples(st.just("insert several"), st.none(), documents),
        st.tuples(st.just("upsert"), ids, documents),
        st.tuples(st.just("upsert where"), conditions, documents),
        st.tuples(st.just("update"), ids, documents),
        st.tuples(st.just("update where"), conditions, documents),
        st.tuples(st.just("update by a function"), conditions, fields),
        st.tuples(st.just("remove"), ids, st.none()),
        st.tuples(st.just("remove where"), conditions, st.none()),
        st.tuples(st.just("failing update"), ids, st.none()),
        st.tuples(st.just("truncate"), st.none(), st.none()),
        st.tuples(st.just("reopen"), st.none(), st.none()),
        st.tuples(st.just("write anew"), st.none(), st.none()),
    ),
    max_size=14,
)


class TextIdTable(Table):
    """TinyDB's table with text ids that are never used twice."""

    document_id_class = str
    last = 0

    def _get_next_id(self):
        self.last += 1
        return str(self.last)


class Faulty(Exception):  # noqa: N818
    pass


def spoil(document):
    document["half"] = "edit"
    raise Faulty


CHANGES = {
    "insert": lambda table, _, value: table.insert(value),
    "insert several": lambda table, _, value: table.insert_multiple([value] * 2),
    "upsert": lambda table, key, value: table.upsert(Document(value, doc_id=key)),
    "upsert where": lambda table, condition, value: table.upsert(value, condition),
    "update": lambda table, key, value: table.update(value, doc_ids=[key]),
    "update where": lambda table, condition, value: table.update(value, condition),
    "update by a function": lambda table, condition, field: table.update(
        lambda document: document.pop(field, None), condition
    ),
    "remove": lambda table, key, _: table.remove(doc_ids=[key]),
    "remove where": lambda table, condition, _: table.remove(condition),
    "truncate": lambda table, *_: table.truncate(),
}


def outcome(table, step):
    """What a change gives, or the class of what it raises."""
    try:
        kind, target, value = step
        return CHANGES[kind](table, target, copy.deepcopy(value))
    except (TypeError, KeyError, ValueError) as error:
        return type(error)


def shown(table):
    return [(document.doc_id, dict(document)) for document in table]


def answer(ask, table, condition):
    try:
        return ask(table, condition)
    except TypeError as error:
        return str(error)


def check(sealed, model, condition):
    assert shown(sealed) == shown(model)
    assert len(sealed) == len(model)
    for ask in (Table.search, Table.count, Table.contains, Table.get):
        assert answer(ask, sealed, condition) == answer(ask, model, condition)
    assert sealed.get(doc_id="x1") == model.get(doc_id="x1")
    assert sealed.get(doc_ids=["x1", "x3"]) == model.get(doc_ids=["x1", "x3"])


def fuzz(steps, condition, head_fields):
    opened = begun()

    def table_of(opened):
        tables = SealedTables(storage=lambda: opened.storage)
        return tables.open_table("animals", head_fields=head_fields)

    sealed = table_of(opened)
    model = TextIdTable(MemoryStorage(), "animals", cache_size=0)
    for step in steps:
        if step[0] == "reopen":
            opened = reread(bytes(opened.file.content), opened.mark)
            sealed = table_of(opened)
        elif step[0] == "write anew":
            opened = written_anew(opened)
            sealed = table_of(opened)
        elif step[0] == "failing update":
            # TinyDB's memory storage keeps the half edit; the sealed one must not.
            if sealed.contains(doc_id=step[1]):
                with pytest.raises(Faulty):
                    sealed.update(spoil, doc_ids=[step[1]])
        else:
            assert outcome(sealed, step) == outcome(model, step)
        check(sealed, model, condition)
    assert opened.audit().is_sound
    again = reread(bytes(opened.file.content), opened.mark)
    assert shown(table_of(again)) == shown(model)


@settings(max_examples=examples(200), deadline=None)
@given(changes, conditions | raising, st.sets(fields))
def test_any_changes_give_what_the_memory_storage_gives(steps, condition, in_head):
    fuzz(steps, condition, in_head)


@pytest.mark.exhaustive
@settings(max_examples=4000, deadline=None, database=None)
@given(changes, conditions | raising, st.sets(fields))
def test_thousands_of_changes_give_what_the_memory_storage_gives(
    steps, condition, in_head
):
    fuzz(steps, condition, in_head)


def test_plain_tinydb_with_its_own_tables_works_on_the_storage():
    opened = begun()
    sealed = TinyDB(storage=lambda: opened.storage)
    model = TinyDB(storage=MemoryStorage)
    for database in (sealed, model):
        table = database.table("visits", cache_size=0)
        table.insert_multiple({"number": number} for number in range(5))
        table.update({"seen": True}, where("number") > 2)
        table.remove(where("number") == 0)
        table.truncate()
        table.insert({"number": 9})
        database.table("empty").truncate()
        database.insert({"default": "table"})
    assert sealed.tables() == model.tables()
    for name in model.tables():
        assert shown(sealed.table(name)) == shown(model.table(name))
    sealed.drop_table("visits")
    assert sealed.tables() == {"_default", "empty"}
    again = reread(opened.file, opened.mark)
    assert set(again.storage.read()) == {"_default", "empty"}
    sealed.drop_tables()
    assert sealed.tables() == set()


def test_dropping_a_table_leaves_the_heads_of_the_others():
    opened = begun()
    opened.table("drafts").put("e1", {"name": "Demo", "draft": {"a": 1}})
    opened.table("closed").put("e2", {"name": "Demo"})
    tables = SealedTables(storage=lambda: opened.storage)
    tables.drop_table("closed")
    assert opened.table("drafts").rows() == [("e1", {"name": "Demo"})]
    assert opened.table("drafts").fetch("e1") == {"name": "Demo", "draft": {"a": 1}}


def test_number_of_a_removed_document_is_never_used_again():
    opened = begun()
    table = opened.table()
    assert [table.insert({}) for _ in range(3)] == ["1", "2", "3"]
    table.remove(doc_ids=["3"])
    opened = reread(opened.file, opened.mark)
    assert opened.table().insert({}) == "4"
    opened.table().truncate()
    opened = written_anew(opened)
    assert opened.table().insert({}) == "5"


def test_query_on_fields_of_the_head_opens_no_body(monkeypatch):
    opened = begun()
    for number in range(5):
        opened.table().put(f"e{number}", {"number": number, "draft": {"text": "x"}})
    bodies = []
    real = Bodies.open

    def counted(self, table, document_id, sealed, tag):
        bodies.append(document_id)
        return real(self, table, document_id, sealed, tag)

    monkeypatch.setattr(Bodies, "open", counted)
    assert opened.table().count(where("number") == 3) == 1
    assert bodies == ["e3"]
    assert opened.table().contains(where("number") > 9) is False
    assert opened.table().rows()[4] == ("e4", {"number": 4})
    assert bodies == ["e3"]


def test_query_that_meets_a_damaged_document_is_not_swallowed():
    opened = begun()
    opened.table().put("e1", {"draft": {"text": "x"}})
    opened.file.content[-1] ^= 1
    with pytest.raises(DocumentDamagedError):
        opened.table().search(where("draft")["text"] == "x")


@given(
    st.dictionaries(
        st.from_regex(r"[a-z_][a-z0-9_]{0,8}", fullmatch=True),
        st.builds(
            TableRows,
            st.dictionaries(
                st.from_regex(r"[ -~]{1,9}", fullmatch=True),
                st.tuples(
                    st.sampled_from([b"", b"{}", b'{"a":"\xc3\x9f"}']),
                    st.sampled_from([b"", bytes(range(28))]),
                ),
                max_size=4,
            ),
            st.integers(1, 99),
        ),
        max_size=4,
    )
)
def test_every_index_is_read_back_with_its_order(tables):
    head, chunks = encode_index(tables, BODIES)
    file = MemoryFile(b"before" + b"".join(chunks))
    found = decode_index(head, file, 6, BODIES)
    assert list(found) == list(tables)
    for name, table in tables.items():
        entries = list(table.entries.items())
        newest = [entry for _, entry in reversed(entries)]
        assert found[name].newest(3) == newest[:3]
        assert list(found[name].entries.items()) == entries
        assert found[name].next_number == table.next_number


@settings(max_examples=examples(200))
@given(
    st.integers(0, 9),
    st.lists(st.tuples(st.sampled_from([PUT, MOVE, REMOVE]), st.integers(0, 12))),
    st.integers(0, 12),
)
def test_changes_that_wait_for_the_index_give_the_same_as_those_that_do_not(
    kept, steps, count
):
    eager = TableRows({f"d{n}": (b"%d" % n, b"") for n in range(kept)})
    parts = [list(eager.entries.items())[at : at + 2] for at in range(0, kept, 2)]
    lazy = TableRows(None, 1, [lambda part=part: dict(part) for part in parts])
    known = set(eager.entries)
    for turn, (verb, number) in enumerate(steps):
        key = f"d{number}"
        said = NEW if verb == PUT and key not in known else verb
        (known.discard if verb == REMOVE else known.add)(key)
        for rows in (eager, lazy):
            rows.change(Line(said, "t", key), (b"turn %d" % turn, b""))
    assert lazy.newest(count) == eager.newest(count)
    assert list(lazy.entries.items()) == list(eager.entries.items())
    assert lazy.newest(count) == list(reversed(lazy.entries.values()))[:count]


def test_showing_the_newest_of_many_reads_one_chunk_of_the_index():
    opened = begun()
    with opened.storage.transaction():
        for number in range(700):
            opened.table().put(f"e{number}", {"number": number})
    opened = written_anew(opened)
    again = reread(opened.file, opened.mark)
    read = []
    real = opened.file.read_at

    def counted(offset, length):
        read.append(length)
        return real(offset, length)

    opened.file.read_at = counted
    assert [row["number"] for row in again.table().newest(3)] == [699, 698, 697]
    assert len(read) == 1


@pytest.mark.parametrize("line", [b"", b"{broken", b"[1]", b"\xff"])
def test_document_that_makes_no_sense_is_refused(line):
    with pytest.raises(VaultDamagedError):
        decode_document(line)


@pytest.mark.parametrize(
    "head", [b"i{", b'i["a",1,[[1,0,0]]]', b"i[]", b"i1", b'i["a",1,7]', b"i\n"]
)
def test_index_that_makes_no_sense_is_refused(head):
    with pytest.raises(VaultDamagedError):
        decode_index(head, MemoryFile(), 0, BODIES)


@pytest.mark.parametrize(
    "value",
    [1.5, float("nan"), b"x", 2**63, -(2**63), {1: "x"}, {None: 1}, {"a"}, "\ud800"],
)
def test_what_must_not_be_stored_is_refused_at_any_depth(value):
    for shape in (lambda v: v, lambda v: [v], lambda v: {"k": (v,)}):
        with pytest.raises(UnstorableValueError):
            encode_document({"before": ["x", 1, None], "v": shape(value), "z": "x"})


@pytest.mark.parametrize("levels", [58, 59, 60, 61, 62])
def test_document_of_more_levels_than_the_page_allows_is_refused(levels):
    for shape in (lambda v: [v], lambda v: {"k": v}):
        document = "leaf"
        for _ in range(levels):
            document = shape(document)
        if levels <= 60:
            assert decode_document(encode_document({"d": document}))
        else:
            with pytest.raises(UnstorableValueError):
                encode_document({"d": document})


def test_save_that_changes_nothing_writes_nothing_also_right_after_the_one_before():
    opened = begun()
    table, journal = opened.table(), opened.storage.journal()
    for turn in range(50):
        table.put(f"d{turn}", {"exam_id": "e", "draft": {"turn": turn}})
    end = journal.end
    for turn in range(50):
        table.put(f"d{turn}", {"exam_id": "e", "draft": {"turn": turn}})
    assert journal.end == end
    for turn in (5, True, 5):
        table.put("d49", {"exam_id": "e", "draft": {"turn": turn}})
        assert journal.end > end
        assert table.fetch("d49")["draft"] == {"turn": turn}
        end = journal.end


def test_closed_storage_forgets_what_was_saved_last():
    opened = begun()
    table, storage = opened.table(), opened.storage
    table.put("d1", {"exam_id": "e", "draft": {"name": "Demo Moss"}})
    entry = storage.entry(table.name, "d1")
    assert b"Demo Moss" in storage._saved.get(table.name, "d1", entry)
    storage.close()
    assert storage._saved.get(table.name, "d1", entry) is None

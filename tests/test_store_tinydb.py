"""The sealed storage behaves as TinyDB's own memory storage does."""

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tinydb import TinyDB, where
from tinydb.storages import MemoryStorage
from tinydb.table import Document, Table

from exam_app.store.errors import (
    UnstorableValueError,
    VaultDamagedError,
    VaultTooNewError,
)
from exam_app.store.sealed_storage import SealedStorage, SealedTables
from exam_app.store.state import decode_state, encode_state
from exam_app.store.two_slots import TwoSlotBody
from tests.store_disks import MemoryFile

KEY, VAULT_ID = bytes(32), bytes(16)

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
leaves = st.none() | st.booleans() | st.integers(-(2**63) + 1, 2**63 - 1) | texts
values = st.recursive(
    leaves,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3)
    ),
    max_leaves=6,
)
documents = st.dictionaries(st.sampled_from("abcd"), values, max_size=4)
ids = st.sampled_from(["1", "2", "3", "7f" * 16])
changes = st.lists(
    st.one_of(
        st.tuples(st.just("put"), ids, documents),
        st.tuples(st.just("update"), ids, documents),
        st.tuples(st.just("update where"), st.sampled_from("abcd"), documents),
        st.tuples(st.just("remove"), ids, st.none()),
        st.tuples(st.just("remove where"), st.sampled_from("abcd"), leaves),
        st.tuples(st.just("failing update"), ids, st.none()),
        st.tuples(st.just("reopen"), st.none(), st.none()),
    ),
    max_size=12,
)


class TextIdTable(Table):
    document_id_class = str


class Faulty(Exception):  # noqa: N818
    pass


def spoil(document):
    document["half"] = "edit"
    raise Faulty


def change(table, step):
    kind, target, value = step
    if kind == "put":
        table.upsert(Document(value, doc_id=target))
    elif kind == "update":
        table.update(copy.deepcopy(value), doc_ids=[target])
    elif kind == "update where":
        table.update(copy.deepcopy(value), where(target).exists())
    elif kind == "remove":
        table.remove(doc_ids=[target])
    elif kind == "remove where":
        table.remove(where(target) == value)


def shown(table):
    return [(document.doc_id, dict(document)) for document in table]


def opened(files):
    body = TwoSlotBody(files, KEY, VAULT_ID)
    storage = SealedStorage(body)
    return SealedTables(storage=lambda: storage).open_table("animals")


@settings(max_examples=150, deadline=None)
@given(changes)
def test_any_changes_give_what_the_memory_storage_gives(steps):
    files = (MemoryFile(), MemoryFile())
    TwoSlotBody(files, KEY, VAULT_ID).save(encode_state({}))
    sealed = opened(files)
    model = TextIdTable(MemoryStorage(), "animals", cache_size=0)
    for step in steps:
        if step[0] == "reopen":
            sealed = opened(files)
        elif step[0] == "failing update":
            # TinyDB's memory storage keeps the half edit; the sealed one must not.
            if sealed.contains(doc_id=step[1]):
                with pytest.raises(Faulty):
                    sealed.update(spoil, doc_ids=[step[1]])
        else:
            change(sealed, step)
            change(model, step)
        assert shown(sealed) == shown(model)
        assert len(sealed) == len(model)
        for key in "abcd":
            query = where(key) == 1
            assert sealed.search(query) == model.search(query)
            assert sealed.count(where(key).exists()) == model.count(where(key).exists())
    assert shown(opened(files)) == shown(model)


def test_plain_tinydb_with_its_own_tables_works_on_the_storage():
    files = (MemoryFile(), MemoryFile())
    TwoSlotBody(files, KEY, VAULT_ID).save(encode_state({}))
    sealed = TinyDB(storage=lambda: SealedStorage(TwoSlotBody(files, KEY, VAULT_ID)))
    model = TinyDB(storage=MemoryStorage)
    for database in (sealed, model):
        table = database.table("visits", cache_size=0)
        table.insert_multiple({"number": number} for number in range(5))
        table.update({"seen": True}, where("number") > 2)
        table.remove(where("number") == 0)
        database.insert({"default": "table"})
    assert sealed.tables() == model.tables()
    for name in model.tables():
        assert shown(sealed.table(name)) == shown(model.table(name))
    assert sealed.table("visits").insert({}) == model.table("visits").insert({})
    sealed.drop_table("visits")
    assert sealed.tables() == {"_default"}


def test_query_that_raises_a_store_error_is_not_swallowed():
    files = (MemoryFile(), MemoryFile())
    lines = {"a": b"{broken"}
    TwoSlotBody(files, KEY, VAULT_ID).save(encode_state({"animals": lines}))
    with pytest.raises(VaultDamagedError):
        opened(files).search(where("name") == "Demo")


def test_document_without_its_own_id_is_refused():
    files = (MemoryFile(), MemoryFile())
    TwoSlotBody(files, KEY, VAULT_ID).save(encode_state({}))
    with pytest.raises(UnstorableValueError):
        opened(files).insert({"name": "Demo"})


@given(
    st.dictionaries(
        st.from_regex(r"[a-z_][a-z0-9_]{0,8}", fullmatch=True),
        st.dictionaries(
            st.from_regex(r"[ -~]{1,9}", fullmatch=True),
            st.sampled_from([b"{}", b'{"a":"\xc3\x9f"}']),
            max_size=4,
        ),
        max_size=4,
    )
)
def test_every_state_is_read_back_with_its_order(tables):
    found = decode_state(encode_state(tables))
    assert found == tables
    assert list(found) == list(tables)
    for name, table in tables.items():
        assert list(found[name]) == list(table)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n",
        b"state 1",
        b"state x\n",
        b"state 1\nanimals\tid\n",
        b"{}\n",
        b"\xff\n",
    ],
)
def test_state_that_makes_no_sense_is_refused(content):
    with pytest.raises(VaultDamagedError):
        decode_state(content)


def test_state_of_a_newer_version_is_refused():
    with pytest.raises(VaultTooNewError):
        decode_state(b"state 2\nanything\n")

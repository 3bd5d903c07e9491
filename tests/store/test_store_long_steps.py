"""Long steps work in small parts, so that the page is never held while one runs.

A thread beside the event loop gives way between two parts only: one sort, one joining
or one comparing of everything kept would hold the page for as long as it takes.
"""

import random
import zlib
from array import array

import pytest

from exam_app.store.engine.format import FrameKeys, Mark, derive_frame_keys
from exam_app.store.engine.index import DOCUMENTS_IN_A_CHUNK
from exam_app.store.engine.kept_lists import Listed, make_pages
from exam_app.store.engine.read_files import MemoryPart
from exam_app.store.engine.replay import replay
from exam_app.store.engine.rewrite import write_anew
from exam_app.store.engine.table_rows import TableRows
from exam_app.store.vault.audit import _agree, audit

KEYS: FrameKeys = derive_frame_keys(bytes(32), bytes(16), bytes(range(16)))
COUNT = 6_000


def rows_of(count, shift=0):
    """Rows of some hundred bytes, as those of closed exams, without bodies."""
    return {
        f"{number:032x}": (
            b'{"exam_id":"%032x","find":"%b"}' % (number + shift, b"vetch " * 30),
            b"",
        )
        for number in range(count)
    }


class Watched(MemoryPart):
    """A file in memory that keeps how much was written at once."""

    __slots__ = ("writes",)

    def __init__(self):
        super().__init__()
        self.writes = []

    def write_at(self, offset, content):
        self.writes.append(len(content))
        super().write_at(offset, content)


def test_index_is_written_a_part_at_a_time_and_reads_back():
    file = Watched()
    made = write_anew(file, KEYS, {"closed": TableRows(rows_of(COUNT))}, lambda *_: b"")
    in_a_chunk = file.size() // (COUNT // DOCUMENTS_IN_A_CHUNK)
    assert file.size() > 1_500_000
    assert max(file.writes) < 2**18 + 2 * in_a_chunk
    mark = Mark(made.index_offset, made.sequence, made.tag)
    found = replay(file, KEYS, mark)
    assert found.tables["closed"].entries == rows_of(COUNT)
    assert audit(file, KEYS, made.end, made.tables).is_sound


@pytest.mark.parametrize("where", [0, 100, COUNT - 1])
def test_tables_that_differ_in_one_place_do_not_agree(where):
    kept, other = rows_of(COUNT), rows_of(COUNT)
    assert _agree({"a": TableRows(kept)}, {"a": TableRows(dict(kept))})
    key = f"{where:032x}"
    other[key] = (b"{}", b"")
    assert not _agree({"a": TableRows(kept)}, {"a": TableRows(other)})


def test_tables_with_more_fewer_or_turned_rows_do_not_agree():
    kept = rows_of(COUNT)
    fewer = dict(list(kept.items())[:-1])
    turned = dict(reversed(list(kept.items())))
    for other in (fewer, turned, {}):
        assert not _agree({"a": TableRows(kept)}, {"a": TableRows(other)})
        assert not _agree({"a": TableRows(other)}, {"a": TableRows(kept)})
    empty = {"a": TableRows({})}
    assert _agree(empty, {"a": TableRows({})})
    assert not _agree(empty, {})
    assert not _agree(empty, {"b": TableRows({})})
    two = {"a": TableRows(kept), "b": TableRows(kept)}
    assert not _agree(two, {"b": TableRows(kept), "a": TableRows(kept)})


def sorted_at_once(pairs):
    """The lists as one sort makes them: what the parts must add up to."""
    ordered = sorted((zlib.crc32(fragment), place) for fragment, place in pairs)
    hashes = array("I", [one for one, _ in ordered])
    places = array("I", [place for _, place in ordered])
    for numbers in (hashes, places):
        assert numbers.itemsize == 4
    return hashes.tobytes() + places.tobytes()


def test_lists_sorted_in_parts_are_those_of_one_sort():
    chance = random.Random(6)
    entries = {
        f"{chance.randrange(2**128):032x}": (b'{"exam_id":"%d"}' % (n % 700), b"")
        for n in range(COUNT)
    }
    pages = make_pages({"closed": entries}, {"closed": Listed(("exam_id",))})
    ids = [(key.encode(), place) for place, key in enumerate(entries)]
    assert pages["closed/by/"] == sorted_at_once(ids)
    fields = [(b'"exam_id":"%d"' % (n % 700), n) for n in range(COUNT)]
    assert pages["closed/by/exam_id"] == sorted_at_once(fields)

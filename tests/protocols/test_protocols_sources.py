"""No number of any protocol without its source; how many were read, how many recalled.

A limit needs a source in the protocol and a line in a table of the tests, written from
that source. Tables stand in the modules ``test_protocols_*`` under the species' name in
capitals. A number in the words of a sign or a caution needs a source that was read, or
its place among the recalled ones listed here.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from importlib import import_module
from itertools import chain
from pathlib import Path

import pytest

from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.protocols.loader import available, load_protocol

DIGIT = re.compile(r"\d")
# Common practice, no source: numbers in words, by the sign or caution that holds them.
RECALLED_WORDS = {
    ("cat", "bite"),
    ("dog", "bite"),
    ("pig", "bite"),
    ("rabbit", "bite"),
    ("ferret", "bite"),
    ("guinea_pig", "bite"),
}


def printed_tables() -> dict[str, Mapping[str, object]]:
    """Return the tests' own tables by species."""
    found = {}
    for path in sorted(Path(__file__).parent.glob("test_protocols_*.py")):
        if path.stem != Path(__file__).stem:
            named = vars(import_module(f"tests.protocols.{path.stem}"))
            found |= {s: named[s.upper()] for s in available() if s.upper() in named}
    return found


def without_source(
    protocol: SpeciesProtocol, table: Mapping[str, object]
) -> Iterator[str]:
    """Yield every number that no source, or no line of a test's table, stands for."""
    sources = {s.source_id: s for s in protocol.sources}
    numbered = (
        *((f"limit {i.interval_id}", i.source_id) for i in protocol.intervals),
        *((f"scale {s.scale_id}", s.source_id) for s in protocol.scales),
        *((f"sign {s.sign_id}", s.source_id) for s in protocol.urgent_signs),
        *((f"caution {c.caution_id}", c.source_id) for c in protocol.cautions),
        *((f"vital {v.vital_id}", v.source_id) for v in protocol.vitals),
        *((f"region {r.region_id}", r.source_id) for r in protocol.regions),
    )
    for name, source_id in numbered:
        source = sources.get(source_id)
        if source is None or not source.title.strip():
            yield f"{name}: no source {source_id!r}"
        elif source.provenance == "read" and not (source.url or source.where):
            yield f"{name}: {source_id!r} was read, but not said where"
    for row in protocol.intervals:
        if row.interval_id not in table:
            yield f"limit {row.interval_id}: no line in a test's table"


def recalled_words(protocol: SpeciesProtocol) -> set[tuple[str, str]]:
    """Return the signs and cautions whose numbers rest on nothing that was read."""
    read = {s.source_id for s in protocol.sources if s.provenance == "read"}
    signs = (
        (s.sign_id, s.label + s.plain + s.action + s.below + s.above, s.source_id)
        for s in protocol.urgent_signs
    )
    cautions = ((c.caution_id, c.text, c.source_id) for c in protocol.cautions)
    return {
        (protocol.species, name)
        for name, words, source_id in chain(signs, cautions)
        if DIGIT.search(words) and source_id not in read
    }


def counted(protocol: SpeciesProtocol) -> dict[str, tuple[int, int]]:
    """Count numbers as (read, recalled): ends of limits, limits of signs, grades.

    A span worked out here counts as read: every source of it was.
    """
    provenance = {s.source_id: s.provenance for s in protocol.sources}
    numbers = {
        "limits": [
            row.provenance
            for row in protocol.intervals
            for end in (row.low, row.high)
            if end is not None
        ],
        "urgent": [
            provenance[sign.source_id]
            for sign in protocol.urgent_signs
            for end in (sign.below, sign.above)
            if end
        ],
        "grades": [s.provenance for s in protocol.scales for _ in s.grades],
    }
    return {
        kind: (len(found) - found.count("memory"), found.count("memory"))
        for kind, found in numbers.items()
    }


@pytest.fixture(params=available())
def protocol(request):
    return load_protocol(request.param).protocol


def test_no_number_is_without_a_source_row(protocol):
    table = printed_tables().get(protocol.species, {})
    assert list(without_source(protocol, table)) == []


def test_number_in_words_was_read_or_is_listed_as_recalled(protocol):
    expected = {named for named in RECALLED_WORDS if named[0] == protocol.species}
    assert recalled_words(protocol) == expected


def test_missing_source_is_found_wherever_its_number_stands(protocol):
    table = printed_tables()[protocol.species]
    for row in protocol.intervals:
        kept = tuple(s for s in protocol.sources if s.source_id != row.source_id)
        found = without_source(replace(protocol, sources=kept), table)
        assert f"limit {row.interval_id}: no source {row.source_id!r}" in found


def test_limit_that_no_table_holds_is_found(protocol):
    made_up = replace(protocol.intervals[0], interval_id="made_up")
    more = replace(protocol, intervals=(*protocol.intervals, made_up))
    found = list(without_source(more, printed_tables()[protocol.species]))
    assert found == ["limit made_up: no line in a test's table"]


def test_values_read_and_recalled_are_printed_for_every_species():
    lines = ["", "numbers in the protocols: read / recalled"]
    read = recalled = 0
    for species in available():
        counts = counted(load_protocol(species).protocol)
        read += sum(pair[0] for pair in counts.values())
        recalled += sum(pair[1] for pair in counts.values())
        shown = ", ".join(f"{kind} {a} / {b}" for kind, (a, b) in counts.items())
        lines.append(f"{species:>12}: {shown}")
    lines.append(f"{'together':>12}: {read} / {recalled}")
    print("\n".join(lines))
    every = [load_protocol(species).protocol for species in available()]
    ends = sum(
        (row.low is not None) + (row.high is not None)
        for protocol in every
        for row in protocol.intervals
    )
    grades = sum(len(s.grades) for protocol in every for s in protocol.scales)
    urgent = sum(bool(s.below) + bool(s.above) for p in every for s in p.urgent_signs)
    assert read + recalled == ends + grades + urgent
    assert recalled < read

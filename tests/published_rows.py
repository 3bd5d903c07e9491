"""Hold a species' limits against tables written from the sources, one line a row.

A table maps the protocol's row id to ``Printed``: the numbers as the source prints
them, what they are compared with, and the title of the source. Temperatures that a
source prints in Fahrenheit only are written in Fahrenheit and converted here.
"""

import itertools
from collections.abc import Iterator, Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from exam_app.domain.exam.vitals import RateState, Setting
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.intervals import (
    Flag,
    ReferenceInterval,
    applicable,
    flag_reading,
    is_limit,
)
from exam_app.domain.protocol.protocol import Source, SpeciesProtocol
from exam_app.protocols.loader import available, load_protocol

ANY: frozenset[str] = frozenset()
TENTH = Decimal("0.1")


class Printed(NamedTuple):
    """One row as its source prints it, and what it is compared with.

    Attributes:
        unit: Unit of ``low`` and ``high`` as printed; ``degF`` is converted.
    """

    low: str | None
    high: str | None
    unit: str
    life_stages: frozenset[str]
    title: str
    settings: frozenset[str] = ANY
    states: frozenset[str] = ANY
    statistic: str = "range"
    provenance: str = "read"


class ValueSign(NamedTuple):
    """An urgent sign that a value or a grade opens by itself."""

    vital_id: str
    below: str
    above: str
    life_stages: frozenset[str]
    title: str


def source_of(protocol: SpeciesProtocol, source_id: str) -> Source:
    """Return the source of that id."""
    return next(s for s in protocol.sources if s.source_id == source_id)


def full_title(protocol: SpeciesProtocol, source_id: str) -> str:
    """Return a source's title as printed."""
    source = source_of(protocol, source_id)
    return source.work or source.title


def row_of(protocol: SpeciesProtocol, row_id: str) -> ReferenceInterval:
    """Return the published row of that id."""
    return next(i for i in protocol.intervals if i.interval_id == row_id)


def celsius(fahrenheit: str) -> Decimal:
    """Convert a printed Fahrenheit figure, rounded to a tenth of a degree."""
    exact = (Decimal(fahrenheit) - 32) * 5 / 9
    return exact.quantize(TENTH, ROUND_HALF_UP)


def assert_row_is_as_printed(species: str, row_id: str, printed: Printed) -> None:
    """Compare every part of a row with what its source prints."""
    protocol = load_protocol(species).protocol
    row = row_of(protocol, row_id)
    ends = [
        None
        if end is None
        else celsius(end)
        if printed.unit == "degF"
        else Decimal(end)
        for end in (printed.low, printed.high)
    ]
    assert [row.low, row.high] == ends
    assert row.unit == ("degC" if printed.unit == "degF" else printed.unit)
    assert set(row.life_stages) == printed.life_stages
    assert set(row.settings) == printed.settings
    assert set(row.states) == printed.states
    assert row.statistic == printed.statistic
    assert row.provenance == printed.provenance
    assert full_title(protocol, row.source_id) == printed.title


def assert_every_limit_is_in(species: str, table: Mapping[str, Printed]) -> None:
    """Refuse a limit that the table does not have, and a row that is no limit."""
    rows = load_protocol(species).protocol.intervals
    assert {row.interval_id for row in rows} == set(table)
    assert all(is_limit(row) for row in rows)


def counted_provenance(species: str) -> tuple[int, int]:
    """Return how many limits of a species were read and how many recalled; print it."""
    rows = load_protocol(species).protocol.intervals
    read = sum(row.provenance == "read" for row in rows)
    recalled = sum(row.provenance == "memory" for row in rows)
    print(f"{species}: {read} limits read, {recalled} from memory")
    return read, recalled


def value_signs(species: str) -> Mapping[str, ValueSign]:
    """Return the urgent signs that a value opens, as the protocol has them."""
    protocol = load_protocol(species).protocol
    return {
        sign.sign_id: ValueSign(
            sign.vital_id,
            sign.below,
            sign.above,
            frozenset(sign.life_stages),
            full_title(protocol, sign.source_id),
        )
        for sign in protocol.urgent_signs
        if sign.vital_id
    }


def flag(
    species: str,
    measure_id: str,
    value: str,
    life_stage: str,
    setting: str,
    state: str = "",
) -> Flag:
    """Flag a value of a species as an exam would."""
    protocol = load_protocol(species).protocol
    vital = protocol.vital(measure_id)
    assert vital is not None
    assert vital.measure is not None
    rows = applicable(protocol.intervals, measure_id, life_stage, setting, state)
    return flag_reading(
        Decimal(value), vital.measure, rows, None, protocol.source_titles()
    )


def compared_together() -> Iterator[tuple[str, Measure, tuple[ReferenceInterval, ...]]]:
    """Yield every set of rows that some age, place and state compares, each once."""
    for species in available():
        protocol = load_protocol(species).protocol
        measures = [vital.measure for vital in protocol.vitals if vital.measure]
        seen = set()
        for measure, stage, setting, state in itertools.product(
            measures, protocol.life_stages, Setting, ("", *RateState)
        ):
            rows = applicable(
                protocol.intervals, measure.measure_id, stage.stage_id, setting, state
            )
            if rows and rows not in seen:
                seen.add(rows)
                yield species, measure, rows

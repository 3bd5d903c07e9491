"""Published tables that belong to no exam protocol: weight rules and pregnancies.

They come with the program and name their sources; nothing in them is a limit.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

from exam_app.domain.animal.due_dates import PregnancyWindow
from exam_app.domain.protocol.protocol import Source
from exam_app.domain.protocol.weight_rules import TapeMeasure, WeightRule
from exam_app.protocols.codec import structure

_FOLDER = "exam_app.protocols"
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class WeightTables:
    """Every rule, every length they ask for, and what has no rule, by species."""

    rules: tuple[WeightRule, ...]
    measures: Mapping[str, TapeMeasure]
    missing: Mapping[str, tuple[str, ...]]

    def for_species(self, species: str) -> tuple[WeightRule, ...]:
        """Return the rules of a species, as the file orders them."""
        return tuple(rule for rule in self.rules if rule.species == species)


@cache
def weight_tables() -> WeightTables:
    """Return the published rules for a tape."""
    table = _read("weight_rules.toml")
    measures = _all(TapeMeasure, table["measures"])
    missing: dict[str, tuple[str, ...]] = {}
    for row in table["missing"]:
        species = row["species"]
        missing[species] = (*missing.get(species, ()), row["text"])
    by_id = {measure.measure_id: measure for measure in measures}
    return WeightTables(_all(WeightRule, table["rules"]), by_id, missing)


@cache
def pregnancy_windows(species: str) -> tuple[PregnancyWindow, ...]:
    """Return every published length of pregnancy of a species; may be empty.

    Raises:
        ValueError: A row is neither a window nor one number.
    """
    windows = _all(PregnancyWindow, _read("gestation.toml")["windows"])
    for window in windows:
        if window.problem:
            msg = f"{window.species}, {window.source_id}: {window.problem}"
            raise ValueError(msg)
    return tuple(window for window in windows if window.species == species)


@cache
def table_sources() -> dict[str, Source]:
    """Return the sources of tables and sums by id."""
    sources = _all(Source, _read("sources.toml")["sources"])
    return {source.source_id: source for source in sources}


def _read(name: str) -> Mapping[str, Any]:
    text = files(_FOLDER).joinpath("tables", name).read_text("utf-8")
    return tomllib.loads(text, parse_float=Decimal)


def _all(kind: type[_T], rows: list[Any]) -> tuple[_T, ...]:
    return tuple(structure(kind, row) for row in rows)

"""Load species protocols: those that come with the program, and a practice's own.

A loaded protocol carries its content: one self-contained text that a record names by
its hash and a clinic that lacks it can be handed. The hash is of exactly these bytes.

A file is completed first. A clause without scopes holds in every scope of its region,
and a published row without life stages, settings or states for any of them; a shared
scale, caution or source is added only when the file uses it; the file's own entry of
the same id wins, so that a practice can word a scale its own way; a unit that the file
brings goes to every measure that names it.

A practice's own files stand in a folder, each in a species' place. One with a fault is
not used and hides nothing: the protocol that comes with the program stands in, and
every fault is told. Exams already begun keep the protocol they named, by its hash.

Published tables that belong to no exam protocol, weight rules and pregnancies, come
with the program too and name their sources; nothing in them is a limit.
"""

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache, lru_cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

from exam_app.domain.animal.due_dates import PregnancyWindow
from exam_app.domain.protocol.protocol import Source, SpeciesProtocol
from exam_app.domain.protocol.weight_rules import TapeMeasure, WeightRule
from exam_app.protocols.codec import (
    Fault,
    ProtocolFileError,
    Raw,
    in_this_format,
    read_content,
    structure,
    structure_protocol,
    tables,
    write_content,
)
from exam_app.protocols.validate import check_protocol
from exam_app.protocols.validate_vitals import unit_faults

SHARED_KINDS = ("scales", "cautions", "sources")
_PACKAGE = "exam_app.protocols"
_MAX_BYTES = 2_000_000
FOLDER_NAME = "protocols"


@dataclass(frozen=True, slots=True)
class LoadedProtocol:
    """A checked protocol with the text that records name.

    Attributes:
        content: The whole protocol as one canonical text in UTF-8.
        content_hash: SHA-256 of ``content``, as 64 hexadecimal digits.
    """

    protocol: SpeciesProtocol
    content: bytes
    content_hash: str


def available() -> tuple[str, ...]:
    """Return the species that come with the program, in alphabetical order."""
    shared = {f"{kind}.toml" for kind in SHARED_KINDS}
    names = (entry.name for entry in files(_PACKAGE).iterdir())
    return tuple(
        sorted(
            name.removesuffix(".toml")
            for name in names
            if name.endswith(".toml") and name not in shared
        )
    )


@cache
def load_protocol(species: str) -> LoadedProtocol:
    """Return the protocol that comes with the program for a species.

    Raises:
        ProtocolFileError: There is none for that species, or it has faults.
    """
    name = f"{species}.toml"
    if species not in available():
        known = ", ".join(available())
        raise ProtocolFileError.of(name, "(file)", f"not found; there are: {known}")
    return load_bytes(name, files(_PACKAGE).joinpath(name).read_bytes())


def load_file(path: Path) -> LoadedProtocol:
    """Return a practice's own protocol.

    Raises:
        ProtocolFileError: The file cannot be read or has faults.
    """
    try:
        toml_bytes = path.read_bytes()
    except OSError as error:
        told = error.strerror or "cannot be read"
        raise ProtocolFileError.of(path.name, "(file)", told) from error
    return load_bytes(path.name, toml_bytes)


# A folder is read again at every look; a file that is the same is not checked again.
@lru_cache(maxsize=64)
def load_bytes(name: str, toml_bytes: bytes) -> LoadedProtocol:
    """Return the protocol of a TOML text, with the shared parts it uses.

    Args:
        name: File name, for the faults.
        toml_bytes: The text in UTF-8, at most 2 MB.

    Raises:
        ProtocolFileError: The text has faults; all of them are listed.
    """
    raw = dict(_read_toml(name, toml_bytes))
    written = raw.pop("format", 1)
    whole = in_this_format(name, _complete(raw, _shared()), written)
    protocol = structure_protocol(name, whole)
    _refuse_faults(name, protocol, unit_faults(protocol))
    content = write_content(protocol)
    return LoadedProtocol(protocol, content, sha256(content).hexdigest())


def load_content(content: bytes, name: str = "protocol content") -> LoadedProtocol:
    """Return the protocol of a content, keeping its bytes and so its hash.

    Raises:
        ProtocolFileError: The content has faults, or is no content.
        ProtocolTooNewError: A later version of the program wrote it.
    """
    _refuse_size(name, content)
    protocol = structure_protocol(name, read_content(name, content))
    _refuse_faults(name, protocol)
    return LoadedProtocol(protocol, content, sha256(content).hexdigest())


def _refuse_faults(
    name: str, protocol: SpeciesProtocol, more: Iterable[tuple[str, str]] = ()
) -> None:
    """Refuse a protocol with faults; ``more`` are those of a file that is new here."""
    found = (Fault(name, key, reason) for key, reason in more)
    problems = (*check_protocol(name, protocol), *found)
    if problems:
        raise ProtocolFileError(name, problems)


def _refuse_size(name: str, content: bytes) -> None:
    if len(content) > _MAX_BYTES:
        raise ProtocolFileError.of(name, "(file)", f"more than {_MAX_BYTES} bytes")


def _read_toml(name: str, toml_bytes: bytes) -> Mapping[str, Any]:
    _refuse_size(name, toml_bytes)
    try:
        return tomllib.loads(toml_bytes.decode(), parse_float=Decimal)
    except (ValueError, RecursionError) as error:
        told = f"no TOML in UTF-8: {error}"
        raise ProtocolFileError.of(name, "(file)", told) from error


@cache
def _shared() -> Mapping[str, list[Raw]]:
    shared: dict[str, list[Raw]] = {}
    for kind in SHARED_KINDS:
        name = f"{kind}.toml"
        table = _read_toml(name, files(_PACKAGE).joinpath(name).read_bytes())
        shared[kind] = list(table[kind])
    return shared


def _complete(raw: Mapping[str, Any], shared: Mapping[str, list[Raw]]) -> Raw:
    """Return a self-contained copy of a protocol table.

    Args:
        raw: The file as read; ``uses_cautions`` lists the ids of shared cautions.
        shared: Shared entries by kind, each a list of tables with an ``id``.

    Returns:
        The table with every scale, caution and source that it uses; what is not in
        the shared parts either is left for the checks to name.
    """
    whole = deepcopy(dict(raw))
    wanted = whole.pop("uses_cautions", [])
    _fill(whole)
    _hand_out_units(whole)
    _add(whole, shared, "cautions", _texts(wanted))
    _add(whole, shared, "scales", _values(whole, "scale_id"))
    rows = tables(whole.get("intervals"))
    more = (source_id for row in rows for source_id in _texts(row.get("also_from")))
    _add(whole, shared, "sources", (*_values(whole, "source_id"), *more))
    return whole


def _fill(whole: Raw) -> None:
    whole.setdefault("intervals", [])
    whole.setdefault("urgent_signs", [])
    for region in tables(whole.get("regions")):
        for clause in tables(region.get("clauses")):
            clause.setdefault("scopes", list(region.get("scopes", [])))
    for interval in tables(whole.get("intervals")):
        for end in ("low", "high"):
            interval.setdefault(end, None)
        for held in ("life_stages", "settings", "states"):
            interval.setdefault(held, [])


def _hand_out_units(whole: Raw) -> None:
    """Put each unit of the file beside the measures that name it.

    One that no measure names is left where it is, and so told as an unknown key.
    """
    left = tables(whole.get("units"))
    if left != whole.get("units"):
        return
    named: set[object] = set()
    for vital in tables(whole.get("vitals")):
        measure = vital.get("measure")
        if isinstance(measure, dict):
            names = {measure.get("unit"), *_texts(measure.get("units_offered"))}
            own = [unit for unit in left if unit.get("id") in names]
            named |= names
            if own:
                measure["units"] = deepcopy(own)
    whole["units"] = [unit for unit in left if unit.get("id") not in named]
    if not whole["units"]:
        del whole["units"]


def _add(
    whole: Raw, shared: Mapping[str, list[Raw]], kind: str, wanted: Iterable[str]
) -> None:
    own = whole.setdefault(kind, [])
    if not isinstance(own, list):
        return
    have = {table.get("id") for table in tables(own)}
    used = set(wanted)
    own += [
        deepcopy(entry)
        for entry in shared[kind]
        if entry["id"] in used and entry["id"] not in have
    ]


def _values(place: object, key: str) -> Iterator[str]:
    """Yield every text under a key, at any depth."""
    if isinstance(place, Mapping):
        for name, value in place.items():
            if name == key and isinstance(value, str):
                yield value
            yield from _values(value, key)
    elif isinstance(place, list):
        for value in place:
            yield from _values(value, key)


def _texts(value: object) -> list[str]:
    if not isinstance(value, list):
        return []
    return [entry for entry in value if isinstance(entry, str)]


@dataclass(frozen=True, slots=True)
class PracticeProtocols:
    """What a practice's folder holds.

    Attributes:
        by_species: Its own protocols that are in use.
        refused: Files that are not used, each with every fault.
    """

    by_species: Mapping[str, LoadedProtocol] = field(default_factory=dict)
    refused: tuple[ProtocolFileError, ...] = ()

    def species(self) -> tuple[str, ...]:
        """Return every species there is a protocol for, in alphabetical order."""
        return tuple(sorted({*available(), *self.by_species}))

    def of(self, species: str) -> LoadedProtocol:
        """Return the practice's own protocol of a species, else the program's.

        Raises:
            ProtocolFileError: There is neither.
        """
        own = self.by_species.get(species)
        return own if own is not None else load_protocol(species)


def read_folder(folder: Path) -> PracticeProtocols:
    """Read every TOML file of a folder that may be missing; no fault stops the rest."""
    by_species: dict[str, LoadedProtocol] = {}
    names: dict[str, str] = {}
    refused: list[ProtocolFileError] = []
    try:
        paths = sorted(p for p in folder.iterdir() if p.suffix.lower() == ".toml")
    except OSError:
        paths = []
    for path in paths:
        try:
            found = load_file(path)
            species = found.protocol.species
            if species in names:
                told = f"{names[species]} is for {species} too; keep one of them"
                raise ProtocolFileError.of(path.name, "species", told)
        except ProtocolFileError as error:
            refused.append(error)
        else:
            by_species[species], names[species] = found, path.name
    return PracticeProtocols(by_species, tuple(refused))


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
    text = files(_PACKAGE).joinpath("tables", name).read_text("utf-8")
    return tomllib.loads(text, parse_float=Decimal)


def _all(kind: type[_T], rows: list[Any]) -> tuple[_T, ...]:
    return tuple(structure(kind, row) for row in rows)

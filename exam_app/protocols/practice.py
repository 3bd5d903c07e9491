"""A practice's own protocols: TOML files in a folder, each in a species' place.

A file with a fault is not used and hides nothing: the protocol that comes with the
program stands in, and every fault is told. Exams already begun keep the protocol they
named, by its hash.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from exam_app.protocols.codec import Fault, ProtocolFileError
from exam_app.protocols.loader import (
    LoadedProtocol,
    available,
    load_bytes,
    load_file,
    load_protocol,
)

FOLDER_NAME = "protocols"


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
    loaded: list[tuple[str, LoadedProtocol]] = []
    refused: list[ProtocolFileError] = []
    for path in _files(folder):
        try:
            loaded.append((path.name, _read(path)))
        except ProtocolFileError as error:
            refused.append(error)
    return _settle(loaded, refused)


def _settle(
    loaded: Iterable[tuple[str, LoadedProtocol]], refused: list[ProtocolFileError]
) -> PracticeProtocols:
    names: dict[str, str] = {}
    by_species: dict[str, LoadedProtocol] = {}
    for name, found in loaded:
        species = found.protocol.species
        if species in names:
            reason = f"{names[species]} is for {species} too; keep one of them"
            refused.append(ProtocolFileError(name, (Fault(name, "species", reason),)))
            continue
        names[species] = name
        by_species[species] = found
    return PracticeProtocols(by_species, tuple(refused))


def _files(folder: Path) -> list[Path]:
    try:
        return sorted(p for p in folder.iterdir() if p.suffix.lower() == ".toml")
    except OSError:
        return []


def _read(path: Path) -> LoadedProtocol:
    try:
        toml_bytes = path.read_bytes()
    except OSError:
        return load_file(path)
    return _checked(path.name, toml_bytes)


@lru_cache(maxsize=64)
def _checked(name: str, toml_bytes: bytes) -> LoadedProtocol:
    return load_bytes(name, toml_bytes)

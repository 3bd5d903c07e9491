"""Load species protocols: those that come with the program, and a practice's own.

A loaded protocol carries its content: one self-contained text that a record names by
its hash and a clinic that lacks it can be handed. The hash is of exactly these bytes.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from typing import Any

from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.protocols.codec import (
    Raw,
    in_this_format,
    read_content,
    structure_protocol,
    write_content,
)
from exam_app.protocols.completion import SHARED_KINDS, complete
from exam_app.protocols.faults import Fault, ProtocolFileError
from exam_app.protocols.validate import check_protocol
from exam_app.protocols.validate_vitals import unit_faults

_PACKAGE = "exam_app.protocols"
_MAX_BYTES = 2_000_000


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
        problem = Fault(name, "(file)", f"not found; there are: {known}")
        raise ProtocolFileError(name, (problem,))
    return load_bytes(name, files(_PACKAGE).joinpath(name).read_bytes())


def load_file(path: Path) -> LoadedProtocol:
    """Return a practice's own protocol.

    Raises:
        ProtocolFileError: The file cannot be read or has faults.
    """
    try:
        toml_bytes = path.read_bytes()
    except OSError as error:
        problem = Fault(path.name, "(file)", error.strerror or "cannot be read")
        raise ProtocolFileError(path.name, (problem,)) from error
    return load_bytes(path.name, toml_bytes)


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
    whole = in_this_format(name, complete(raw, _shared()), written)
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
        problem = Fault(name, "(file)", f"more than {_MAX_BYTES} bytes")
        raise ProtocolFileError(name, (problem,))


def _read_toml(name: str, toml_bytes: bytes) -> Mapping[str, Any]:
    _refuse_size(name, toml_bytes)
    try:
        return tomllib.loads(toml_bytes.decode(), parse_float=Decimal)
    except (ValueError, RecursionError) as error:
        problem = Fault(name, "(file)", f"no TOML in UTF-8: {error}")
        raise ProtocolFileError(name, (problem,)) from error


@cache
def _shared() -> Mapping[str, list[Raw]]:
    shared: dict[str, list[Raw]] = {}
    for kind in SHARED_KINDS:
        name = f"{kind}.toml"
        table = _read_toml(name, files(_PACKAGE).joinpath(name).read_bytes())
        shared[kind] = list(table[kind])
    return shared

"""Protocols by the hash that records name: shipped ones, and those kept in a store."""

import contextlib
from collections.abc import Callable, Iterable
from functools import lru_cache

from exam_app.crypto.door import sha256
from exam_app.domain.errors import ExamError
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.protocols.loader import (
    LoadedProtocol,
    available,
    load_content,
    load_protocol,
)
from exam_app.store.vault.vault import Vault

# By content hash, with the content.
NewProtocols = dict[str, tuple[bytes, SpeciesProtocol]]


def protocol_by_hash(
    vault: Vault, content_hash: str, species: str = ""
) -> LoadedProtocol | None:
    """Return the protocol of a content hash: a shipped one, or one kept here.

    Args:
        species: Looked at first, where it is known, so that no other need be loaded.
    """
    shipped = shipped_protocol(content_hash, species)
    if shipped is not None:
        return shipped
    content = vault.protocols.get(content_hash)
    return None if content is None else read_protocol(content)


@lru_cache(maxsize=64)
def shipped_protocol(content_hash: str, species: str = "") -> LoadedProtocol | None:
    """Return the protocol of a hash that comes with the program, or ``None``."""
    names = sorted(available(), key=lambda name: name != species)
    shipped = (load_protocol(name) for name in names)
    return next(
        (found for found in shipped if found.content_hash == content_hash), None
    )


@lru_cache(maxsize=16)
def read_protocol(content: bytes) -> LoadedProtocol:
    """Check and read a whole content; raises as ``load_content`` does."""
    return load_content(content)


def protocol_lookup(vault: Vault) -> Callable[[str], SpeciesProtocol | None]:
    """Return what finds the protocol that a record names, or ``None``."""

    def lookup(content_hash: str) -> SpeciesProtocol | None:
        found = protocol_by_hash(vault, content_hash)
        return found.protocol if found else None

    return lookup


def new_protocols(vault: Vault, contents: Iterable[bytes]) -> NewProtocols:
    """Return those of a bundle's protocols that are sound and not known here."""
    found: NewProtocols = {}
    for content in contents:
        content_hash = sha256(content).hex()
        if protocol_by_hash(vault, content_hash) is None:
            # A record that needs one with faults is not taken for the want of it.
            with contextlib.suppress(ExamError):
                found[content_hash] = content, read_protocol(content).protocol
    return found

"""What a bundle carries, and how each part is spelled."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from exam_app.crypto import door
from exam_app.record.cbor_form import decode, encode
from exam_app.record.errors import RecordError
from sync.bundle.packing import Part, join_parts, split_parts
from sync.errors import BundleNotMadeError, NotABundleError

_SALT_LENGTH = 32
_HASH_LENGTH = 32


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside one record.

    Attributes:
        exam_hash: SHA-256 of the signed exam, in hexadecimal.
        salt: 32 bytes.
        block: As ``record.owners`` or ``record.private_notes`` spells it.
    """

    exam_hash: str
    salt: bytes
    block: bytes


class OwnerPart(Beside):
    """Owner details beside one record."""


class PrivatePart(Beside):
    """Private notes beside one record, for the clinic only."""


@dataclass(frozen=True, slots=True)
class Contents:
    """What a bundle carries, each part in the order it was put in.

    Attributes:
        records: Signed exams, oldest first.
        notes: Signed notes.
        protocols: Whole contents of protocols the recipient lacks.
        animals: Plain mappings of texts, integers, booleans, lists and mappings.
        receipts: Signed receipts; day pack only.
        privates: Private notes beside records; never in a day pack.
    """

    records: tuple[bytes, ...] = ()
    notes: tuple[bytes, ...] = ()
    owners: tuple[OwnerPart, ...] = ()
    protocols: tuple[bytes, ...] = ()
    animals: tuple[Mapping[str, Any], ...] = ()
    receipts: tuple[bytes, ...] = ()
    privates: tuple[PrivatePart, ...] = ()


def hashes_of(signed: Sequence[bytes]) -> tuple[str, ...]:
    """Return SHA-256 of each, in hexadecimal."""
    return tuple(door.sha256(one).hex() for one in signed)


def write_contents(contents: Contents) -> bytes:
    """Return the contents as one run of bytes.

    Raises:
        BundleNotMadeError: An animal, or what stands beside an exam, has no spelling.
        BundleTooLargeError: A limit is passed.
    """
    places = {name: i for i, name in enumerate(hashes_of(contents.records))}
    try:
        owners = [_write_beside(owner, places) for owner in contents.owners]
        privates = [_write_beside(one, places) for one in contents.privates]
        animals = [encode(dict(animal)) for animal in contents.animals]
    except (RecordError, ValueError) as error:
        raise BundleNotMadeError("an animal or owner has no spelling") from error
    parts = [(Part.EXAM, one) for one in contents.records]
    parts += [(Part.NOTE, one) for one in contents.notes]
    parts += [(Part.OWNER, one) for one in owners]
    parts += [(Part.PROTOCOL, one) for one in contents.protocols]
    parts += [(Part.ANIMAL, one) for one in animals]
    parts += [(Part.RECEIPT, one) for one in contents.receipts]
    parts += [(Part.PRIVATE, one) for one in privates]
    return join_parts(parts)


def read_contents(content: bytes) -> Contents:
    """Return what such bytes hold; nothing signed inside is verified here.

    Raises:
        NotABundleError: They have another form.
        BundleTooNewError: They hold something that this version does not know.
        BundleTooLargeError: A limit is passed.
    """
    found: dict[Part, list[bytes]] = {kind: [] for kind in Part}
    for kind, part, _ in split_parts(content):
        found[kind].append(part)
    if found[Part.MANIFEST]:
        raise NotABundleError("it has two manifests")
    names = hashes_of(found[Part.EXAM])
    return Contents(
        records=tuple(found[Part.EXAM]),
        notes=tuple(found[Part.NOTE]),
        owners=tuple(OwnerPart(*_beside(p, names)) for p in found[Part.OWNER]),
        protocols=tuple(found[Part.PROTOCOL]),
        animals=tuple(_read_animal(part) for part in found[Part.ANIMAL]),
        receipts=tuple(found[Part.RECEIPT]),
        privates=tuple(PrivatePart(*_beside(p, names)) for p in found[Part.PRIVATE]),
    )


def _write_beside(part: Beside, places: Mapping[str, int]) -> bytes:
    # A record of the same bundle is named by its place: the hash cannot be packed.
    name: int | bytes = places.get(part.exam_hash, -1)
    if name == -1:
        name = bytes.fromhex(part.exam_hash)
    return encode([name, part.salt, part.block])


def _beside(part: bytes, names: Sequence[str]) -> tuple[str, bytes, bytes]:
    match _decode(part):
        case [int(place), bytes(salt), bytes(block)] if 0 <= place < len(names):
            name = names[place]
        case [bytes(hashed), bytes(salt), bytes(block)] if len(hashed) == _HASH_LENGTH:
            name = hashed.hex()
        case _:
            raise NotABundleError("what stands beside an exam has another form")
    if len(salt) != _SALT_LENGTH:
        raise NotABundleError("what stands beside an exam has another form")
    return name, salt, block


def _read_animal(part: bytes) -> dict[str, Any]:
    animal = _decode(part)
    if not isinstance(animal, dict) or not all(isinstance(k, str) for k in animal):
        raise NotABundleError("an animal has another form")
    return animal


def _decode(part: bytes) -> Any:  # noqa: ANN401
    try:
        return decode(part)
    except RecordError as error:
        raise NotABundleError("a part has another form") from error

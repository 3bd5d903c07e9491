"""What a bundle carries, how each part is spelled, and what goes into one bundle."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from itertools import chain
from typing import Any

from exam_app.crypto import door
from exam_app.record.cbor_form import decode, encode
from exam_app.record.errors import RecordError
from sync.bundle.packing import (
    NEWEST_PACKING,
    Columned,
    Part,
    columns_of,
    deflate_columns,
    join_parts,
    pack,
    split_parts,
)
from sync.bundle.sealing import OVERHEAD
from sync.errors import BundleNotMadeError, BundleTooLargeError, NotABundleError

# Of a salt, and of a hash.
_LENGTH = 32


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


# What each part is called in ``Contents``; kinds rise as their attributes stand there.
_NAMES = [field.name for field in fields(Contents)]
_PARTS = dict(zip(_NAMES, sorted({*Part} - {Part.MANIFEST}), strict=True))


def write_contents(contents: Contents) -> bytes:
    """Return the contents as one run of bytes.

    Raises:
        BundleNotMadeError: An animal, or what stands beside an exam, has no spelling.
        BundleTooLargeError: A limit is passed.
    """
    places = {name: i for i, name in enumerate(hashes_of(contents.records))}

    def spelled(one: bytes | Beside | Mapping[str, Any]) -> bytes:
        if isinstance(one, Beside):
            # A record of the same bundle is named by its place: no hash can be packed.
            place = places.get(one.exam_hash, bytes.fromhex(one.exam_hash))
            return encode([place, one.salt, one.block])
        return one if isinstance(one, bytes) else encode(dict(one))

    try:
        parts = [
            (kind, spelled(one))
            for name, kind in _PARTS.items()
            for one in getattr(contents, name)
        ]
    except (RecordError, ValueError) as error:
        raise BundleNotMadeError("an animal or owner has no spelling") from error
    return join_parts(parts)


def read_contents(content: bytes) -> Contents:
    """Return what such bytes hold; nothing signed inside is verified here.

    Raises:
        NotABundleError: They have another form.
        BundleTooNewError: They hold something that this version does not know.
        BundleTooLargeError: A limit is passed.
    """
    found: dict[Part, list[Any]] = {kind: [] for kind in Part}
    for kind, part, _ in split_parts(content):
        found[kind].append(part)
    if found[Part.MANIFEST]:
        raise NotABundleError("it has two manifests")
    names = hashes_of(found[Part.EXAM])
    found[Part.OWNER] = [OwnerPart(*_beside(p, names)) for p in found[Part.OWNER]]
    found[Part.PRIVATE] = [PrivatePart(*_beside(p, names)) for p in found[Part.PRIVATE]]
    found[Part.ANIMAL] = [_read_animal(part) for part in found[Part.ANIMAL]]
    return _together({name: found[kind]} for name, kind in _PARTS.items())


def _together(pieces: Iterable[Mapping[str, Iterable[Any]]]) -> Contents:
    joined: dict[str, list[Any]] = {name: [] for name in _PARTS}
    for piece in pieces:
        for name, parts in piece.items():
            joined[name] += parts
    return Contents(**{name: tuple(parts) for name, parts in joined.items()})


def _beside(part: bytes, names: Sequence[str]) -> tuple[str, bytes, bytes]:
    match _decode(part):
        case [int(place), bytes(salt), bytes(block)] if 0 <= place < len(names):
            name = names[place]
        case [bytes(hashed), bytes(salt), bytes(block)] if len(hashed) == _LENGTH:
            name = hashed.hex()
        case _:
            raise NotABundleError("what stands beside an exam has another form")
    if len(salt) != _LENGTH:
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


# A manifest's hashes, keys and signature cannot be packed; measured at most 226.
MANIFEST_ALLOWANCE = 240


def sealed_size(contents: Contents, packing: int = NEWEST_PACKING) -> int:
    """Return about how many bytes these contents have once sealed, never too few."""
    return OVERHEAD + MANIFEST_ALLOWANCE + len(pack(write_contents(contents), packing))


def plan_bundles(
    contents: Contents, limit_sealed_bytes: int, packing: int = NEWEST_PACKING
) -> tuple[Contents, ...]:
    """Return contents in as few bundles as keep each within the limit, in order.

    What is larger than the limit all by itself (a protocol, as a rule) gets a bundle of
    its own, which then passes the limit.

    Args:
        packing: As the bundles will be packed.

    Returns:
        At least one, also for empty contents.

    Raises:
        BundleNotMadeError: Something has no place in a bundle.
        BundleTooLargeError: A part passes the limit of bundles.
    """
    pieces = _pieces(contents)
    columns = [
        columns_of(write_contents(_together([piece])), packing) for piece in pieces
    ]
    planned, first = [], 0
    while first < len(pieces):
        count = _how_many_fit(columns[first:], limit_sealed_bytes, packing)
        together = _together(pieces[first : first + count])
        # The estimate saw owners and records in another order.
        while count > 1 and sealed_size(together, packing) > limit_sealed_bytes:
            count -= 1
            together = _together(pieces[first : first + count])
        planned.append(together)
        first += count
    return tuple(planned) or (contents,)


def _pieces(contents: Contents) -> list[dict[str, list[Any]]]:
    """Return the smallest contents that may travel apart, in order."""
    pieces: list[dict[str, list[Any]]] = [
        {"protocols": [p]} for p in contents.protocols
    ]
    beside: dict[str, dict[str, list[Any]]] = {"owners": {}, "privates": {}}
    for name, by_hash in beside.items():
        for one in getattr(contents, name):
            by_hash.setdefault(one.exam_hash, []).append(one)
    for key, record in zip(hashes_of(contents.records), contents.records, strict=True):
        with_it = {name: by_hash.pop(key, []) for name, by_hash in beside.items()}
        pieces.append({"records": [record], **with_it})
    alone = {name: chain(*by_hash.values()) for name, by_hash in beside.items()}
    for name in ("notes", "animals", "receipts"):
        alone[name] = getattr(contents, name)
    return pieces + [{name: [one]} for name, left in alone.items() for one in left]


def _how_many_fit(columns: Sequence[Columned], limit: int, packing: int) -> int:
    """Return about how many pieces from the first fit together; at least one."""
    fitting, too_many = 1, 2
    while too_many <= len(columns) and _fit(columns[:too_many], limit, packing):
        fitting, too_many = too_many, too_many * 2
    too_many = min(too_many, len(columns) + 1)
    while too_many - fitting > 1:
        middle = (fitting + too_many) // 2
        if _fit(columns[:middle], limit, packing):
            fitting = middle
        else:
            too_many = middle
    return fitting


def _fit(columns: Sequence[Columned], limit: int, packing: int) -> bool:
    joined = [b"".join(one) for one in zip(*columns, strict=True)]
    try:
        packed = deflate_columns(joined, packing)
    except BundleTooLargeError:
        return False
    return OVERHEAD + MANIFEST_ALLOWANCE + len(packed) <= limit

"""Divide what is to be handed over into bundles that a screen's codes can carry."""

from collections.abc import Sequence

from sync.bundle.columns import Columns
from sync.bundle.contents import (
    Contents,
    OwnerPart,
    PrivatePart,
    hashes_of,
    write_contents,
)
from sync.bundle.packing import columns_of, deflate, pack
from sync.bundle.sealing import OVERHEAD
from sync.errors import BundleTooLargeError

# A manifest's hashes, keys and signature cannot be packed; measured at most 226.
MANIFEST_ALLOWANCE = 240


def sealed_size(contents: Contents) -> int:
    """Return about how many bytes these contents have once sealed, never too few."""
    return OVERHEAD + MANIFEST_ALLOWANCE + len(pack(write_contents(contents)))


def plan_bundles(contents: Contents, limit_sealed_bytes: int) -> tuple[Contents, ...]:
    """Return contents in as few bundles as keep each within the limit, in order.

    What is larger than the limit all by itself (a protocol, as a rule) gets a bundle of
    its own, which then passes the limit.

    Returns:
        At least one, also for empty contents.

    Raises:
        BundleNotMadeError: Something has no place in a bundle.
        BundleTooLargeError: A part passes the limit of bundles.
    """
    pieces = _pieces(contents)
    columns = [columns_of(write_contents(piece)) for piece in pieces]
    planned, first = [], 0
    while first < len(pieces):
        count = _how_many_fit(columns[first:], limit_sealed_bytes)
        together = _together(pieces[first : first + count])
        # The estimate saw owners and records in another order.
        while count > 1 and sealed_size(together) > limit_sealed_bytes:
            count -= 1
            together = _together(pieces[first : first + count])
        planned.append(together)
        first += count
    return tuple(planned) or (contents,)


def _pieces(contents: Contents) -> list[Contents]:
    """Return the smallest contents that may travel apart, in order."""
    pieces = [Contents(protocols=(one,)) for one in contents.protocols]
    owners: dict[str, list[OwnerPart]] = {}
    privates: dict[str, list[PrivatePart]] = {}
    for private in contents.privates:
        privates.setdefault(private.exam_hash, []).append(private)
    for owner in contents.owners:
        owners.setdefault(owner.exam_hash, []).append(owner)
    names = hashes_of(contents.records)
    for name, record in zip(names, contents.records, strict=True):
        pieces.append(
            Contents(
                records=(record,),
                owners=tuple(owners.pop(name, ())),
                privates=tuple(privates.pop(name, ())),
            )
        )
    pieces += [Contents(owners=(one,)) for left in owners.values() for one in left]
    pieces += [Contents(privates=(p,)) for left in privates.values() for p in left]
    pieces += [Contents(notes=(note,)) for note in contents.notes]
    pieces += [Contents(animals=(animal,)) for animal in contents.animals]
    return pieces + [Contents(receipts=(receipt,)) for receipt in contents.receipts]


def _how_many_fit(columns: Sequence[Columns], limit: int) -> int:
    """Return about how many pieces from the first fit together; at least one."""
    fitting, too_many = 1, 2
    while too_many <= len(columns) and _fit(columns[:too_many], limit):
        fitting, too_many = too_many, too_many * 2
    too_many = min(too_many, len(columns) + 1)
    while too_many - fitting > 1:
        middle = (fitting + too_many) // 2
        if _fit(columns[:middle], limit):
            fitting = middle
        else:
            too_many = middle
    return fitting


def _fit(columns: Sequence[Columns], limit: int) -> bool:
    joined = Columns()
    for one in columns:
        joined.add(one)
    try:
        packed = deflate((joined.structure, joined.times, joined.random))
    except BundleTooLargeError:
        return False
    return OVERHEAD + MANIFEST_ALLOWANCE + len(packed) <= limit


def _together(pieces: Sequence[Contents]) -> Contents:
    return Contents(
        records=tuple(one for piece in pieces for one in piece.records),
        notes=tuple(one for piece in pieces for one in piece.notes),
        owners=tuple(one for piece in pieces for one in piece.owners),
        protocols=tuple(one for piece in pieces for one in piece.protocols),
        animals=tuple(one for piece in pieces for one in piece.animals),
        receipts=tuple(one for piece in pieces for one in piece.receipts),
        privates=tuple(one for piece in pieces for one in piece.privates),
    )

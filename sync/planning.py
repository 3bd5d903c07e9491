"""Plan how many bundles a day needs, so that each fits the codes of one hand-over.

Protocols go first, since records cannot be read without them; owner details stay with
their record.
"""

from collections.abc import Sequence

from sync.contents import Contents, OwnerPart, hashes_of, write_contents
from sync.errors import BundleTooLargeError
from sync.packing import pack
from sync.sealing import OVERHEAD

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
        BundleTooLargeError: A limit of bundles is passed.
    """
    pieces = _pieces(contents)
    planned = []
    while pieces:
        count = _how_many_fit(pieces, limit_sealed_bytes)
        planned.append(_together(pieces[:count]))
        pieces = pieces[count:]
    return tuple(planned) or (contents,)


def _pieces(contents: Contents) -> list[Contents]:
    """Return the smallest contents that may travel apart, in order."""
    pieces = [Contents(protocols=(one,)) for one in contents.protocols]
    owners: dict[str, list[OwnerPart]] = {}
    for owner in contents.owners:
        owners.setdefault(owner.exam_hash, []).append(owner)
    names = hashes_of(contents.records)
    for name, record in zip(names, contents.records, strict=True):
        beside = tuple(owners.pop(name, ()))
        pieces.append(Contents(records=(record,), owners=beside))
    pieces += [Contents(owners=(one,)) for left in owners.values() for one in left]
    pieces += [Contents(notes=(note,)) for note in contents.notes]
    pieces += [Contents(animals=(animal,)) for animal in contents.animals]
    return pieces + [Contents(receipts=(receipt,)) for receipt in contents.receipts]


def _how_many_fit(pieces: Sequence[Contents], limit: int) -> int:
    """Return how many pieces from the first fit together; at least one."""
    fitting, too_many = 1, 2
    while too_many <= len(pieces):
        if not _fits(pieces[:too_many], limit):
            break
        fitting, too_many = too_many, too_many * 2
    too_many = min(too_many, len(pieces) + 1)
    while too_many - fitting > 1:
        middle = (fitting + too_many) // 2
        if _fits(pieces[:middle], limit):
            fitting = middle
        else:
            too_many = middle
    return fitting


def _fits(pieces: Sequence[Contents], limit: int) -> bool:
    try:
        return sealed_size(_together(pieces)) <= limit
    except BundleTooLargeError:
        return False


def _together(pieces: Sequence[Contents]) -> Contents:
    return Contents(
        records=tuple(one for piece in pieces for one in piece.records),
        notes=tuple(one for piece in pieces for one in piece.notes),
        owners=tuple(one for piece in pieces for one in piece.owners),
        protocols=tuple(one for piece in pieces for one in piece.protocols),
        animals=tuple(one for piece in pieces for one in piece.animals),
        receipts=tuple(one for piece in pieces for one in piece.receipts),
    )

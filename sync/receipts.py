"""Receipts: eight characters to type, or a signed receipt as a file or one QR code.

The code says that the whole bundle was stored. Only the signed receipt, which says
what became of each record, permits a device to delete anything.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.record.cose import Kind
from sync.bundle.packing import OLDEST_PACKING
from sync.errors import (
    BundleNotMadeError,
    BundleTooNewError,
    MistypedReceiptCodeError,
    NotAReceiptError,
    WrongReceiptCodeError,
)
from sync.trust.signed_fields import (
    COUNT,
    COUNTS,
    FLAG,
    MOMENT,
    PACKING,
    Fields,
    Numbered,
    hexadecimal,
    numbered,
    open_clinics,
    sign_fields,
)

# Crockford's base 32: no I, L, O or U.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_READ_AS = {"O": "0", "I": "1", "L": "1"}
_POLYNOMIAL = 0b100101


def check_character(letters: str) -> str:
    """Return the letter that makes the weighted sum zero.

    Args:
        letters: At most 30 of ``ALPHABET``.
    """
    # With weights x^n ... x^1 and x^0 for the check itself, it is the sum.
    total = 0
    for letter in letters:
        total = (total ^ ALPHABET.index(letter)) << 1
        total ^= _POLYNOMIAL if total & 32 else 0
    return ALPHABET[total]


TRIES = 5
CODE_LENGTH = 8
MOST_LINES = 20_000
_CODE_LABEL = b"exam-app receipt code v1"
_FIELDS = (
    Numbered(1, "clinic_id", hexadecimal(16)),
    Numbered(2, "device_id", hexadecimal(16)),
    Numbered(3, "bundle_hash", hexadecimal(32)),
    Numbered(4, "sequence", COUNT),
    Numbered(5, "received", MOMENT),
    Numbered(9, "is_demo", FLAG, left_out=False),
    Numbered(10, "packing", PACKING, OLDEST_PACKING),
)
_COUNT, _COMMON, _EXCEPTIONS = 6, 7, 8
SignedHashesOf = Callable[[str], Sequence[str] | None]


class Outcome(StrEnum):
    """What became of one record at the clinic."""

    STORED = "stored"
    HAD_ALREADY = "had already"
    REVISION = "revision"
    FORK = "fork"
    QUARANTINED = "quarantined"
    REFUSED = "refused"


# The record or note is kept at the clinic.
KEPT_OUTCOMES = (Outcome.STORED, Outcome.HAD_ALREADY, Outcome.REVISION, Outcome.FORK)
# On the wire an outcome is its place here; new ones are only added at the end.
_OUTCOMES = tuple(Outcome)


@dataclass(frozen=True, slots=True)
class ReceiptLine:
    """What became of one signed exam or note; the hash in hexadecimal."""

    record_hash: str
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class Receipt:
    """What became of a bundle.

    Attributes:
        lines: One for each signed exam, then each signed note, in the order of
            ``Manifest.signed_hashes``. Hashes do not travel: the bundle hash and the
            order name them.
        packing: The newest packing of bundles that the clinic reads.
    """

    clinic_id: str
    device_id: str
    bundle_hash: str
    sequence: int
    received: Moment
    lines: tuple[ReceiptLine, ...]
    is_demo: bool
    packing: int = OLDEST_PACKING


def receipt_code(receipt_secret: bytes, bundle_hash: str) -> str:
    """Return the code, as in ``ABCD-EFGH``, that only an opener can tell.

    Seven characters of HMAC-SHA-256 (through HKDF) over the bundle's hash, and a check
    character. Show it only after everything is stored.

    Args:
        receipt_secret: 32 bytes, of ``OpenedBundle``.
        bundle_hash: In hexadecimal.
    """
    label = _CODE_LABEL + bytes.fromhex(bundle_hash)
    drawn = door.hkdf_sha256(receipt_secret, b"", label, 5)
    number = int.from_bytes(drawn, "big")
    letters = "".join(ALPHABET[number >> 5 * place & 31] for place in range(7, 0, -1))
    return _grouped(letters + check_character(letters))


def normalise_code(typed: str) -> str:
    """Return what was typed in the form of ``receipt_code``.

    Case, spaces and hyphens do not matter; O counts as 0, I and L as 1.

    Raises:
        MistypedReceiptCodeError: It cannot be a code; this costs no try.
    """
    capitals = [one.upper() for one in typed if one not in " -\t\r\n"]
    letters = [_READ_AS.get(capital, capital) for capital in capitals]
    if len(letters) != CODE_LENGTH or not set(ALPHABET).issuperset(letters):
        raise MistypedReceiptCodeError
    code = "".join(letters)
    if check_character(code[:-1]) != code[-1]:
        raise MistypedReceiptCodeError
    return _grouped(code)


def check_code(typed: str, expected: str, tries_used: int) -> None:
    """Accept the right code, or refuse.

    Args:
        expected: As ``receipt_code`` gave it when the bundle was sealed.
        tries_used: Wrong codes typed for this bundle so far.

    Raises:
        MistypedReceiptCodeError: A slip; no try is used.
        WrongReceiptCodeError: Another code, or five tries are used up. Count a try.
    """
    if tries_used >= TRIES:
        raise WrongReceiptCodeError(0)
    try:
        code = normalise_code(typed)
    except MistypedReceiptCodeError as error:
        raise MistypedReceiptCodeError(TRIES - tries_used) from error
    if code != expected:
        raise WrongReceiptCodeError(TRIES - tries_used - 1)


def sign_receipt(receipt: Receipt, seed: bytes) -> bytes:
    """Return the receipt as signed by the clinic.

    Args:
        seed: The clinic's 32-byte Ed25519 seed.

    Raises:
        BundleNotMadeError: It has more lines than a bundle has parts.
    """
    if len(receipt.lines) > MOST_LINES:
        raise BundleNotMadeError(f"more than {MOST_LINES} lines")
    outcomes = [_OUTCOMES.index(line.outcome) for line in receipt.lines]
    common = max(range(len(_OUTCOMES)), key=outcomes.count)
    others = {i: outcome for i, outcome in enumerate(outcomes) if outcome != common}
    fields = {
        **numbered(receipt, _FIELDS),
        _COUNT: len(outcomes),
        _COMMON: common,
    }
    if others:
        fields[_EXCEPTIONS] = others
    return sign_fields(Kind.RECEIPT, fields, seed)


def read_receipt(
    signed: bytes, clinic_signing_key: bytes, signed_hashes_of: SignedHashesOf
) -> Receipt:
    """Return what a receipt says, if the clinic signed it for a bundle known here.

    Args:
        signed_hashes_of: Gives a bundle hash's ``Manifest.signed_hashes``, or ``None``.

    Raises:
        ReceiptForgedError: Another key signed it, or it was changed.
        NotAReceiptError: It is no receipt, or of no bundle that is known here.
        BundleTooNewError: A newer version made it.
    """
    fields = open_clinics(signed, Kind.RECEIPT, clinic_signing_key)
    said = fields.named(_FIELDS)
    hashes = signed_hashes_of(said["bundle_hash"])
    if hashes is None or len(hashes) != fields.get(_COUNT, COUNT):
        raise NotAReceiptError("it is of no bundle that is known here")
    return Receipt(lines=_lines(fields, hashes), **said)


def _lines(fields: Fields, hashes: Sequence[str]) -> tuple[ReceiptLine, ...]:
    common = fields.get(_COMMON, COUNT)
    others = fields.get(_EXCEPTIONS, COUNTS, left_out={})
    outcomes = [others.get(place, common) for place in range(len(hashes))]
    if max([common, *others.values()]) >= len(_OUTCOMES):
        raise BundleTooNewError("an outcome that this version does not know")
    if any(place >= len(hashes) for place in others):
        raise NotAReceiptError("it names a record that the bundle does not have")
    return tuple(
        ReceiptLine(record_hash, _OUTCOMES[outcome])
        for record_hash, outcome in zip(hashes, outcomes, strict=True)
    )


def _grouped(letters: str) -> str:
    return f"{letters[:4]}-{letters[4:]}"

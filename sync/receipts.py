"""Receipts: eight characters to type, or a signed receipt as a file or one QR code.

The code says that the whole bundle was stored. Only the signed receipt, which says
what became of each record, permits a device to delete anything.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.moments import Moment

TRIES = 5
SignedHashesOf = Callable[[str], Sequence[str] | None]


class Outcome(StrEnum):
    """What became of one record at the clinic."""

    STORED = "stored"
    HAD_ALREADY = "had already"
    REVISION = "revision"
    FORK = "fork"
    QUARANTINED = "quarantined"
    REFUSED = "refused"


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
    """

    clinic_id: str
    device_id: str
    bundle_hash: str
    sequence: int
    received: Moment
    lines: tuple[ReceiptLine, ...]
    is_demo: bool


def receipt_code(receipt_secret: bytes, bundle_hash: str) -> str:
    """Return the code, as in ``ABCD-EFGH``, that only an opener can tell."""
    raise NotImplementedError


def normalise_code(typed: str) -> str:
    """Return what was typed in the form of ``receipt_code``.

    Raises:
        MistypedReceiptCodeError: It cannot be a code; this costs no try.
    """
    raise NotImplementedError


def check_code(typed: str, expected: str, tries_used: int) -> None:
    """Accept the right code, or refuse.

    Raises:
        MistypedReceiptCodeError: A slip; no try is used.
        WrongReceiptCodeError: Another code, or five tries are used up. Count a try.
    """
    raise NotImplementedError


def sign_receipt(receipt: Receipt, seed: bytes) -> bytes:
    """Return the receipt as signed by the clinic."""
    raise NotImplementedError


def read_receipt(
    signed: bytes, clinic_signing_key: bytes, signed_hashes_of: SignedHashesOf
) -> Receipt:
    """Return what a receipt says, if the clinic signed it for a bundle known here.

    Args:
        signed_hashes_of: Gives a bundle hash's ``Manifest.signed_hashes``, or ``None``.
    """
    raise NotImplementedError

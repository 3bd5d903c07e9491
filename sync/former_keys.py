"""Keys a device had before it was restored, each vouching for those that came next.

Whoever trusted a former key can follow to the present one; whoever did not learns only
that both were in the same hands.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from exam_app.crypto import door
from exam_app.crypto.curve_points import check_signing_key
from exam_app.crypto.errors import BadKeyError
from sync.errors import NotACardError

MOST_FORMER = 8
# What a former key signs, before the two public keys that came next; the same bytes as
# in ``exam_app.store.restoring``, which must not be imported here.
SUCCESSOR = b"exam-app successor v1"
_LENGTHS = [16, 32, 32, 64]


@dataclass(frozen=True, slots=True)
class FormerKey:
    """A key the device had before it was restored from a backup.

    Attributes:
        vouched: The former key's signature over the keys that came next.
        agreement_key: X25519 public key that stood beside it, 32 bytes.
    """

    device_id: str
    signing_key: bytes
    vouched: bytes
    agreement_key: bytes = b""


def write_former(former: FormerKey) -> list[bytes]:
    """Return a former key as a card spells it."""
    device_id = bytes.fromhex(former.device_id)
    return [device_id, former.signing_key, former.agreement_key, former.vouched]


def read_former(entry: object) -> FormerKey:
    """Return a former key from a card.

    Raises:
        NotACardError: It has another form.
    """
    parts = entry if isinstance(entry, list) else []
    if [isinstance(part, bytes) and len(part) for part in parts] != _LENGTHS:
        raise NotACardError("a former key is not whole")
    device_id, signing, agreement, vouched = parts
    return FormerKey(device_id.hex(), signing, vouched, agreement)


def check_chain(
    former: Sequence[FormerKey], signing_key: bytes, agreement_key: bytes
) -> None:
    """Refuse former keys of which one does not vouch for the keys that came next.

    Args:
        former: Oldest first.
        signing_key: The present Ed25519 public key.
        agreement_key: The present X25519 public key.

    Raises:
        NotACardError: Names no key.
    """
    following = [(later.signing_key, later.agreement_key) for later in former[1:]]
    following.append((signing_key, agreement_key))
    for earlier, (signing, agreement) in zip(former, following, strict=False):
        try:
            check_signing_key(earlier.signing_key)
        except BadKeyError as error:
            raise NotACardError("a former key is none") from error
        successor = SUCCESSOR + signing + agreement
        if not door.verify(earlier.signing_key, earlier.vouched, successor):
            raise NotACardError("a former key does not vouch for the next")

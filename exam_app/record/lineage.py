"""The keys of one device, and those that it had before a backup was restored.

A restored device has new keys. Each former key signed the ones that followed it, so
that whoever trusts a key can follow from it to the newest and from the newest back.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from exam_app.crypto import door
from exam_app.crypto.errors import CryptoError

# What a former key signs, before the two public keys that came next.
SUCCESSOR = b"exam-app successor v1"


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


@dataclass(frozen=True, slots=True)
class OwnKeys:
    """A clinic's or a device's name and private keys.

    Attributes:
        signing_seed: Ed25519 seed, 32 bytes.
        agreement_private: X25519 private key, 32 bytes.
        phone: Of a clinic, for an urgent sign; may be empty.
        former: Public keys that a device had before, newest last.
    """

    own_id: str
    name: str
    signing_seed: bytes
    agreement_private: bytes
    is_demo: bool
    phone: str = ""
    former: tuple[FormerKey, ...] = ()

    @property
    def own_ids(self) -> tuple[str, ...]:
        """Its id, then ids it had before it was restored, newest first."""
        return (self.own_id, *(one.device_id for one in reversed(self.former)))


def signing_keys_of(
    signing_key: bytes, agreement_key: bytes, former: Sequence[FormerKey]
) -> tuple[bytes, ...]:
    """Return a device's Ed25519 public keys, the present one first.

    Former keys follow, newest first, as far as each one vouches for the next.

    Args:
        former: Newest last.
    """
    keys, following = [signing_key], (signing_key, agreement_key)
    for one in reversed(former):
        if not vouches(one.signing_key, one.vouched, *following):
            break
        keys.append(one.signing_key)
        following = one.signing_key, one.agreement_key
    return tuple(keys)


def vouches(key: bytes, signature: bytes, signing: bytes, agreement: bytes) -> bool:
    """Whether a former key signed the two public keys that came next."""
    try:
        return door.verify(key, signature, SUCCESSOR + signing + agreement)
    except CryptoError:
        return False

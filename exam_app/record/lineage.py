"""The keys of one device, and those that it had before a backup was restored.

A restored device has new keys. Each former key signed the ones that followed it, so
that whoever trusts a key can follow from it to the newest and from the newest back.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from exam_app.crypto import door
from exam_app.crypto.errors import CryptoError

# What a former key signs, before the two public keys that came next.
SUCCESSOR = b"exam-app successor v1"


def signing_keys_of(device: Mapping[str, Any]) -> tuple[bytes, ...]:
    """Return a device's Ed25519 public keys, the present one first.

    Former keys follow, newest first, as far as each one vouches for the next.

    Args:
        device: With ``signing_key``, ``agreement_key`` and ``former`` (newest last,
            each with the same two and ``vouched``), all in hexadecimal.
    """
    keys = [bytes.fromhex(device["signing_key"])]
    following = keys[0], bytes.fromhex(device["agreement_key"])
    former: Sequence[Mapping[str, Any]] = device.get("former") or ()
    for entry in reversed(former):
        key = bytes.fromhex(entry["signing_key"])
        if not vouches(key, bytes.fromhex(entry["vouched"]), *following):
            break
        keys.append(key)
        following = key, bytes.fromhex(entry.get("agreement_key") or "")
    return tuple(keys)


def vouches(key: bytes, signature: bytes, signing: bytes, agreement: bytes) -> bool:
    """Whether a former key signed the two public keys that came next."""
    try:
        return door.verify(key, signature, SUCCESSOR + signing + agreement)
    except CryptoError:
        return False

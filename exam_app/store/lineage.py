"""The keys of one device, and those that it had before a backup was restored.

A restored device has new keys. Each former key signed the ones that followed it, so
that whoever trusts a key can follow from it to the newest and from the newest back.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from exam_app.crypto import door
from exam_app.crypto.errors import CryptoError

SUCCESSOR = b"exam-app successor v1"


def signing_keys_of(device: Mapping[str, Any]) -> tuple[bytes, ...]:
    """Return a device's Ed25519 public keys, the present one first.

    Former keys follow, newest first, as far as each one vouches for the next.

    Args:
        device: With ``signing_key``, ``agreement_key`` and ``former`` (newest last,
            each with the same two and ``vouched``), all in hexadecimal.
    """
    keys = [bytes.fromhex(device["signing_key"])]
    successor = keys[0] + bytes.fromhex(device["agreement_key"])
    former: Sequence[Mapping[str, Any]] = device.get("former") or ()
    for entry in reversed(former):
        key = bytes.fromhex(entry["signing_key"])
        if not _vouches(key, bytes.fromhex(entry["vouched"]), successor):
            break
        keys.append(key)
        successor = key + bytes.fromhex(entry.get("agreement_key") or "")
    return tuple(keys)


def _vouches(key: bytes, signature: bytes, successor: bytes) -> bool:
    try:
        return door.verify(key, signature, SUCCESSOR + successor)
    except CryptoError:
        return False

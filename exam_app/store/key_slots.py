"""Key slots: the vault's data key, wrapped once for each secret that opens it.

A slot holds its own salt and derivation costs, the wrapped data key, and a
commitment to the wrapping key. AES-GCM alone does not commit to its key, so the
commitment is what tells a wrong passphrase from a damaged slot.
"""

import enum
import hmac
import struct
import unicodedata
from dataclasses import dataclass

from exam_app.crypto.door import (
    DerivationBounds,
    KeyDerivation,
    check_bounds,
    derive_key,
    hkdf_sha256,
    random_bytes,
    seal,
    unseal,
)
from exam_app.crypto.errors import BadParametersError, WrongKeyError
from exam_app.store.errors import (
    EmptyPassphraseError,
    PassphraseTooLongError,
    VaultDamagedError,
    WrongPassphraseError,
    WrongRecoveryCodeError,
)
from exam_app.store.recovery_code import RANDOM_LENGTH, format_code, read_code

_LAYOUT = struct.Struct(">BIII16s12s48s32s")
SLOT_LENGTH = _LAYOUT.size
SALT_LENGTH = 16
# Far more than anybody types; composing and stretching grow with the length.
LONGEST_SECRET = 1024
_WRAPPING = b"exam-vault key slot v1"


class SlotKind(enum.IntEnum):
    """Which secret opens the slot."""

    PASSPHRASE = 1
    RECOVERY_CODE = 2


@dataclass(frozen=True, slots=True)
class KeySlot:
    """One way into the vault.

    Attributes:
        kind: Which secret opens it.
        derivation: Argon2id costs.
        salt: 16 bytes.
        nonce: 12 bytes.
        wrapped: The sealed data key, 48 bytes.
        commitment: 32 bytes that only the right wrapping key gives.
    """

    kind: SlotKind
    derivation: KeyDerivation
    salt: bytes
    nonce: bytes
    wrapped: bytes
    commitment: bytes


def secret_bytes(kind: SlotKind, typed: str) -> bytes:
    """Give the bytes that a typed secret stands for.

    Keyboards send the same passphrase in different forms, so spaces are mapped and
    the text is composed, as RFC 8265 (OpaqueString) does.

    Raises:
        PassphraseTooLongError: More than ``LONGEST_SECRET`` characters.
        EmptyPassphraseError: No passphrase at all.
        MistypedRecoveryCodeError: The code's check characters do not fit.
    """
    if len(typed) > LONGEST_SECRET:
        raise PassphraseTooLongError(f"more than {LONGEST_SECRET} characters")
    if kind is SlotKind.RECOVERY_CODE:
        return read_code(typed)
    if not typed:
        raise EmptyPassphraseError("empty passphrase")
    spaced = "".join(
        " " if unicodedata.category(character) == "Zs" else character
        for character in typed
    )
    return unicodedata.normalize("NFC", spaced).encode("utf-8", "surrogatepass")


async def wrap_key(
    kind: SlotKind,
    secret: bytes,
    data_key: bytes,
    vault_id: bytes,
    derivation: KeyDerivation,
) -> KeySlot:
    """Make a slot that opens ``data_key`` with ``secret``.

    Args:
        kind: Which secret this is.
        secret: From ``secret_bytes``.
        data_key: 32 bytes.
        vault_id: 16 bytes, bound to the slot.
        derivation: Costs, already checked against the bounds.
    """
    salt, nonce = random_bytes(SALT_LENGTH), random_bytes(12)
    stretched = await derive_key(secret, salt, derivation)
    key, commitment = _wrapping_key(stretched, vault_id)
    associated = _associated(kind, derivation, salt, vault_id)
    wrapped = seal(key, nonce, data_key, associated)
    return KeySlot(kind, derivation, salt, nonce, wrapped, commitment)


def new_code() -> tuple[str, bytes]:
    """Draw a recovery code; give it as shown, and as the secret of its slot."""
    code = format_code(random_bytes(RANDOM_LENGTH))
    return code, secret_bytes(SlotKind.RECOVERY_CODE, code)


async def new_slots(
    secret: bytes, data_key: bytes, vault_id: bytes, derivation: KeyDerivation
) -> tuple[tuple[KeySlot, KeySlot], str]:
    """Make both slots for a data key.

    Args:
        secret: Of the passphrase, from ``secret_bytes``.
        data_key: 32 bytes.
        vault_id: 16 bytes.
        derivation: Costs of both slots, already checked against the bounds.

    Returns:
        The passphrase slot and the recovery slot, and the new recovery code.
    """
    kind = SlotKind.PASSPHRASE
    first = await wrap_key(kind, secret, data_key, vault_id, derivation)
    code, code_secret = new_code()
    kind = SlotKind.RECOVERY_CODE
    second = await wrap_key(kind, code_secret, data_key, vault_id, derivation)
    return (first, second), code


async def unwrap_key(
    slot: KeySlot, secret: bytes, vault_id: bytes, bounds: DerivationBounds
) -> bytes:
    """Open a slot, checking in this order: bounds, commitment, seal.

    Returns:
        The 32-byte data key.

    Raises:
        WrongPassphraseError: The commitment does not fit the passphrase.
        WrongRecoveryCodeError: The commitment does not fit the code.
        VaultDamagedError: Costs outside the bounds, or the right secret and a
            wrapped key that does not authenticate.
    """
    try:
        check_bounds(slot.derivation, bounds)
        stretched = await derive_key(secret, slot.salt, slot.derivation)
    except BadParametersError as error:
        raise VaultDamagedError("key slot has costs outside the bounds") from error
    key, commitment = _wrapping_key(stretched, vault_id)
    if not hmac.compare_digest(commitment, slot.commitment):
        if slot.kind is SlotKind.RECOVERY_CODE:
            raise WrongRecoveryCodeError("recovery code refused")
        raise WrongPassphraseError("passphrase refused")
    associated = _associated(slot.kind, slot.derivation, slot.salt, vault_id)
    try:
        return unseal(key, slot.nonce, slot.wrapped, associated)
    except WrongKeyError as error:
        raise VaultDamagedError("wrapped key did not authenticate") from error


def encode_slot(slot: KeySlot) -> bytes:
    """Lay a slot out in its 121 bytes."""
    costs = slot.derivation
    return _LAYOUT.pack(
        slot.kind,
        costs.memory_kib,
        costs.passes,
        costs.lanes,
        slot.salt,
        slot.nonce,
        slot.wrapped,
        slot.commitment,
    )


def decode_slot(content: bytes) -> KeySlot:
    """Read a slot from its 121 bytes.

    Raises:
        VaultDamagedError: Its kind is unknown.
    """
    kind, memory_kib, passes, lanes, *parts = _LAYOUT.unpack(content)
    try:
        known = SlotKind(kind)
    except ValueError as error:
        raise VaultDamagedError("unknown kind of key slot") from error
    return KeySlot(known, KeyDerivation(memory_kib, passes, lanes), *parts)


def _wrapping_key(stretched: bytes, vault_id: bytes) -> tuple[bytes, bytes]:
    both = hkdf_sha256(stretched, vault_id, _WRAPPING, 64)
    return both[:32], both[32:]


def _associated(
    kind: SlotKind, costs: KeyDerivation, salt: bytes, vault_id: bytes
) -> bytes:
    fixed = struct.pack(">BIII", kind, costs.memory_kib, costs.passes, costs.lanes)
    return _WRAPPING + vault_id + fixed + salt

"""Key slots: the vault's data key, wrapped once for each secret that opens it.

A slot holds its own salt and derivation costs, the wrapped data key, and a
commitment to the wrapping key. AES-GCM alone does not commit to its key, so the
commitment is what tells a wrong passphrase from a damaged slot.

The recovery code is 130 random bits that a person can write down and type, in
Crockford's base 32 (no I, L, O, U): 26 characters and two check characters, in seven
groups of four. It is read tolerantly: case, spaces and hyphens do not matter, O reads
as 0, I and L read as 1. The check characters are a Reed-Solomon remainder over GF(32)
with minimum distance three, so one or two wrong characters, and any two that changed
places, are always noticed.
"""

import enum
import hmac
import struct
import unicodedata
from dataclasses import dataclass
from typing import NamedTuple

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
    MistypedRecoveryCodeError,
    PassphraseTooLongError,
    VaultDamagedError,
    WrongPassphraseError,
    WrongRecoveryCodeError,
)

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
SYMBOL_COUNT = 26
CODE_LENGTH = 28
RANDOM_LENGTH = 17
_GROUP_LENGTH = 4
_FIELD_POLYNOMIAL = 0b100101
_LOOK_ALIKES = str.maketrans("OIL", "011", " -\u2010\u2011\u2012\u2013\t\n")
_LAYOUT = struct.Struct(">BIII16s12s48s32s")
SLOT_LENGTH = _LAYOUT.size
SALT_LENGTH = 16
# Far more than anybody types; composing and stretching grow with the length.
LONGEST_SECRET = 1024
_WRAPPING = b"exam-vault key slot v1"


def format_code(random: bytes) -> str:
    """Write 130 of the given 136 random bits as a recovery code.

    Args:
        random: 17 bytes from the system's generator.

    Returns:
        Seven groups of four characters, joined by hyphens.
    """
    number = int.from_bytes(random, "big") >> (8 * RANDOM_LENGTH - 5 * SYMBOL_COUNT)
    shifts = range(5 * (SYMBOL_COUNT - 1), -1, -5)
    symbols = [(number >> shift) & 31 for shift in shifts]
    symbols += check_symbols(symbols)
    code = "".join(ALPHABET[symbol] for symbol in symbols)
    starts = range(0, CODE_LENGTH, _GROUP_LENGTH)
    return "-".join(code[start : start + _GROUP_LENGTH] for start in starts)


def read_code(typed: str) -> bytes:
    """Read a typed recovery code.

    Args:
        typed: What the person typed, in any case and grouping.

    Returns:
        The 26 characters that carry the secret, as ASCII, without the checks.

    Raises:
        MistypedRecoveryCodeError: Wrong length, a foreign character, or check
            characters that do not fit.
    """
    code = typed.upper().translate(_LOOK_ALIKES)
    symbols = [ALPHABET.find(character) for character in code]
    well_formed = len(symbols) == CODE_LENGTH and min(symbols) >= 0
    if not well_formed or check_symbols(symbols[:-2]) != symbols[-2:]:
        raise MistypedRecoveryCodeError(
            "recovery code does not fit its check characters"
        )
    return code[:SYMBOL_COUNT].encode("ascii")


def check_symbols(symbols: list[int]) -> list[int]:
    """Give the two check symbols: the remainder by (x + 1)(x + 2) over GF(32)."""
    high = low = 0
    for symbol in symbols:
        carry = symbol ^ high
        high, low = low ^ _multiply(carry, 3), _multiply(carry, 2)
    return [high, low]


def _multiply(left: int, right: int) -> int:
    product = 0
    while right:
        if right & 1:
            product ^= left
        left <<= 1
        if left & 32:
            left ^= _FIELD_POLYNOMIAL
        right >>= 1
    return product


class SlotKind(enum.IntEnum):
    """Which secret opens the slot."""

    PASSPHRASE = 1
    RECOVERY_CODE = 2


class KeySlot(NamedTuple):
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
    """Make a slot of a vault that opens ``data_key`` (32 bytes) with ``secret``.

    The secret comes from ``secret_bytes``; the costs were checked against the bounds.
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
    """Make both slots for a data key; arguments as of ``wrap_key``.

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
    kind, costs, *parts = slot
    return _LAYOUT.pack(kind, *costs, *parts)


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
    fixed = struct.pack(">BIII", kind, *costs)
    return _WRAPPING + vault_id + fixed + salt


@dataclass(frozen=True, slots=True, repr=False)
class NewDataKey:
    """A data key that seals nothing yet.

    Attributes:
        data_key: The key itself.
        slots: It, wrapped by the passphrase and by the new recovery code.
        code: The recovery code, to be shown once.
        former: The slots that count until then.
    """

    data_key: bytes
    slots: tuple[KeySlot, KeySlot]
    code: str
    former: tuple[KeySlot, KeySlot]

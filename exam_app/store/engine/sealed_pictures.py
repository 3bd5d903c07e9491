"""Seal pictures for the store: each by itself, bound to the hash of what it shows.

The name of a sealed picture is made from its hash under a key of the vault, so that it
tells nothing to somebody without the key, not even to one who has the picture.
"""

import hmac

from exam_app.crypto.door import hkdf_sha256, random_bytes, seal, sha256, unseal
from exam_app.crypto.errors import WrongKeyError
from exam_app.store.engine.picture_files import NAME_LENGTH
from exam_app.store.errors import PhotographDamagedError, VaultTooNewError

FORMAT_VERSION = 1
_MAGIC = b"exam-vault pict\n"
_HEADER = _MAGIC + FORMAT_VERSION.to_bytes(2)
_NONCE_LENGTH = 12
_INFO = b"exam-vault photographs v1"


class PictureKeys:
    """Seals, opens and names the pictures of one vault."""

    __slots__ = ("_names", "_seal", "_vault_id", "data_key")

    def __init__(self, data_key: bytes, vault_id: bytes) -> None:
        """Derive both keys from the data key."""
        made = hkdf_sha256(data_key, vault_id, _INFO, 64)
        self._seal, self._names = made[:32], made[32:]
        self._vault_id = vault_id
        self.data_key = data_key

    def name(self, sha256_hex: str) -> str:
        """Return the name of the picture with this hash, 32 hexadecimal digits."""
        digest = hmac.digest(self._names, bytes.fromhex(sha256_hex), "sha256")
        return digest.hex()[:NAME_LENGTH]

    def seal(self, sha256_hex: str, picture: bytes) -> bytes:
        """Return the sealed picture of this hash."""
        nonce = random_bytes(_NONCE_LENGTH)
        bound = self._bound(sha256_hex)
        return _HEADER + nonce + seal(self._seal, nonce, picture, bound)

    def open(self, sha256_hex: str, sealed: bytes) -> bytes:
        """Open a sealed picture and compare it with its hash.

        Raises:
            VaultTooNewError: A newer version sealed it.
            PhotographDamagedError: It is not the picture of this hash, or not whole.
        """
        start, nonce = sealed[: len(_HEADER)], sealed[len(_HEADER) :][:_NONCE_LENGTH]
        version = int.from_bytes(start[len(_MAGIC) :])
        if start[: len(_MAGIC)] != _MAGIC or len(nonce) != _NONCE_LENGTH:
            raise PhotographDamagedError("no sealed picture")
        if version > FORMAT_VERSION:
            raise VaultTooNewError("a picture of a newer version")
        rest = sealed[len(_HEADER) + _NONCE_LENGTH :]
        try:
            picture = unseal(self._seal, nonce, rest, self._bound(sha256_hex))
        except WrongKeyError as error:
            raise PhotographDamagedError("a picture did not authenticate") from error
        if start != _HEADER or sha256(picture).hex() != sha256_hex:
            raise PhotographDamagedError("a picture of another hash")
        return picture

    def _bound(self, sha256_hex: str) -> bytes:
        return _HEADER + self._vault_id + bytes.fromhex(sha256_hex)

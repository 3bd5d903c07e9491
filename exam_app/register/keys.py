"""The register's data keys: wrapped for stations, sealing rows, hiding search words.

A data key has a number, its epoch, which stands before all that it seals; the newest
seals, every one that is known opens. Each is wrapped for a station by HPKE's base mode
(X25519, HKDF-SHA-256, AES-256-GCM), bound to register, epoch and station.
"""

import hmac
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from exam_app.crypto import door
from exam_app.crypto.errors import CryptoError
from exam_app.register.errors import NoStationError
from exam_app.store.engine.documents import Bodies
from exam_app.store.errors import DocumentDamagedError
from sync.bundle.sealing import recipient_context, sender_context

KEY_LENGTH = 32
EPOCH_LENGTH = 2
_TAG_LENGTH = 16
_WRAPPING = b"exam-register key v1"
_INDEX = b"exam-register index v1"
# So many letters of a longer word have a value of their own.
BEGINNING = 3


def station_id(agreement_key: bytes) -> str:
    """Name a station by its X25519 public key, 32 hexadecimal digits."""
    return door.sha256(b"exam-register station v1" + agreement_key).hex()[:32]


def wrap(data_key: bytes, epoch: int, register_id: bytes, station_key: bytes) -> bytes:
    """Seal a data key to a station."""
    bound = _bound(epoch, register_id, station_id(station_key))
    encapsulated, context = sender_context(station_key, bound, door.random_bytes)
    return encapsulated + door.seal(context.key, context.nonce, data_key, b"")


def unwrap(sealed: bytes, epoch: int, register_id: bytes, private: bytes) -> bytes:
    """Open a data key with a station's private key.

    Raises:
        NoStationError: It was sealed to another one, or changed.
    """
    own = station_id(door.agreement_public_key(private))
    try:
        context = recipient_context(
            sealed[:KEY_LENGTH], private, _bound(epoch, register_id, own)
        )
        return door.unseal(context.key, context.nonce, sealed[KEY_LENGTH:], b"")
    except CryptoError as error:
        raise NoStationError("its key does not open the register's") from error


def _bound(epoch: int, register_id: bytes, station: str) -> bytes:
    return _WRAPPING + register_id + epoch.to_bytes(EPOCH_LENGTH) + station.encode()


@dataclass(frozen=True, slots=True)
class _Epoch:
    data_key: bytes
    bodies: Bodies
    index: bytes


class RowSealer:
    """Seals and opens what one clinic keeps in the register.

    Attributes:
        register_id: 16 bytes.
        newest: The epoch that seals.
    """

    def __init__(
        self, keys: Mapping[int, bytes], register_id: bytes, clinic: int
    ) -> None:
        """Take the data keys by epoch; at least one."""
        self.register_id = register_id
        self.newest = max(keys)
        self._clinic = clinic
        self._epochs = {
            epoch: _Epoch(
                key,
                Bodies(key, register_id),
                door.hkdf_sha256(key, register_id, _INDEX, KEY_LENGTH),
            )
            for epoch, key in keys.items()
        }
        self._blind = lru_cache(8192)(self._made_blind)

    @property
    def data_key(self) -> bytes:
        """The newest data key."""
        return self._epochs[self.newest].data_key

    @property
    def first_key(self) -> bytes:
        """The oldest data key that is still known."""
        return self._epochs[min(self._epochs)].data_key

    def of_clinic(self, clinic: int) -> "RowSealer":
        """Give what opens the rows of another clinic of the network."""
        keys = {epoch: one.data_key for epoch, one in self._epochs.items()}
        return RowSealer(keys, self.register_id, clinic)

    def seal(self, part: str, kind: str, document_id: str, plain: bytes) -> bytes:
        """Seal a part of a document, bound to clinic, part, kind and id.

        Args:
            part: ``row`` or ``body``, or the name of another column.
        """
        bodies = self._epochs[self.newest].bodies
        sealed = bodies.seal(self._place(part, kind), document_id, plain)
        return self.newest.to_bytes(EPOCH_LENGTH) + sealed

    def open(self, part: str, kind: str, document_id: str, sealed: bytes) -> bytes:
        """Open what ``seal`` gave for the same place.

        Raises:
            DocumentDamagedError: It is not what stood there, or of an unknown key.
        """
        epoch = self._epochs.get(int.from_bytes(sealed[:EPOCH_LENGTH]))
        if epoch is None or len(sealed) < EPOCH_LENGTH + _TAG_LENGTH:
            raise DocumentDamagedError("sealed with a key that is not known here")
        rest, tag = sealed[EPOCH_LENGTH:], sealed[-_TAG_LENGTH:]
        return epoch.bodies.open(self._place(part, kind), document_id, rest, tag)

    def _place(self, part: str, kind: str) -> str:
        return f"{self._clinic}/{part}/{kind}"

    def terms_of(self, text: str, marks: Iterable[str]) -> list[int]:
        """Give the blind values by which an animal is found.

        Args:
            text: Its words, normalised, as the animals' own table has them.
            marks: What another animal shares only if it may be the same.
        """
        words = set(text.split())
        values = {self._blind(self.newest, f"word {word}") for word in words}
        begun = {word[:BEGINNING] for word in words if len(word) > BEGINNING}
        values |= {self._blind(self.newest, f"begin {word}") for word in begun}
        values |= {self._blind(self.newest, f"mark {mark}") for mark in marks}
        return sorted(values)

    def words(self, words: Iterable[str]) -> list[list[int]]:
        """Give, for each epoch, the blind values of whole words."""
        return self._each("word", words)

    def beginnings(self, words: Sequence[str]) -> list[list[int]]:
        """Give, for each epoch, the blind values where one word is only begun.

        Each long enough word in turn is the one; its value stands first.
        """
        return [
            [self._blind(epoch, f"begin {word[:BEGINNING]}"), *others]
            for epoch in self._epochs
            for at, word in enumerate(words)
            if len(word) >= BEGINNING
            for others in [
                [
                    self._blind(epoch, f"word {other}")
                    for other in (*words[:at], *words[at + 1 :])
                ]
            ]
        ]

    def marks(self, mark: str) -> list[int]:
        """Give the blind values of a mark, one an epoch."""
        return [self._blind(epoch, f"mark {mark}") for epoch in self._epochs]

    def _each(self, what: str, words: Iterable[str]) -> list[list[int]]:
        said = list(words)
        return [
            [self._blind(epoch, f"{what} {word}") for word in said]
            for epoch in self._epochs
        ]

    def _made_blind(self, epoch: int, text: str) -> int:
        key, text = self._epochs[epoch].index, f"{self._clinic} {text}"
        digest = hmac.digest(key, text.encode("utf-8", "surrogatepass"), "sha256")
        return int.from_bytes(digest[:8], signed=True)

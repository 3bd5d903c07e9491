"""The manifest: what the sender signed about a bundle, for one recipient."""

import contextlib
from dataclasses import dataclass
from enum import StrEnum

from exam_app.crypto.curve_points import check_signing_key
from exam_app.crypto.errors import CryptoError
from exam_app.domain.moments import Moment
from exam_app.record.cose import Kind, claimed_key_id
from exam_app.record.errors import RecordError
from sync.errors import BadManifestError, BundleNotMadeError, NotABundleError
from sync.trust.signed_fields import open_fields, sign_fields

_KIND, _SENDER_ID, _SEQUENCE, _MADE, _RECIPIENT_KEY = range(1, 6)
_CONTENTS_HASH, _EXAM_COUNT, _NOTE_COUNT, _IS_DEMO, _SIGNERS = range(6, 11)
LARGEST_MANIFEST = 32_768
MOST_SIGNERS = 64
LONGEST_SIGNER_NAME = 80


class BundleKind(StrEnum):
    """Which way a bundle goes."""

    EXAMS = "exams"
    DAY_PACK = "day pack"


_KINDS = (BundleKind.EXAMS, BundleKind.DAY_PACK)


@dataclass(frozen=True, slots=True)
class Manifest:
    """What the sender signed.

    Attributes:
        sender_id: Device or clinic id, 32 hexadecimal digits.
        sequence: The sender's count of bundles, from one.
        recipient_key: X25519 public key it was made for, 32 bytes.
        contents_hash: SHA-256 over all contents, in hexadecimal.
        exam_count: How many signed exams it holds.
        note_count: How many signed notes.
        record_hashes: SHA-256 of each signed exam, in order, in hexadecimal; not
            signed one by one, the contents' hash covers them, and empty until the
            contents were compared with it.
        note_hashes: The same of each signed note.
        signers: Ed25519 public keys that the sender vouches for, each with what it
            calls the device; of a day pack only.
    """

    kind: BundleKind
    sender_id: str
    sequence: int
    made: Moment
    recipient_key: bytes
    contents_hash: str
    exam_count: int
    note_count: int
    is_demo: bool
    record_hashes: tuple[str, ...] = ()
    note_hashes: tuple[str, ...] = ()
    signers: tuple[tuple[bytes, str], ...] = ()

    @property
    def signed_hashes(self) -> tuple[str, ...]:
        """Exams, then notes: the order of a receipt's lines."""
        return self.record_hashes + self.note_hashes


def sign_manifest(manifest: Manifest, seed: bytes) -> bytes:
    """Return the manifest as signed by its sender.

    Raises:
        BundleNotMadeError: The sequence is out of range, or there are too many signers.
    """
    if len(manifest.signers) > MOST_SIGNERS:
        raise BundleNotMadeError(f"more than {MOST_SIGNERS} signers")
    fields: dict[int, object] = {
        _KIND: _KINDS.index(manifest.kind) + 1,
        _SENDER_ID: bytes.fromhex(manifest.sender_id),
        _SEQUENCE: manifest.sequence,
        _MADE: [manifest.made.utc_ms, manifest.made.offset_min],
        _RECIPIENT_KEY: manifest.recipient_key,
        _CONTENTS_HASH: bytes.fromhex(manifest.contents_hash),
        _EXAM_COUNT: manifest.exam_count,
        _NOTE_COUNT: manifest.note_count,
    }
    if manifest.is_demo:
        fields[_IS_DEMO] = True
    if manifest.signers:
        named = [(key, name[:LONGEST_SIGNER_NAME]) for key, name in manifest.signers]
        fields[_SIGNERS] = [[key, name] for key, name in named]
    return sign_fields(Kind.MANIFEST, fields, seed)


def signer_of(signed: bytes) -> bytes:
    """Return whose key is said to have signed a manifest.

    Raises:
        NotABundleError: It is no signed object.
    """
    try:
        return claimed_key_id(signed)
    except RecordError as error:
        raise NotABundleError("it has no manifest") from error


def read_manifest(signed: bytes, public_key: bytes) -> Manifest:
    """Verify a manifest and return what it says.

    Raises:
        BadManifestError: Another key signed it, it was changed, or has another form.
        BundleTooNewError: A newer version made it.
    """
    fields = open_fields(signed, Kind.MANIFEST, public_key, BadManifestError)
    kind, sequence = fields.count(_KIND), fields.count(_SEQUENCE)
    if not 1 <= kind <= len(_KINDS) or sequence == 0:
        raise BadManifestError("its kind or sequence is none")
    return Manifest(
        kind=_KINDS[kind - 1],
        sender_id=fields.hexadecimal(_SENDER_ID, 16),
        sequence=sequence,
        made=Moment(*fields.moment_parts(_MADE)),
        recipient_key=fields.octets(_RECIPIENT_KEY, 32),
        contents_hash=fields.hexadecimal(_CONTENTS_HASH, 32),
        exam_count=fields.count(_EXAM_COUNT),
        note_count=fields.count(_NOTE_COUNT),
        is_demo=fields.flag(_IS_DEMO),
        signers=tuple(map(_signer, fields.items(_SIGNERS, MOST_SIGNERS))),
    )


def _signer(entry: object) -> tuple[bytes, str]:
    match entry:
        case [bytes(key), str(name)] if len(name) <= LONGEST_SIGNER_NAME:
            with contextlib.suppress(CryptoError):
                check_signing_key(key)
                return key, name
    raise BadManifestError("a signer has another form")

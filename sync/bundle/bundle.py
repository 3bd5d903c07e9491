"""A bundle: signed records and what belongs to them, sealed to one recipient.

Order of checks on opening: size, header, seal, inflating within bounds, the manifest's
signature and that it was made for this recipient, then that the contents are those it
signed. Nothing of the contents is put together before a known sender's signature fits,
and nothing parsed before its hash does. The records inside are verified by whoever
receives them.
"""

import contextlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from exam_app.crypto import door
from exam_app.crypto.curve_points import check_signing_key
from exam_app.crypto.errors import CryptoError
from exam_app.domain.moments import Moment
from exam_app.record.cose import Kind, claimed_key_id
from exam_app.record.errors import RecordError
from sync.bundle.contents import Contents, hashes_of, read_contents, write_contents
from sync.bundle.packing import (
    NEWEST_PACKING,
    OLDEST_PACKING,
    Part,
    Unpacking,
    join_parts,
    pack,
)
from sync.bundle.sealing import LARGEST_SEALED, Random, SealedKind, seal_to, unseal
from sync.errors import (
    BadManifestError,
    BundleNotMadeError,
    BundleTooLargeError,
    DemoRefusedError,
    NotABundleError,
    RevokedDeviceError,
    UnknownDeviceError,
    WrongRecipientError,
)
from sync.receipts import receipt_code
from sync.trust.signed_fields import (
    COUNT,
    FLAG,
    MOMENT,
    PACKING,
    Form,
    Numbered,
    hexadecimal,
    items,
    numbered,
    octets,
    open_fields,
    sign_fields,
)

PublicKeyOf = Callable[[bytes], bytes | None]
LARGEST_MANIFEST = 32_768
MOST_SIGNERS = 64
LONGEST_SIGNER_NAME = 80


class BundleKind(StrEnum):
    """Which way a bundle goes."""

    EXAMS = "exams"
    DAY_PACK = "day pack"


# On the wire a kind is its place here, from one.
_KINDS = (BundleKind.EXAMS, BundleKind.DAY_PACK)
_SEALED_KINDS = dict(zip(_KINDS, SealedKind, strict=False))


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
        packing: The newest packing that the sender reads.
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
    packing: int = OLDEST_PACKING

    @property
    def signed_hashes(self) -> tuple[str, ...]:
        """Exams, then notes: the order of a receipt's lines."""
        return self.record_hashes + self.note_hashes


def _read_kind(number: int) -> BundleKind:
    if not 1 <= number <= len(_KINDS):
        raise BadManifestError("its kind is none")
    return _KINDS[number - 1]


def _read_signer(entry: object) -> tuple[bytes, str]:
    match entry:
        case [bytes(key), str(name)] if len(name) <= LONGEST_SIGNER_NAME:
            with contextlib.suppress(CryptoError):
                check_signing_key(key)
                return key, name
    raise BadManifestError("a signer has another form")


def _write_signer(signer: tuple[bytes, str]) -> list[object]:
    return [signer[0], signer[1][:LONGEST_SIGNER_NAME]]


_FIELDS = (
    Numbered(1, "kind", Form(COUNT.fits, _read_kind, lambda k: _KINDS.index(k) + 1)),
    Numbered(2, "sender_id", hexadecimal(16)),
    Numbered(3, "sequence", Form(lambda value: COUNT.fits(value) and value > 0)),
    Numbered(4, "made", MOMENT),
    Numbered(5, "recipient_key", octets(32)),
    Numbered(6, "contents_hash", hexadecimal(32)),
    Numbered(7, "exam_count", COUNT),
    Numbered(8, "note_count", COUNT),
    Numbered(9, "is_demo", FLAG, left_out=False),
    Numbered(10, "signers", items(MOST_SIGNERS, _read_signer, _write_signer), ()),
    Numbered(11, "packing", PACKING, OLDEST_PACKING),
)


def sign_manifest(manifest: Manifest, seed: bytes) -> bytes:
    """Return the manifest as signed by its sender.

    Raises:
        BundleNotMadeError: The sequence is out of range, or there are too many signers.
    """
    if len(manifest.signers) > MOST_SIGNERS:
        raise BundleNotMadeError(f"more than {MOST_SIGNERS} signers")
    return sign_fields(Kind.MANIFEST, numbered(manifest, _FIELDS), seed)


def read_manifest(signed: bytes, public_key: bytes) -> Manifest:
    """Verify a manifest and return what it says.

    Raises:
        BadManifestError: Another key signed it, it was changed, or has another form.
        BundleTooNewError: A newer version made it.
    """
    fields = open_fields(signed, Kind.MANIFEST, public_key, BadManifestError)
    return Manifest(**fields.named(_FIELDS))


@dataclass(frozen=True, slots=True)
class SealedBundle:
    """A bundle ready to go.

    Attributes:
        sealed: The bytes that travel.
        bundle_hash: SHA-256 of ``sealed``, in hexadecimal.
        receipt_code: What the clinic shows once everything is stored; keep it secret.
    """

    sealed: bytes
    bundle_hash: str
    receipt_code: str
    manifest: Manifest


@dataclass(frozen=True, slots=True)
class OpenedBundle:
    """A verified bundle; the records inside are not yet verified.

    Attributes:
        key_id: Which key signed the manifest.
        receipt_secret: 32 bytes that only sender and opener can derive.
    """

    manifest: Manifest
    contents: Contents
    key_id: bytes
    bundle_hash: str
    receipt_secret: bytes


def seal_bundle(
    kind: BundleKind,
    contents: Contents,
    *,
    sequence: int,
    made: Moment,
    sender_id: str,
    seed: bytes,
    recipient_key: bytes,
    is_demo: bool,
    random: Random,
    signers: tuple[tuple[bytes, str], ...] = (),
    packing: int = NEWEST_PACKING,
) -> SealedBundle:
    """Sign and seal contents to one recipient.

    Args:
        sequence: The sender's next number, stored before this is called.
        seed: The sender's 32-byte Ed25519 seed.
        recipient_key: X25519 public key, 32 bytes.
        random: Gives so many random bytes; never the same twice.
        signers: Keys that the sender vouches for, with names; in a day pack only.
        packing: The newest that the recipient is known to read.

    Raises:
        BundleNotMadeError: Something has no place in such a bundle.
        BundleTooLargeError: A limit is passed.
    """
    if contents.receipts and kind is not BundleKind.DAY_PACK:
        raise BundleNotMadeError("receipts go in a day pack only")
    if contents.privates and kind is not BundleKind.EXAMS:
        raise BundleNotMadeError("private notes go to the clinic only")
    content = write_contents(contents)
    manifest = Manifest(
        kind=kind,
        sender_id=sender_id,
        sequence=sequence,
        made=made,
        recipient_key=recipient_key,
        contents_hash=door.sha256(content).hex(),
        exam_count=len(contents.records),
        note_count=len(contents.notes),
        is_demo=is_demo,
        record_hashes=hashes_of(contents.records),
        note_hashes=hashes_of(contents.notes),
        signers=signers,
        packing=NEWEST_PACKING,
    )
    signed = join_parts([(Part.MANIFEST, sign_manifest(manifest, seed))])
    packed = pack(signed + content, packing)
    sealed, secret = seal_to(_SEALED_KINDS[kind], recipient_key, packed, random)
    if len(sealed) > LARGEST_SEALED:
        raise BundleTooLargeError(f"more than {LARGEST_SEALED} bytes")
    bundle_hash = door.sha256(sealed).hex()
    code = receipt_code(secret, bundle_hash)
    return SealedBundle(sealed, bundle_hash, code, manifest)


def open_bundle(
    sealed: bytes, agreement_private: bytes, public_key_of: PublicKeyOf
) -> OpenedBundle:
    """Open and verify a bundle; the records inside are not yet verified.

    Args:
        agreement_private: The recipient's 32-byte X25519 private key.
        public_key_of: Gives the Ed25519 public key of a key id, or ``None``.

    Raises:
        BundleTooLargeError: It, or what it unpacks to, passes a limit.
        NotABundleError: It is none, damaged, or cut off.
        BundleTooNewError: A newer version made it.
        WrongRecipientError: It was made for somebody else.
        UnknownDeviceError: The sender's key is not known here.
        BadManifestError: It does not hold what its sender signed.
    """
    unsealed = unseal(sealed, agreement_private)
    if unsealed.kind not in _SEALED_KINDS.values():
        raise NotABundleError("it is a pairing card or a photograph")
    unpacking = Unpacking(unsealed.plain)
    kind, signed = unpacking.first(LARGEST_MANIFEST)
    if kind is not Part.MANIFEST:
        raise NotABundleError("it has no manifest")
    try:
        key_id = claimed_key_id(signed)
    except RecordError as error:
        raise NotABundleError("it has no manifest") from error
    public_key = public_key_of(key_id)
    if public_key is None:
        raise UnknownDeviceError(f"key {key_id.hex()}")
    claims = read_manifest(signed, public_key)
    if _SEALED_KINDS[claims.kind] is not unsealed.kind:
        raise BadManifestError("it was signed as another kind")
    if claims.recipient_key != door.agreement_public_key(agreement_private):
        raise WrongRecipientError("its sender made it for another key")
    # Only now: a stranger's bundle must not cost more than its manifest.
    content = unpacking.rest()
    if door.sha256(content).hex() != claims.contents_hash:
        raise BadManifestError("its contents are not those that were signed")
    contents = read_contents(content)
    bundle_hash = door.sha256(sealed).hex()
    manifest = _complete(claims, contents)
    return OpenedBundle(manifest, contents, key_id, bundle_hash, unsealed.secret)


def refuse_demo(manifest: Manifest, *, is_demo_here: bool) -> None:
    """Refuse invented records at a real place, and real ones at a demo.

    Raises:
        DemoRefusedError: They do not belong together.
    """
    if manifest.is_demo is not is_demo_here:
        raise DemoRefusedError("demo and real do not meet")


def refuse_revoked(manifest: Manifest, revoked_after: int | None) -> None:
    """Refuse what a revoked device made after its last good sequence.

    Args:
        revoked_after: The last good sequence, or ``None`` for a device in use.

    Raises:
        RevokedDeviceError: Put the bundle into quarantine.
    """
    if revoked_after is not None and manifest.sequence > revoked_after:
        raise RevokedDeviceError(f"{manifest.sequence}, good until {revoked_after}")


def _complete(claims: Manifest, contents: Contents) -> Manifest:
    counts = (len(contents.records), len(contents.notes))
    if counts != (claims.exam_count, claims.note_count):
        raise BadManifestError("its counts are not those that were signed")
    if contents.receipts and claims.kind is not BundleKind.DAY_PACK:
        raise NotABundleError("receipts go in a day pack only")
    if contents.privates and claims.kind is not BundleKind.EXAMS:
        raise NotABundleError("private notes go to the clinic only")
    record_hashes, note_hashes = map(hashes_of, (contents.records, contents.notes))
    return replace(claims, record_hashes=record_hashes, note_hashes=note_hashes)

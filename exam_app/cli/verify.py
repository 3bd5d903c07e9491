"""Verify one file with the keys known here, and say what it is; changes nothing."""

from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any, ClassVar

from exam_app.crypto import door
from exam_app.crypto.errors import CryptoError
from exam_app.domain.errors import ExamError
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.visible_text import visible
from exam_app.exchange.arriving import plan_arrival
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import open_known
from exam_app.exchange.pairings import REVOKED
from exam_app.exchange.photographs import open_known_photograph
from exam_app.exchange.protocols import protocol_lookup, shipped_protocol
from exam_app.exchange.signed_notes import COUNTS_NOT, SignedNote, signer_of
from exam_app.record.cose import Kind, open_record
from exam_app.record.notes import NoteKind
from exam_app.record.records import read_exam, read_note
from exam_app.store.engine.read_files import ReadFile
from exam_app.store.vault.folder import reaching
from exam_app.store.vault.vault import Vault
from sync.photographs import is_photograph
from sync.receipts import KEPT_OUTCOMES
from sync.transport.folder_reading import LARGEST_FILE
from sync.trust.words import compared_words

# How every signed object begins: tag 18, an array of four.
_SIGNED = b"\xd2\x84"


class FileTooLargeError(ExamError):
    """A file that is larger than anything that can be verified."""

    advice: ClassVar[str] = (
        "This file is larger than any record, note, receipt or hand-over can be. It "
        "was not read and nothing was changed. Look at the name of the file."
    )


def read_to_verify(path: Path) -> bytes:
    """Read an ordinary file, however write-protected, that may be one of ours.

    Raises:
        UnreadableFileError: It is missing, or no ordinary file.
        FileTooLargeError: It is none of ours.
    """
    with closing(ReadFile(path)) as file, reaching():
        if file.size() > LARGEST_FILE:
            raise FileTooLargeError(f"more than {LARGEST_FILE} bytes")
        return file.read_at(0, LARGEST_FILE)


def verify_file(content: bytes, vault: Vault | None, key: str | None) -> dict[str, Any]:
    """Return ``verified``, ``kind``, ``sha256`` and what else can be said.

    Args:
        content: Of the file.
        vault: Open, unless a key is given.
        key: An Ed25519 public key in hexadecimal.
    """
    result = {"sha256": door.sha256(content).hex(), "verified": False, "kind": ""}
    try:
        known = Exchange(vault).signing_keys() if vault else []
        keys = [bytes.fromhex(key)] if key else known
        return {**result, **_verify(content, vault, keys)}
    except (ExamError, CryptoError) as error:
        said = {"error": type(error).__name__, "advice": error.advice}
        return {**result, **said}
    except ValueError:
        advice = "The key is no hexadecimal text of 64 digits. Nothing was verified."
        return {**result, "error": "NoKey", "advice": advice}


def _verify(
    content: bytes, vault: Vault | None, keys: Sequence[bytes]
) -> dict[str, Any]:
    if vault is not None and not content.startswith(_SIGNED):
        return _bundle(content, vault)
    opened = open_record(content, keys)
    kind = opened.kind
    said = {
        "sha256": door.sha256(content).hex(),
        "verified": True,
        "kind": kind.value,
        "key_id": opened.key_id.hex(),
        # As a printed copy of a record has them.
        "words": " ".join(compared_words(door.sha256(content))),
        "key_words": " ".join(compared_words(opened.key_id)),
    }
    if kind is Kind.EXAM:
        exam = _exam(content, vault, keys)
        kept = vault and vault.closed.get(exam["exam_id"], str(said["sha256"]))
        return {**said, **exam, **_revoked(vault, opened.key_id, is_kept=bool(kept))}
    if kind is Kind.NOTE:
        note = read_note(content, keys).note
        is_kept = vault is not None and content in vault.notes.for_exam(note.exam_id)
        said |= _revoked(vault, opened.key_id, is_kept=is_kept)
        what = f"{note.kind.value} by {visible(note.author.name)}"
        if vault is None:
            return {**said, "exam_id": note.exam_id, "what": what}
        signed = SignedNote(note, signer_of(vault, opened.key_id))
        more = {"signed_by": signed.signer.name, "acknowledges": signed.acknowledges}
        words = f"{what}, signed by {signed.signer.name}"
        # As everywhere, what another computer calls acknowledged is not.
        counts = note.kind is not NoteKind.ACKNOWLEDGEMENT or signed.acknowledges
        what = words if counts else f"{words}. {COUNTS_NOT}"
        return {**said, **more, "exam_id": note.exam_id, "what": what}
    return {**said, "what": kind.value}


def _revoked(
    vault: Vault | None,
    key_id: bytes,
    *,
    is_kept: bool = False,
    sequence: int | None = None,
) -> dict[str, Any]:
    """Say that the device whose key fits is trusted no more, if it is so.

    Args:
        vault: Open, or None where a key was given.
        key_id: Of the key that fits.
        is_kept: Whether the very bytes are among the records here.
        sequence: Of a bundle.
    """
    device = None if vault is None else Exchange(vault).pairing.device_of_key(key_id)
    if device is None or device.state != REVOKED:
        return {}
    after, name = device.revoked_after or 0, visible(device.name)
    when = Moment(device.revoked_ms or 0).date_and_time()
    by = visible(device.revoked_by or "somebody")
    is_good = is_kept if sequence is None else sequence <= after
    if sequence is not None:
        what = "This is one of them." if is_good else "This is none of them."
    else:
        what = "This one is among the records here." if is_kept else "This one is not."
    words = (
        f"The signature fits, but {by} ended the trust in the device “{name}” on "
        f"{when}; its bundles up to number {after} count. {what}"
    )
    return {"revoked": words, "is_doubtful": not is_good}


def _exam(content: bytes, vault: Vault | None, keys: Sequence[bytes]) -> dict[str, Any]:
    def shipped(content_hash: str) -> SpeciesProtocol | None:
        found = shipped_protocol(content_hash)
        return found.protocol if found else None

    lookup = shipped if vault is None else protocol_lookup(vault)
    exam = read_exam(content, keys, lookup).exam
    closed = exam.closing.at.date_and_time() if exam.closing else ""
    what = f"exam of {exam.animal.species}, closed {closed}, revision {exam.revision}"
    return {"exam_id": exam.exam_id, "revision": exam.revision, "what": what}


def _bundle(content: bytes, vault: Vault) -> dict[str, Any]:
    exchange = Exchange(vault)
    if is_photograph(content):
        photograph, device = open_known_photograph(exchange, content)
        what = f"photograph {photograph.label.sha256[:12]} of {device.name}"
        said = {"verified": True, "kind": "photograph", "what": what}
        said |= _revoked(vault, photograph.key_id, is_kept=False)
        return {**said, "key_id": photograph.key_id.hex()}
    opened, device = open_known(exchange, content)
    plan = plan_arrival(exchange, opened, device)
    outcomes = {key: outcome.value for key, outcome in plan.outcomes.items()}
    is_good = all(outcome in KEPT_OUTCOMES for outcome in plan.outcomes.values())
    manifest = opened.manifest
    what = f"bundle {manifest.sequence} of {device.name}, {manifest.exam_count} exams"
    said = {"verified": is_good, "kind": manifest.kind.value, "what": what}
    said |= _revoked(vault, opened.key_id, sequence=manifest.sequence)
    return {**said, "key_id": opened.key_id.hex(), "would_be": outcomes}

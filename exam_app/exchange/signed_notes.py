"""Notes beside a record, each with the computer whose key signed it.

A note's author is a claim that its computer vouches for. Only the clinic's own key
makes an acknowledgement count: whoever holds a paired device can write any name above
a note, so a note of another computer always says which one signed it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from exam_app.domain.wording.visible_text import visible
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.pairings import REVOKED
from exam_app.language.catalogue import to_translate, tr
from exam_app.record.cose import key_id_of
from exam_app.record.errors import RecordError
from exam_app.record.notes import Note, NoteKind
from exam_app.record.records import read_note
from exam_app.store.vault.vault import Vault

COUNTS_NOT = to_translate("It does not count as acknowledged.")


@dataclass(frozen=True, slots=True)
class Signer:
    """Whose key signed something.

    Attributes:
        name: In words, after "signed by".
        is_clinic: Whether it is the clinic's own key.
        revoked_by: Who ended the trust in it; empty while it is trusted.
    """

    name: str
    is_clinic: bool = False
    revoked_by: str = ""

    @property
    def words(self) -> str:
        """Name a signer that is not the clinic; empty for the clinic."""
        if self.is_clinic:
            return ""
        if self.revoked_by:
            return tr(
                "signed by {name}, which {person} trusts no more, not by the clinic",
                name=self.name,
                person=self.revoked_by,
            )
        return tr("signed by {name}, not by the clinic", name=self.name)


@dataclass(frozen=True, slots=True)
class SignedNote:
    """A verified note with its signer."""

    note: Note
    signer: Signer

    @property
    def acknowledges(self) -> bool:
        """Whether it makes the record it names an acknowledged one."""
        is_kind = self.note.kind is NoteKind.ACKNOWLEDGEMENT
        return is_kind and self.signer.is_clinic

    @property
    def signed_words(self) -> str:
        """Say who signed it, where that was not the clinic, and what that means."""
        words = self.signer.words
        if words and self.note.kind is NoteKind.ACKNOWLEDGEMENT:
            return f"{words[0].upper()}{words[1:]}. {tr(COUNTS_NOT)}"
        return f"{words[0].upper()}{words[1:]}." if words else ""


def is_own_key(vault: Vault, key_id: bytes) -> bool:
    """Whether it is the id of this computer's key, or of one that it had before."""
    return key_id in map(key_id_of, Exchange(vault).own_keys())


def signer_of(vault: Vault, key_id: bytes) -> Signer:
    """Name the computer whose key has this id, as far as it is known here."""
    exchange, is_clinic_here = Exchange(vault), vault.settings.get("role") == "clinic"
    if is_own_key(vault, key_id):
        name = tr("this computer") if is_clinic_here else tr("this device")
        return Signer(name, is_clinic_here)
    clinic = exchange.pairing.clinic()
    if clinic is not None and key_id == key_id_of(clinic.signing_key):
        return Signer(
            tr("the clinic “{name}”", name=visible(clinic.name)), is_clinic=True
        )
    device = exchange.pairing.device_of_key(key_id)
    if device is not None:
        name = tr("the device “{name}”", name=visible(device.name))
        by = device.revoked_by or tr("somebody") if device.state == REVOKED else ""
        return Signer(name, revoked_by=visible(by))
    mark = key_id.hex()[:8]
    name = tr("another device, key {mark}", mark=" ".join((mark[:4], mark[4:])))
    told = exchange.vouched_name(key_id)
    return Signer(tr("the device “{name}”", name=visible(told)) if told else name)


def notes_of(vault: Vault, exam_id: str) -> tuple[tuple[SignedNote, ...], int]:
    """Read every note of an exam whose signature fits, oldest first.

    Returns:
        The notes, and how many more are kept here but cannot be verified.
    """
    known, notes, unread = Exchange(vault).signing_keys(), [], 0
    for signed in vault.notes.for_exam(exam_id):
        try:
            read = read_note(signed, known)
        except RecordError:
            unread += 1
        else:
            notes.append(SignedNote(read.note, signer_of(vault, read.key_id)))
    return tuple(sorted(notes, key=lambda one: one.note.written.utc_ms)), unread


def acknowledgements(
    notes: Sequence[SignedNote], exam_hash: str
) -> tuple[SignedNote, ...]:
    """Return the notes that acknowledge exactly this record, oldest first."""
    about = (one for one in notes if one.note.exam_hash == exam_hash)
    return tuple(one for one in about if one.acknowledges)

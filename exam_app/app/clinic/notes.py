"""Signed notes on a record: acknowledge, ask for a re-check, add words.

A note names the exam and the hash of the very bytes it was written about, so that an
acknowledgement never covers a revision that its author has not seen. The device that
made the exam gets the same signed bytes back.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from exam_app.app.queries.kept_records import KeptRecord
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import (
    Correction,
    Exam,
    keys_in_scope,
    vitals_in_scope,
    words_for,
)
from exam_app.domain.exam.findings import Call
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.review import region_label, vital_label
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.exam_wording import known_words
from exam_app.domain.wording.pressing_words import finding_words, value_lines
from exam_app.domain.wording.written_record import Section
from exam_app.exchange.erasing import REASONS
from exam_app.exchange.signed_notes import (
    SignedNote,
    acknowledgements,
    notes_of,
    signer_of,
)
from exam_app.language.catalogue import to_translate, tr
from exam_app.record.cose import claimed_key_id
from exam_app.record.notes import Note, NoteKind
from exam_app.record.records import sign_note
from exam_app.store.vault.vault import Vault

KIND_WORDS = {
    NoteKind.ADDENDUM: to_translate("Note"),
    NoteKind.ACKNOWLEDGEMENT: to_translate("Acknowledged"),
    NoteKind.RECHECK_REQUEST: to_translate("Re-check asked for"),
}
_FROM_A_DEVICE = {
    NoteKind.ADDENDUM: to_translate("Note from a device"),
    # Nothing that another computer calls so is acknowledged.
    NoteKind.ACKNOWLEDGEMENT: to_translate("Acknowledgement from a device"),
    NoteKind.RECHECK_REQUEST: to_translate("Re-check asked for from a device"),
}
OTHER_VERSION = to_translate("About another version of this record: ")


class EmptyNoteError(ExamError):
    """A note or a re-check request says nothing."""

    advice: ClassVar[str] = to_translate(
        "Nothing was written or chosen. Nothing was stored. "
        "Write what is meant, or choose the parts to look at again."
    )


@dataclass(frozen=True, slots=True)
class ShownNote:
    """A verified note as a line and the words under it.

    Attributes:
        is_about_this: Whether it names the record that is shown, and not another
            version of the same exam.
    """

    title: str
    text: str
    is_about_this: bool


def write_note(
    kind: NoteKind,
    kept: KeptRecord,
    author: Person,
    at: Moment,
    note_id: str,
    *,
    text: str = "",
    asks_for: Sequence[str] = (),
    corrections: Sequence[Correction] = (),
) -> Note:
    """Write a note about exactly this record.

    Args:
        kind: What the note is for.
        kept: The record as it was read, with its hash.
        author: The person at the screen, as claimed.
        at: The present moment.
        note_id: New.
        text: In the author's words; only an acknowledgement may have none.
        asks_for: Region keys, and vitals as ``vital:ID``, in the record's order.
        corrections: What should read otherwise; its words stand in ``text`` too, for
            whoever reads nothing else.

    Raises:
        EmptyNoteError: It says nothing.
    """
    words = text.strip()
    if kind is not NoteKind.ACKNOWLEDGEMENT and not (words or asks_for):
        raise EmptyNoteError(kind.value)
    exam, asked = kept.exam, tuple(asks_for)
    about = (note_id, kind, exam.exam_id, kept.exam_hash, author, at)
    return Note(*about, words, asked, exam.is_demo, tuple(corrections))


def acknowledge_once(vault: Vault, note: Note) -> bool:
    """Sign and keep an acknowledgement, unless its author has given it already.

    Asked and kept inside one write, so that two keys or two taps give one note.

    Returns:
        Whether it was kept; false where this record already has it from this person.

    Raises:
        VaultError: Nothing was kept.
    """

    def acknowledge() -> bool:
        notes, _ = notes_of(vault, note.exam_id)
        given = acknowledgements(notes, note.exam_hash)
        if any(one.note.author.person_id == note.author.person_id for one in given):
            return False
        keep_note(vault, note)
        return True

    return vault.attempt(acknowledge)


def keep_note(vault: Vault, note: Note) -> bytes:
    """Sign a note and keep it; an acknowledgement shows in the list from then on.

    Returns:
        The signed bytes, which go back to the device.

    Raises:
        VaultError: Nothing was kept.
    """
    signed = sign_note(note, vault.settings.get("signing_key"))

    def keep() -> None:
        with vault.transaction():
            vault.notes.put(note.note_id, note.exam_id, signed)
            # On a device nothing counts that the clinic did not sign.
            if SignedNote(note, signer_of(vault, claimed_key_id(signed))).acknowledges:
                name = note.author.name
                vault.closed.acknowledge(note.exam_id, note.exam_hash, name)

    vault.attempt(keep)
    return signed


def show_note(
    signed: SignedNote,
    protocol: SpeciesProtocol,
    exam_hash: str,
    words: Role = Role.TECHNICIAN,
) -> ShownNote:
    """Say who wrote a note, when, on which device if not the clinic's, and what.

    Args:
        words: Whose words name the parts; plain ones for volunteers.
    """
    note = signed.note
    is_clinic = signed.signer.is_clinic
    kind = tr((KIND_WORDS if is_clinic else _FROM_A_DEVICE)[note.kind])
    if note.erased and is_clinic:
        kind = tr("Owner details erased")
    elif note.erased:
        kind = tr("Owner details erased on a device")
    role = tr(note.author.role.value)
    when = note.written.date_and_time()
    title = f"{kind}: {note.author.name}, {role}, {when}"
    asked = ", ".join(part_name(protocol, key, words) for key in note.asks_for)
    erased = ", ".join(map(tr, note.erased))
    lines = (
        signed.signed_words,
        tr("Look again at: {asked}", asked=asked) if asked else "",
        tr("Erased: {details}", details=erased) if erased else "",
        tr(note.text) if note.text in REASONS.values() else note.text,
    )
    text = "\n".join(line for line in lines if line)
    return ShownNote(title, text, note.exam_hash == exam_hash)


def notes_beside(vault: Vault, kept: KeptRecord) -> tuple[Section, ...]:
    """Return every note beside a record for a copy or an export, oldest first.

    Returns:
        A section for each: who, when, on which device as the heading, then the words.
    """
    notes, unread = notes_of(vault, kept.exam.exam_id)
    protocol, words = kept.loaded.protocol, words_for(kept.exam)
    shown = (show_note(one, protocol, kept.exam_hash, words) for one in notes)
    found = [
        Section(
            one.title if one.is_about_this else f"{tr(OTHER_VERSION)}{one.title}",
            tuple(one.text.splitlines()),
        )
        for one in shown
    ]
    if unread:
        found.append(
            Section(tr("{count} more that cannot be verified here", count=unread), ())
        )
    return tuple(found)


def corrections_beside(vault: Vault, kept: KeptRecord) -> tuple[Correction, ...]:
    """Return what signed notes about this very record say should read otherwise.

    Each names in its reason who says so, and on which device if not the clinic's.
    """
    notes, _ = notes_of(vault, kept.exam.exam_id)
    return tuple(
        replace(one, reason=_said_by(signed, one.reason))
        for signed in notes
        if signed.note.exam_hash == kept.exam_hash
        for one in signed.note.corrections
    )


def _said_by(signed: SignedNote, reason: str) -> str:
    note, words = signed.note, signed.signer.words
    who = f"{note.author.name}, {tr(note.author.role.value)}"
    parts = (reason, who, note.written.date_and_time(), words)
    return ", ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class AskedPart:
    """A vital or part that may be looked at again.

    Attributes:
        key: Of a region, or ``vital:ID``.
        doubt: Why it is in doubt in this record, in its own words; empty if it is not.
        undone: Why it was not done, or that it was done partly; empty if it was done.
    """

    key: str
    label: str
    doubt: str = ""
    undone: str = ""


def parts_to_ask_for(exam: Exam, protocol: SpeciesProtocol) -> tuple[AskedPart, ...]:
    """Return every vital and part, what is in doubt in this record first.

    In doubt is a value outside its ranges or confirmed though unusual, and a finding
    for a veterinarian; then what was not done or only partly; each in the record's
    order. Parts are named in the words that the exam speaks.
    """
    doubtful: list[AskedPart] = []
    undone: list[AskedPart] = []
    others: list[AskedPart] = []
    words, outside = words_for(exam), value_lines(exam, protocol)
    for vital in vitals_in_scope(exam, protocol):
        entry, key = exam.vital(vital.vital_id), f"vital:{vital.vital_id}"
        label = vital_label(vital, words)
        if vital.vital_id in outside:
            said = outside[vital.vital_id].removeprefix(label).strip()
            doubtful.append(AskedPart(key, label, said))
        elif entry.was_implausible_confirmed:
            doubtful.append(AskedPart(key, label, tr("unusual, confirmed")))
        elif entry.is_gap:
            undone.append(
                AskedPart(key, label, undone=known_words(entry.reason, protocol))
            )
        else:
            others.append(AskedPart(key, label))
    for key in keys_in_scope(exam, protocol):
        part, label = exam.entry(key), region_label(protocol, key, words)
        called = [one for one in part.findings if one.call is not Call.NOTED]
        if called:
            said = "; ".join(finding_words(key, one, protocol) for one in called)
            doubtful.append(AskedPart(key, label, said))
        elif part.is_gap:
            undone.append(AskedPart(key, label, undone=_why_undone(part, protocol)))
        else:
            others.append(AskedPart(key, label))
    return (*doubtful, *undone, *others)


def _why_undone(part: RegionEntry, protocol: SpeciesProtocol) -> str:
    return tr("only partly") if part.struck else known_words(part.reason, protocol)


def part_name(
    protocol: SpeciesProtocol, key: str, words: Role = Role.TECHNICIAN
) -> str:
    """Name a part or a vital; one the protocol does not know by its key.

    Args:
        words: Whose words; plain ones for volunteers.
    """
    if key.startswith("vital:"):
        vital_id = key.removeprefix("vital:")
        vital = protocol.vital(vital_id)
        return vital_label(vital, words) if vital else vital_id
    return region_label(protocol, key, words)

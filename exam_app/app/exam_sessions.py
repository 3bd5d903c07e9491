"""Where open exams are kept between screens: started, opened again, changed, saved.

An exam's editor lives as long as the app; after a restart it is built again from the
stored draft, so the address of an exam's screen always leads to the exam.

It is a convenience of this device and no part of the record: there each entry names
who wrote it.
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any, ClassVar

from exam_app.app.exam_editor import Change, Edit, ExamEditor
from exam_app.app.exam_settings import keep_of_exam, kept_of_exam
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.exam_view import SaveState
from exam_app.app.late_entry import recall_late_entry
from exam_app.app.practice_claims import with_practice_claims
from exam_app.app.practice_protocols import protocol_for
from exam_app.app.queries.earlier_reactions import earlier_reactions
from exam_app.app.session import Session
from exam_app.app.typed_entries import Typed
from exam_app.app.view.vital_presenter import beside_name, value_text
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.people import Person
from exam_app.domain.exam.review import vital_label
from exam_app.domain.exam.vital_transitions import MOST_SIGNS, clear_vital, record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital
from exam_app.exchange.protocols import protocol_by_hash
from exam_app.language.catalogue import to_translate, tr
from exam_app.protocols.loader import LoadedProtocol
from exam_app.record.ids_within import draw_id_within
from exam_app.record.plain_form import from_plain, to_plain
from exam_app.store.repositories.rows import open_projection
from exam_app.store.vault.vault import Vault

WRITERS = "writers"


def writer_of(vault: Vault, exam_id: str) -> Person | None:
    """Return who writes an exam down, if it is somebody else than the examiner."""
    person_id = kept_of_exam(vault, WRITERS, exam_id)
    return vault.people.get(person_id) if person_id else None


def keep_writer(vault: Vault, exam_id: str, writer: Person | None) -> None:
    """Keep who writes an exam down; exams that are no longer open are forgotten."""
    person_id = writer.person_id if writer else None
    keep_of_exam(vault, WRITERS, exam_id, person_id)


_KEPT_MEANWHILE = to_translate(
    "What you answered stays on this screen and is tried again with the next answer; "
    "do not close the app."
)


class ExamNotHereError(ExamError):
    """An address names an exam that is not open on this device."""

    advice: ClassVar[str] = to_translate(
        "This exam is not open on this device; it may be closed or discarded. "
        "Nothing was changed. Look for it in the day list, or under All records."
    )


class ProtocolNotHereError(ExamError):
    """The protocol an exam was started with is not kept here."""

    advice: ClassVar[str] = to_translate(
        "The species protocol this exam was started with is missing on this device. "
        "Nothing was changed. Restore a backup that holds it."
    )


@dataclass(slots=True, repr=False)
class VaultDraft:
    """Keeps one exam as a draft in the vault.

    Attributes:
        session: Where the vault is; asked each time, since unlocking opens a new one.
        before: The draft as it was read; fields unknown to this version survive.
    """

    session: Session
    protocol: SpeciesProtocol
    before: dict[str, Any] | None = None

    async def put(self, exam: Exam) -> None:
        """Keep the draft; returns after the commit."""
        await self.session.write(lambda: self.put_now(exam))

    def put_now(self, exam: Exam) -> None:
        """Keep the draft, from inside a write."""
        shown = open_projection(exam, self.protocol, now())
        plain = to_plain(exam, before=self.before)
        self.session.vault.drafts.put(exam.exam_id, plain, shown)


def now() -> Moment:
    """Return the present moment with the offset of this place."""
    return Moment.from_datetime(datetime.now().astimezone())


def new_id() -> str:
    """Return a new UUID as 32 hexadecimal digits."""
    return uuid.uuid4().hex


async def start_exam(
    session: Session,
    order: ExamOrder,
    loaded: LoadedProtocol | None = None,
    shaped: Callable[[Exam], Exam] = lambda exam: exam,
) -> ExamEditor:
    """Start an exam; it is stored, with its protocol, before this returns.

    Args:
        session: Who examines, and where it is stored.
        order: What was chosen; what the practice says otherwise is taken over.
        loaded: The protocol of the round that it belongs to; without one, the
            species' own of today.
        shaped: Makes of the new exam what the round asks.
    """
    loaded = loaded or protocol_for(session, order.animal.species)
    order = with_practice_claims(session.vault, order)
    its_hash, starter = loaded.content_hash, session.examiner
    exam = begin_exam(order, loaded.protocol, its_hash, starter, new_id(), now())
    return await keep_new(session, shaped(exam), loaded)


async def keep_new(session: Session, exam: Exam, loaded: LoadedProtocol) -> ExamEditor:
    """Store a new exam with the protocol it names, and give its editor."""
    drafts = VaultDraft(session, loaded.protocol)

    def store() -> None:
        with session.vault.transaction():
            session.vault.protocols.put(loaded.content_hash, loaded.content)
            drafts.put_now(exam)

    await session.save(store)
    return _admit(exam, loaded.protocol, session.examiner, drafts)


async def open_exam(session: Session, exam_id: str) -> ExamEditor:
    """Give the editor of an open exam; the draft is read when it is not in memory.

    Raises:
        ExamNotHereError: There is no such draft.
    """
    known = session.editors.get(exam_id)
    if known is not None and not known.exam.is_closed:
        _show_earlier(session, known)
        known.change_people(session.examiner, known.scribe)
        return known
    plain = await session.read(lambda: session.vault.drafts.get(exam_id))
    if plain is None or is_discarded(session.vault, exam_id):
        raise ExamNotHereError
    exam = from_plain(Exam, plain)
    protocol = protocol_of(session, exam).protocol
    drafts = VaultDraft(session, protocol, plain)
    editor = _admit(exam, protocol, session.examiner, drafts)
    editor.change_people(editor.examiner, writer_of(session.vault, exam_id))
    recall_late_entry(session.vault, editor)
    _show_earlier(session, editor)
    return editor


async def rename_animal(session: Session, animal_id: str, name: str) -> None:
    """Let the open exams of an animal go on with its new name.

    A correction keeps the name of the record that it corrects.
    """
    for row in session.vault.drafts.open():
        if row.animal_id == animal_id and row.name != name and not row.revision:
            editor = await open_exam(session, row.exam_id)
            await editor.rename(name)


def is_discarded(vault: Vault, exam_id: str) -> bool:
    """Whether an exam was discarded, and is kept to be put back."""
    return any(row.exam_id == exam_id for row in vault.drafts.discarded())


def _show_earlier(session: Session, editor: ExamEditor) -> None:
    """Show how the animal answered to the hands in its other exams."""
    exam = editor.exam
    editor.view.handling.earlier = earlier_reactions(
        session.vault, exam.animal.animal_id, exam.exam_id
    )


def protocol_of(session: Session, exam: Exam) -> LoadedProtocol:
    """Return the very protocol an exam names, by its hash.

    Raises:
        ProtocolNotHereError: No protocol of that hash is kept here.
    """
    found = protocol_by_hash(session.vault, exam.protocol_hash, exam.animal.species)
    if found is None:
        raise ProtocolNotHereError
    return found


async def change(
    session: Session,
    editor: ExamEditor,
    made: Change,
    message: str,
    observed: Moment | None = None,
    on_made: Callable[[], None] = lambda: None,
) -> bool:
    """Make one change as the person who examines now, and show how its save went.

    Args:
        observed: When it was seen, for a late entry.
        on_made: Called once the exam is changed, before it is saved: what is shown
            next need not wait for the disk.

    Returns:
        Whether the change was made; a refusal was shown to the person.
    """
    editor.change_people(session.examiner, editor.scribe)
    session.touch()
    before = editor.exam
    try:
        await editor.apply(made, message, observed, on_made)
    except ExamError as refusal:
        session.messages.refuse(refusal)
        return False
    show_save(session, editor)
    session.messages.exam_changed(editor, before)
    return True


def typed_in(session: Session, editor: ExamEditor, name: str, label: str) -> Typed:
    """Give what was typed in one form of an exam and not saved.

    Args:
        name: Names the form among those of this exam, in printable ASCII.
        label: Names it for a person.
    """
    return session.typed.at(f"{editor.exam.exam_id}/{name}", label)


def show_save(session: Session, editor: ExamEditor) -> None:
    """Write in the header whether the newest change is stored."""
    if editor.overview.save is SaveState.SAVED:
        session.messages.show_saved(
            tr("Saved {time}", time=datetime.now().astimezone().strftime("%H:%M:%S"))
        )
    elif editor.overview.save is SaveState.NOT_SAVED:
        session.messages.show_saved(tr("Not saved yet; kept here"), is_safe=False)
        session.messages.tell(f"{editor.overview.problem} {tr(_KEPT_MEANWHILE)}")


NOTHING_BACK = to_translate(
    "Nothing can be taken back: nothing was changed since the exam was opened here. "
    "What was answered before is changed at its own line."
)


async def undo(session: Session, editor: ExamEditor) -> None:
    """Take the last change back and tell which one it was."""
    undone = await editor.undo()
    show_save(session, editor)
    session.messages.tell(
        tr(NOTHING_BACK)
        if undone is None
        else tr("Taken back: {change}", change=undone or tr("the last step"))
    )


async def redo(session: Session, editor: ExamEditor) -> None:
    """Do again what was taken back last, and tell what it was."""
    done = await editor.redo()
    show_save(session, editor)
    if done is not None:
        session.messages.tell(
            tr("Done again: {change}", change=done or tr("the last step"))
        )


def _admit(
    exam: Exam, protocol: SpeciesProtocol, examiner: Person, drafts: VaultDraft
) -> ExamEditor:
    new_id_here = partial(draw_id_within, exam.exam_id)
    editor = ExamEditor(exam, protocol, examiner, drafts.put, now, new_id_here)
    drafts.session.editors[exam.exam_id] = editor
    return editor


async def record(
    session: Session,
    editor: ExamEditor,
    vital: Vital,
    entry: VitalEntry,
    *,
    is_repeat: bool = False,
) -> bool:
    """Record an answer and its flag; whether it was taken.

    Args:
        is_repeat: Whether it was counted or measured once more.
    """

    def made(exam: Exam, edit: Edit) -> Exam:
        ids = tuple(edit.new_id() for _ in range(MOST_SIGNS))
        name, by = vital.vital_id, edit.by
        return record_vital(
            exam, edit.protocol, name, entry, by, ids, is_repeat=is_repeat
        )

    # What was counted along here was counted now, whatever else is entered late.
    counted = editor.now() if entry.evidence else None
    return await change(session, editor, made, told(editor, vital, entry), counted)


async def take_back(session: Session, editor: ExamEditor, vital: Vital) -> bool:
    """Take the answer of a vital back; whether it was done."""
    label = vital_label(vital, words_for(editor.exam))
    return await change(
        session,
        editor,
        lambda exam, edit: clear_vital(exam, edit.protocol, vital.vital_id),
        tr("{label}: taken back", label=label),
    )


def told(editor: ExamEditor, vital: Vital, entry: VitalEntry) -> str:
    """Name a change as undo shows it: ``Temperature: not done: refused``."""
    words = words_for(editor.exam)
    label = vital_label(vital, words)
    shown = value_text(editor.protocol, vital, entry, words)
    return f"{label}: {beside_name(editor.protocol, vital.vital_id, label, shown)}"

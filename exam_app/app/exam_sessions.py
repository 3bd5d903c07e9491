"""Where open exams are kept between screens: started, opened again, changed, saved.

An exam desk lives as long as the app; after a restart it is built again from the
stored draft, so the address of an exam's screen always leads to the exam.
"""

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from exam_app.app.exam_editor import Change, ExamDesk
from exam_app.app.exam_mirrors import SaveState
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.people_shapes import person_of
from exam_app.app.practice_claims import with_practice_claims
from exam_app.app.practice_protocols import protocol_for
from exam_app.app.queries.earlier_reactions import earlier_reactions
from exam_app.app.session import Session
from exam_app.app.typed_entries import Typed
from exam_app.app.writers import writer_of
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.exchange.protocols import protocol_by_hash
from exam_app.protocols.loader import LoadedProtocol
from exam_app.record.draft_codec import exam_from_plain, exam_to_plain
from exam_app.store.projections import open_projection

_open: dict[str, ExamDesk] = {}

_KEPT_MEANWHILE = (
    "What you answered stays on this screen and is tried again with the next answer; "
    "do not close the app."
)


class ExamNotHereError(ExamError):
    """An address names an exam that is not open on this device."""

    advice: ClassVar[str] = (
        "This exam is not open on this device; it may be closed already. "
        "Nothing was changed. Look for it in the day list."
    )


class ProtocolNotHereError(ExamError):
    """The protocol an exam was started with is not kept here."""

    advice: ClassVar[str] = (
        "The species protocol this exam was started with is missing on this device. "
        "Nothing was changed. Restore a backup that holds it."
    )


@dataclass(slots=True, repr=False)
class VaultShelf:
    """Keeps one exam as a draft in the vault.

    Attributes:
        desk: Where the vault is; asked each time, since unlocking opens a new one.
        before: The draft as it was read; fields unknown to this version survive.
    """

    desk: Session
    protocol: SpeciesProtocol
    before: dict[str, Any] | None = None

    async def put(self, exam: Exam) -> None:
        """Keep the draft; returns after the commit."""
        await self.desk.write(lambda: self.put_now(exam))

    def put_now(self, exam: Exam) -> None:
        """Keep the draft, from inside a write."""
        shown = open_projection(exam, self.protocol, now())
        plain = exam_to_plain(exam, before=self.before)
        self.desk.vault.drafts.put(exam.exam_id, plain, shown)


def now() -> Moment:
    """Return the present moment with the offset of this place."""
    return Moment.from_datetime(datetime.now().astimezone())


def new_id() -> str:
    """Return a new UUID as 32 hexadecimal digits."""
    return uuid.uuid4().hex


def person_now(session: Session) -> Person:
    """Return the person who examines now."""
    return person_of(session.examiner)


async def start_exam(session: Session, order: ExamOrder) -> ExamDesk:
    """Start an exam; it is stored, with its protocol, before this returns."""
    loaded = protocol_for(session, order.animal.species)
    order = with_practice_claims(session.vault, order)
    starter = person_now(session)
    exam = begin_exam(
        order, loaded.protocol, loaded.content_hash, starter, new_id(), now()
    )
    return await keep_new(session, exam, loaded)


async def keep_new(session: Session, exam: Exam, loaded: LoadedProtocol) -> ExamDesk:
    """Store a new exam with the protocol it names, and give its desk."""
    shelf = VaultShelf(session, loaded.protocol)

    def store() -> None:
        with session.vault.transaction():
            session.vault.protocols.put(loaded.content_hash, loaded.content)
            shelf.put_now(exam)

    await session.save(store)
    return _admit(exam, loaded.protocol, person_now(session), shelf)


async def open_exam(session: Session, exam_id: str) -> ExamDesk:
    """Give the desk of an open exam; the draft is read when it is not in memory.

    Raises:
        ExamNotHereError: There is no such draft.
    """
    known = _open.get(exam_id)
    if known is not None and not known.exam.is_closed:
        _show_earlier(session, known)
        known.change_people(person_now(session), known.scribe)
        return known
    plain = await session.read(lambda: session.vault.drafts.get(exam_id))
    if plain is None:
        raise ExamNotHereError
    exam = exam_from_plain(plain)
    protocol = protocol_of(session, exam).protocol
    shelf = VaultShelf(session, protocol, plain)
    desk = _admit(exam, protocol, person_now(session), shelf)
    desk.change_people(desk.examiner, writer_of(session.vault, exam_id))
    _show_earlier(session, desk)
    return desk


def _show_earlier(session: Session, desk: ExamDesk) -> None:
    """Mirror how the animal answered to the hands in its other exams."""
    exam = desk.exam
    desk.mirrors.handling.earlier = earlier_reactions(
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


def opened(exam_id: str) -> ExamDesk | None:
    """Return the desk of an exam that is in memory."""
    return _open.get(exam_id)


def forget(exam_id: str) -> None:
    """Let an exam go from memory, once it is closed."""
    _open.pop(exam_id, None)


async def change(
    session: Session,
    desk: ExamDesk,
    made: Change,
    message: str,
    observed: Moment | None = None,
) -> bool:
    """Make one change as the person who examines now, and show how its save went.

    Args:
        observed: When it was seen, for a late entry.

    Returns:
        Whether the change was made; a refusal was shown to the person.
    """
    desk.change_people(person_now(session), desk.scribe)
    session.touch()
    before = desk.exam
    try:
        await desk.apply(made, message, observed)
    except ExamError as refusal:
        session.messages.refuse(refusal)
        return False
    show_save(session, desk)
    session.messages.exam_changed(desk, before)
    return True


def typed_in(session: Session, desk: ExamDesk, name: str, label: str) -> Typed:
    """Give what was typed in one form of an exam and not saved.

    Args:
        name: Names the form among those of this exam, in printable ASCII.
        label: Names it for a person.
    """
    return session.typed.at(f"{desk.exam.exam_id}/{name}", label)


def show_save(session: Session, desk: ExamDesk) -> None:
    """Write in the header whether the newest change is stored."""
    if desk.overview.save is SaveState.SAVED:
        session.messages.show_saved(f"Saved {datetime.now().astimezone():%H:%M:%S}")
    elif desk.overview.save is SaveState.NOT_SAVED:
        session.messages.show_saved("Not saved yet; kept here", is_safe=False)
        session.messages.tell(f"{desk.overview.problem} {_KEPT_MEANWHILE}")


async def undo(session: Session, desk: ExamDesk) -> None:
    """Take the last change back and tell which one it was."""
    undone = await desk.undo()
    show_save(session, desk)
    session.messages.tell(
        f"Taken back: {undone}" if undone else "There is nothing to take back."
    )


def _admit(
    exam: Exam, protocol: SpeciesProtocol, examiner: Person, shelf: VaultShelf
) -> ExamDesk:
    desk = ExamDesk(exam, protocol, examiner, shelf, now, new_id)
    _open[exam.exam_id] = desk
    return desk

"""An animal's history, read from its closed records and those of a day pack."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_start import open_findings
from exam_app.app.queries.kept_records import RecordReader, record_reader
from exam_app.app.session import Session
from exam_app.domain.animal.history import (
    AnimalHistory,
    ExamPast,
    PastValue,
    exam_past,
    history_of,
)
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.people import Role
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital
from exam_app.exchange.exchange import Exchange
from exam_app.language.catalogue import chosen
from exam_app.protocols.loader import available, load_protocol
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault

# A signed record never changes, so each is verified and read once while the store is
# open: by its hash, by whose words it is read in, and by their language. Beyond so
# many, those of other animals are let go of.
_MOST_KEPT = 500
_Pasts = dict[tuple[str, Role, str], ExamPast | None]
_read: WeakKeyDictionary[Vault, _Pasts] = WeakKeyDictionary()


# What is known from before of an exam that is open: asked at every card drawn.
_before: WeakKeyDictionary[ExamEditor, tuple[Role, AnimalHistory]] = WeakKeyDictionary()
# So many are read before a screen is shown; the others while it is looked at.
AT_ONCE = 40


@dataclass(frozen=True, slots=True)
class ReadHistory:
    """An animal's history, and its records as lists show them.

    Attributes:
        rows: Newest first.
        unread: How many of them cannot be verified or read here.
        waiting: How many of the oldest were not read yet.
    """

    history: AnimalHistory
    rows: tuple[ClosedExam, ...]
    unread: int = 0
    waiting: int = 0


def rows_of_animal(vault: Vault, animal_id: str) -> list[ClosedExam]:
    """Return the rows of an animal and of every one that a person called the same."""
    ids = Exchange(vault).identity.same_as(animal_id)
    rows = [row for one in ids for row in vault.closed.for_animal(one)]
    return sorted(rows, key=lambda row: row.started, reverse=True)


def read_history(
    vault: Vault,
    animal_id: str,
    reader: Role = Role.TECHNICIAN,
    *,
    but: str = "",
    most: int | None = AT_ONCE,
) -> ReadHistory:
    """Read an animal's history, the newest records first.

    Args:
        vault: The open vault.
        animal_id: The animal; others that a person called the same belong to it.
        reader: Parts and vitals are named in plain words for a volunteer.
        but: An exam that is left out: the one that is looked at.
        most: How many records are read now, ``None`` for all; what was read before
            costs nothing.
    """
    rows = [row for row in rows_of_animal(vault, animal_id) if row.exam_id != but]
    known = _read.setdefault(vault, {})
    if len(known) > _MOST_KEPT:
        own = {row.record_hash for row in rows}
        for key in [key for key in known if key[0] not in own]:
            known.pop(key, None)
    words = (reader, chosen())
    missing = [row for row in rows if (row.record_hash, *words) not in known]
    most = len(missing) if most is None else most
    if missing:
        read = record_reader(vault, missing[0].species)
        for row in missing[:most]:
            known[row.record_hash, *words] = _past(read, row, reader)
    pasts = [known[key] for row in rows if (key := (row.record_hash, *words)) in known]
    told = [past for past in pasts if past is not None]
    return ReadHistory(
        history_of(told), tuple(rows), len(pasts) - len(told), len(missing[most:])
    )


async def read_rest(
    session: Session,
    animal_id: str,
    reader: Role = Role.TECHNICIAN,
    *,
    is_wanted: Callable[[], bool] = lambda: True,
) -> ReadHistory | None:
    """Read an animal's history whole; the screen answers in between.

    Args:
        session: Of the open vault.
        animal_id: The animal.
        reader: As of ``read_history``.
        is_wanted: Asked before each reading.

    Returns:
        ``None`` once it is no longer wanted.
    """
    while is_wanted():
        read = await session.read(
            lambda: read_history(session.vault, animal_id, reader)
        )
        if not read.waiting:
            return read
        await asyncio.sleep(0)
    return None


async def read_before(session: Session, editor: ExamEditor, reader: Role) -> None:
    """Read what is known from before an open exam; the app answers in between.

    Once it is read, nothing is waited for.
    """
    known = _before.get(editor)
    if known is None or known[0] is not reader:
        await read_rest(session, editor.exam.animal.animal_id, reader)
        history_before(session.vault, editor, reader)


def history_before(vault: Vault, editor: ExamEditor, reader: Role) -> AnimalHistory:
    """Return what is known of an animal from before an open exam, read once for it.

    Exams of any age; a screen reads them first with ``read_before``.
    """
    known = _before.get(editor)
    if known is None or known[0] is not reader:
        exam = editor.exam
        animal_id, own = exam.animal.animal_id, exam.exam_id
        read = read_history(vault, animal_id, reader, but=own, most=None)
        every = read.history.exams
        # What is corrected may be older than other exams.
        earlier = (one for one in every if one.at < exam.started)
        known = _before[editor] = reader, history_of(earlier)
    return known[1]


def last_weight(
    vault: Vault, editor: ExamEditor, vital: Vital | None, reader: Role
) -> PastValue | None:
    """Return an animal's weight of before an open exam.

    Returns:
        ``None`` where no record tells of one, and of a vital that is no weight.
    """
    if vital is None or not vital.is_body_weight:
        return None
    return history_before(vault, editor, reader).last_value(vital.vital_id)


def _past(read: RecordReader, row: ClosedExam, reader: Role) -> ExamPast | None:
    try:
        # By its id alone it is found at once; a fork has a second one.
        kept = read(row.exam_id, None)
        if kept is None or kept.exam_hash != row.record_hash:
            kept = read(row.exam_id, row.record_hash)
    except ExamError:
        # Opening that record says what is wrong with it.
        return None
    if kept is None:
        return None
    exam, protocol = kept.exam, kept.loaded.protocol
    past = exam_past(exam, protocol, reader, _wound_terms(protocol))
    return replace(past, left=open_findings(exam, protocol))


def _wound_terms(protocol: SpeciesProtocol) -> frozenset[tuple[str, str]]:
    """Return which finds of a record are wounds.

    A protocol of before format 3 marks none: then the one that comes with the program
    says it, of the same parts and terms.
    """
    species, own = protocol.species, protocol.wound_terms()
    if own or species not in available():
        return own
    return load_protocol(species).protocol.wound_terms()

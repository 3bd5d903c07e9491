"""The animals of a round: found, started, listed, closed, each an exam of its own."""

from collections.abc import Sequence
from dataclasses import dataclass

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.forms.round_cells import Column
from exam_app.app.queries import animals as animal_queries
from exam_app.app.session import Session
from exam_app.app.signing import close_and_keep
from exam_app.app.view.round_presenter import known_by_tag, row_exam
from exam_app.domain.animal.groups import row_animal
from exam_app.domain.animal.signalment import Animal, Owner
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.domain.exam.review import review
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.language.catalogue import tr
from exam_app.record.plain_form import from_plain


@dataclass(frozen=True, slots=True)
class Closed:
    """What became of closing the finished rows.

    Attributes:
        names: Animals whose exam is closed and signed now.
        refused: Animals whose exam stays open, with the reason.
    """

    names: tuple[str, ...]
    refused: tuple[str, ...]


def columns_kept(session: Session, species: str) -> Sequence[str] | None:
    """Return the columns chosen for a species last time, if any were."""
    kept = session.vault.settings.get(columns_setting(species))
    return None if kept is None else list(kept)


async def keep_columns(session: Session, species: str, keys: Sequence[str]) -> None:
    """Keep the columns for the next round of this species."""
    name = columns_setting(species)
    await session.save(lambda: session.vault.settings.put(name, list(keys)))


def open_rows(session: Session, group_exam: str) -> list[Exam]:
    """Return the open exams of a round, the one changed last first."""
    drafts = session.vault.drafts.open()
    ids = [row.exam_id for row in drafts if row.group_exam == group_exam]
    return [exam for exam in (_exam(session, key) for key in ids) if exam]


async def begin_row(
    session: Session, group: ExamEditor, tag: str, columns: Sequence[Column]
) -> ExamEditor:
    """Start the exam of one animal, or go on with the one begun in this round.

    An animal that is known by exactly this tag is taken; any other is added.
    """
    for exam in open_rows(session, group.exam.exam_id):
        if exam.animal.tag.casefold() == tag.strip().casefold():
            return await exam_sessions.open_exam(session, exam.exam_id)
    animal = await _animal(session, group.exam.animal, tag)
    loaded = exam_sessions.protocol_of(session, group.exam)
    order = ExamOrder(animal, Scope.GROUP, group.exam.setting)
    return await exam_sessions.start_exam(
        session,
        order,
        loaded,
        lambda exam: row_exam(exam, columns, group.exam.exam_id),
    )


def row_in_mind(
    session: Session, group: ExamEditor, tag: str, columns: Sequence[Column]
) -> ExamEditor:
    """Return a row as it would begin, or the one begun for this tag; nothing is stored.

    What is said of an animal is read on it before anything is recorded.
    """
    for exam in open_rows(session, group.exam.exam_id):
        known = session.editors.get(exam.exam_id)
        if known and exam.animal.tag.casefold() == tag.strip().casefold():
            return known
    loaded = exam_sessions.protocol_of(session, group.exam)
    animal = row_animal(group.exam.animal, exam_sessions.new_id(), tag)
    order = ExamOrder(animal, Scope.GROUP, group.exam.setting)
    new_id, now = exam_sessions.new_id, exam_sessions.now
    exam = begin_exam(
        order, loaded.protocol, loaded.content_hash, session.examiner, new_id(), now()
    )
    exam = row_exam(exam, columns, group.exam.exam_id)
    return ExamEditor(exam, loaded.protocol, session.examiner, _unkept, now, new_id)


async def _unkept(_exam: Exam) -> None:
    """Keep nothing of a row that has not begun."""


async def close_finished(
    session: Session, rows: Sequence[Exam], protocol: SpeciesProtocol, closer: Person
) -> Closed:
    """Close and sign every row in which nothing is open, one after the other.

    A row that is open, or cannot be stored, stays as it is and is named.
    """
    names: list[str] = []
    refused: list[str] = []
    for exam in rows:
        points = review(exam, protocol)
        if points:
            refused.append(f"{exam.animal.name}: {points[0].message}")
            continue
        editor = await exam_sessions.open_exam(session, exam.exam_id)
        try:
            await close_and_keep(session, editor, closer)
        except ExamError as error:
            refused.append(f"{exam.animal.name}: {tr(error.advice)}")
        else:
            names.append(exam.animal.name)
    return Closed(tuple(names), tuple(refused))


async def _animal(session: Session, group: Animal, tag: str) -> Animal:
    known = known_by_tag(session.vault.animals.search(tag), tag, group.species)
    if known is not None:
        return animal_queries.fetch(session, known.animal_id)[0]
    animal = row_animal(group, exam_sessions.new_id(), tag)
    await animal_queries.keep(session, animal, Owner())
    return animal


def _exam(session: Session, exam_id: str) -> Exam | None:
    known = session.editors.get(exam_id)
    if known is not None and not known.exam.is_closed:
        return known.exam
    plain = session.vault.drafts.get(exam_id)
    return None if plain is None else from_plain(Exam, plain)


def columns_setting(species: str) -> str:
    """Name the setting that keeps a species' columns."""
    return f"round_columns:{species}"

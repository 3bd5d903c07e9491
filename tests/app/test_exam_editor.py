"""The exam's editor: a change shows at once, "saved" only after the commit."""

import asyncio
from functools import partial
from itertools import count

import pytest

from exam_app.app.exam_editor import UNDO_STEPS, ExamEditor
from exam_app.app.exam_view import SaveState
from exam_app.domain.errors import ExamClosedError, ExamError, NotInScopeError
from exam_app.domain.exam.closing import stop_early
from exam_app.domain.exam.exam import Closing, Exam, StopReason
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import (
    assert_no_abnormality,
    mark_not_examined,
    set_remark,
)
from exam_app.domain.exam.visit import Procedure
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.written_record import write_record
from tests.small_dog import COLLEAGUE, DOG, NINE_O_CLOCK, TECHNICIAN, new_exam

HOUR_AGO = Moment(NINE_O_CLOCK.utc_ms - 3_600_000)


class DiskFullError(ExamError):
    advice = "The disk is full."


class DraftStore:
    """Keeps what is put, waits or fails when told to."""

    def __init__(self) -> None:
        self.kept: list[Exam] = []
        self.fails = False
        self.gate = asyncio.Event()
        self.gate.set()

    async def put(self, exam: Exam) -> None:
        await self.gate.wait()
        if self.fails:
            raise DiskFullError
        self.kept.append(exam)


def editor_of(drafts: DraftStore, exam: Exam | None = None) -> ExamEditor:
    numbers = count(1)
    return ExamEditor(
        exam or new_exam(),
        DOG,
        TECHNICIAN,
        drafts.put,
        lambda: NINE_O_CLOCK,
        lambda: f"{next(numbers):032x}",
    )


def normal(*keys: str):
    return lambda exam, edit: assert_no_abnormality(
        exam, DOG, keys, Role.TECHNICIAN, edit.by
    )


def remark(text: str):
    return lambda exam, _: set_remark(exam, DOG, "nose", text)


async def test_a_tap_is_shown_before_the_save_and_called_saved_only_after_it():
    drafts = DraftStore()
    editor = editor_of(drafts)
    drafts.gate.clear()
    tap = asyncio.create_task(editor.apply(normal("nose"), "Nose"))
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    assert editor.view.regions["nose"].entry.state is RegionState.NO_ABNORMALITY
    assert editor.overview.save is SaveState.SAVING
    drafts.gate.set()
    await tap
    assert editor.overview.save is SaveState.SAVED
    assert drafts.kept == [editor.exam]


async def test_one_tap_draws_its_own_row_and_no_other():
    editor = editor_of(DraftStore())
    drawn = []
    listeners = [
        partial(lambda key, *_: drawn.append(key), k) for k in editor.view.regions
    ]
    for key, listener in zip(editor.view.regions, listeners, strict=True):
        editor.view.regions[key].subscribe(listener)
    await editor.apply(normal("nose"), "Nose")
    assert drawn == ["nose"]


async def test_progress_counts_each_side_of_a_paired_part():
    editor = editor_of(DraftStore())
    assert (editor.overview.done, editor.overview.total) == (0, 4)
    await editor.apply(normal("eyes.left", "eyes.right"), "Eyes")
    assert (editor.overview.done, editor.overview.total) == (2, 4)


async def test_failed_save_loses_nothing_and_goes_with_the_next_change():
    drafts = DraftStore()
    editor = editor_of(drafts)
    drafts.fails = True
    await editor.apply(normal("nose"), "Nose")
    assert editor.overview.save is SaveState.NOT_SAVED
    assert editor.overview.problem == "The disk is full."
    assert editor.exam.entry("nose").state is RegionState.NO_ABNORMALITY
    drafts.fails = False
    await editor.apply(normal("heart"), "Heart")
    assert editor.overview.save is SaveState.SAVED
    assert editor.overview.problem == ""
    assert drafts.kept[-1].entry("nose").state is RegionState.NO_ABNORMALITY


async def test_a_save_that_breaks_is_never_shown_as_saved():
    class Broken:
        async def put(self, _exam: Exam) -> None:
            raise ConnectionError

    editor = editor_of(Broken())
    with pytest.raises(ConnectionError):
        await editor.apply(normal("nose"), "Nose")
    assert editor.overview.save is SaveState.NOT_SAVED


async def test_taps_during_a_slow_save_end_with_the_newest_state_saved():
    drafts = DraftStore()
    editor = editor_of(drafts)
    drafts.gate.clear()
    taps = [
        asyncio.create_task(editor.apply(remark(str(number)), ""))
        for number in range(9)
    ]
    await asyncio.sleep(0)
    drafts.gate.set()
    await asyncio.gather(*taps)
    assert drafts.kept[-1] == editor.exam
    assert editor.exam.entry("nose").remark == "8"
    assert len(drafts.kept) < 9
    assert editor.overview.save is SaveState.SAVED


async def test_a_refused_change_changes_nothing():
    drafts = DraftStore()
    editor = editor_of(drafts, new_exam(Scope.INTAKE))
    before = editor.exam
    with pytest.raises(NotInScopeError):
        await editor.apply(normal("heart"), "Heart")
    assert editor.exam is before
    assert drafts.kept == []
    assert await editor.undo() is None


async def test_undo_brings_back_the_exam_before_and_saves_it():
    drafts = DraftStore()
    editor = editor_of(drafts)
    await editor.apply(normal("nose"), "Nose: no abnormality")
    steps = editor.view.steps
    assert (steps.back, steps.back_at) == ("Nose: no abnormality", ("nose",))
    assert await editor.undo() == "Nose: no abnormality"
    assert editor.view.regions["nose"].entry.state is RegionState.UNEXAMINED
    assert steps.back is None
    assert drafts.kept[-1].entry("nose").state is RegionState.UNEXAMINED


async def test_what_was_taken_back_is_done_again_and_saved():
    drafts = DraftStore()
    editor = editor_of(drafts)
    await editor.apply(normal("nose"), "Nose: no abnormality")
    said = editor.exam.entry("nose")
    await editor.undo()
    steps = editor.view.steps
    assert (steps.again, steps.again_at) == ("Nose: no abnormality", ("nose",))
    assert await editor.redo() == "Nose: no abnormality"
    assert drafts.kept[-1].entry("nose") == said
    assert (steps.back, steps.again) == ("Nose: no abnormality", None)


async def test_nothing_is_done_again_over_an_answer_that_came_since():
    editor = editor_of(DraftStore())
    await editor.apply(normal("nose"), "Nose: no abnormality")
    await editor.undo()
    await editor.apply(normal("heart"), "Heart: no abnormality")
    assert editor.view.steps.again is None
    assert await editor.redo() is None
    assert editor.exam.entry("nose").state is RegionState.UNEXAMINED


async def test_animal_named_amid_an_exam_keeps_its_name_when_a_step_is_taken_back():
    drafts = DraftStore()
    editor = editor_of(drafts)
    await editor.apply(normal("nose"), "Nose: no abnormality")
    await editor.apply(normal("heart"), "Heart: no abnormality")
    await editor.undo()
    await editor.rename("Rex")
    assert drafts.kept[-1].animal.name == "Rex"
    assert editor.view.steps.back == "Nose: no abnormality"
    assert await editor.redo() == "Heart: no abnormality"
    assert editor.exam.animal.name == "Rex"
    assert editor.exam.entry("heart").state is RegionState.NO_ABNORMALITY
    await editor.undo()
    assert await editor.undo() == "Nose: no abnormality"
    assert editor.exam.animal.name == "Rex"
    assert editor.view.steps.back is None


async def test_undo_remembers_a_bounded_number_of_steps():
    editor = editor_of(DraftStore())
    for number in range(UNDO_STEPS + 5):
        await editor.apply(remark(str(number)), str(number))
    undone = [await editor.undo() for _ in range(UNDO_STEPS + 5)]
    assert undone[UNDO_STEPS - 1] == "5"
    assert undone[UNDO_STEPS] is None


async def test_colleague_and_scribe_are_named_by_the_record():
    editor = editor_of(DraftStore())
    editor.change_people(COLLEAGUE, scribe=TECHNICIAN)
    await editor.apply(
        lambda exam, edit: mark_not_examined(exam, DOG, "nose", "unsafe", edit.by), ""
    )
    by = editor.exam.entry("nose").attribution
    assert (by.examined_by, by.entered_by) == (
        COLLEAGUE.person_id,
        TECHNICIAN.person_id,
    )
    assert {p.person_id for p in editor.exam.people} == {
        COLLEAGUE.person_id,
        TECHNICIAN.person_id,
    }


async def test_late_entry_keeps_when_it_was_seen():
    editor = editor_of(DraftStore())
    await editor.apply(normal("nose"), "", observed=HOUR_AGO)
    assert editor.exam.entry("nose").attribution.is_late


def late_editor():
    """Open an exam in which all that is entered now was seen an hour ago."""
    editor = editor_of(DraftStore())
    editor.view.late.said_by, editor.view.late.seen = TECHNICIAN.person_id, HOUR_AGO
    return editor


def stopped(exam, edit):
    return stop_early(exam, DOG, StopReason.UNSAFE, "", edit.by)


async def test_all_that_is_entered_late_keeps_when_it_was_seen_until_it_is_ended():
    editor = late_editor()
    await editor.apply(normal("nose"), "")
    assert editor.exam.entry("nose").attribution.observed == HOUR_AGO
    assert editor.exam.entry("nose").attribution.entered == NINE_O_CLOCK
    editor.view.late.seen = None
    await editor.apply(normal("eyes.left"), "")
    assert editor.exam.entry("eyes.left").attribution.observed == NINE_O_CLOCK


async def test_a_late_entry_of_one_person_dates_nothing_that_another_sees():
    editor = late_editor()
    editor.change_people(COLLEAGUE)
    await editor.apply(normal("nose"), "")
    assert editor.exam.entry("nose").attribution.observed == NINE_O_CLOCK


async def test_an_exam_that_is_stopped_during_a_late_entry_is_stopped_now():
    editor = late_editor()
    await editor.apply(normal("nose"), "")
    await editor.apply(stopped, "")
    assert editor.exam.stopped.attribution.observed == NINE_O_CLOCK
    written = write_record(editor.exam, DOG).as_text()
    assert "Late entry: Nose, seen 08:00, entered 09:00" in written
    assert "stopped early, seen" not in written


async def test_what_was_given_during_a_late_entry_has_a_time_of_its_own():
    editor = late_editor()

    def given(exam, edit):
        return record_visit(exam, Procedure("nails cut", edit.by))

    await editor.apply(given, "")
    assert editor.exam.procedures[0].attribution.observed == NINE_O_CLOCK


def closing(exam, edit):
    from dataclasses import replace

    return replace(exam, closing=Closing(edit.by.examined_by, NINE_O_CLOCK))


async def test_closing_waits_for_the_save_and_no_draft_follows_it():
    drafts = DraftStore()
    editor = editor_of(drafts)
    drafts.gate.clear()
    tap = asyncio.create_task(editor.apply(normal("nose"), ""))
    await asyncio.sleep(0)
    order = []

    async def keep(closed: Exam) -> None:
        order.append((len(drafts.kept), closed.is_closed))

    close = asyncio.create_task(editor.finish(closing, keep))
    await asyncio.sleep(0)
    assert order == []
    drafts.gate.set()
    await asyncio.gather(tap, close)
    assert order == [(1, True)]
    assert editor.overview.is_closed
    assert await editor.undo() is None
    await editor.save()
    assert len(drafts.kept) == 1


async def test_closing_that_could_not_be_stored_leaves_the_exam_open():
    editor = editor_of(DraftStore())

    async def keep(_closed: Exam) -> None:
        raise DiskFullError

    with pytest.raises(DiskFullError):
        await editor.finish(closing, keep)
    assert not editor.exam.is_closed
    await editor.apply(normal("nose"), "")
    assert editor.overview.save is SaveState.SAVED


async def test_a_tap_while_the_record_is_being_signed_is_refused():
    editor = editor_of(DraftStore())
    gate = asyncio.Event()

    async def keep(_closed: Exam) -> None:
        await gate.wait()

    close = asyncio.create_task(editor.finish(closing, keep))
    await asyncio.sleep(0)
    with pytest.raises(ExamClosedError):
        await editor.apply(normal("nose"), "")
    gate.set()
    await close
    assert editor.exam.entry("nose").state is RegionState.UNEXAMINED

"""The exam desk: a change shows at once, "saved" only after the commit."""

import asyncio
from functools import partial
from itertools import count

import pytest

from exam_app.app.exam_editor import UNDO_STEPS, ExamDesk
from exam_app.app.exam_mirrors import SaveState
from exam_app.domain.errors import ExamClosedError, ExamError, NotInScopeError
from exam_app.domain.exam.exam import Closing, Exam
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import (
    assert_no_abnormality,
    mark_not_examined,
    set_remark,
)
from exam_app.domain.protocol.protocol import Scope
from tests.small_dog import COLLEAGUE, DOG, NINE_O_CLOCK, TECHNICIAN, new_exam


class DiskFullError(ExamError):
    advice = "The disk is full."


class Shelf:
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


def desk_of(shelf: Shelf, exam: Exam | None = None) -> ExamDesk:
    numbers = count(1)
    return ExamDesk(
        exam or new_exam(),
        DOG,
        TECHNICIAN,
        shelf,
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
    shelf = Shelf()
    desk = desk_of(shelf)
    shelf.gate.clear()
    tap = asyncio.create_task(desk.apply(normal("nose"), "Nose"))
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    assert desk.mirrors.regions["nose"].entry.state is RegionState.NO_ABNORMALITY
    assert desk.overview.save is SaveState.SAVING
    shelf.gate.set()
    await tap
    assert desk.overview.save is SaveState.SAVED
    assert shelf.kept == [desk.exam]


async def test_one_tap_draws_its_own_row_and_no_other():
    desk = desk_of(Shelf())
    drawn = []
    listeners = [
        partial(lambda key, *_: drawn.append(key), k) for k in desk.mirrors.regions
    ]
    for key, listener in zip(desk.mirrors.regions, listeners, strict=True):
        desk.mirrors.regions[key].subscribe(listener)
    await desk.apply(normal("nose"), "Nose")
    assert drawn == ["nose"]


async def test_progress_counts_each_side_of_a_paired_part():
    desk = desk_of(Shelf())
    assert (desk.overview.done, desk.overview.total) == (0, 4)
    await desk.apply(normal("eyes.left", "eyes.right"), "Eyes")
    assert (desk.overview.done, desk.overview.total) == (2, 4)


async def test_failed_save_loses_nothing_and_goes_with_the_next_change():
    shelf = Shelf()
    desk = desk_of(shelf)
    shelf.fails = True
    await desk.apply(normal("nose"), "Nose")
    assert desk.overview.save is SaveState.NOT_SAVED
    assert desk.overview.problem == "The disk is full."
    assert desk.exam.entry("nose").state is RegionState.NO_ABNORMALITY
    shelf.fails = False
    await desk.apply(normal("heart"), "Heart")
    assert desk.overview.save is SaveState.SAVED
    assert desk.overview.problem == ""
    assert shelf.kept[-1].entry("nose").state is RegionState.NO_ABNORMALITY


async def test_a_save_that_breaks_is_never_shown_as_saved():
    class Broken:
        async def put(self, _exam: Exam) -> None:
            raise ConnectionError

    desk = desk_of(Broken())
    with pytest.raises(ConnectionError):
        await desk.apply(normal("nose"), "Nose")
    assert desk.overview.save is SaveState.NOT_SAVED


async def test_taps_during_a_slow_save_end_with_the_newest_state_saved():
    shelf = Shelf()
    desk = desk_of(shelf)
    shelf.gate.clear()
    taps = [
        asyncio.create_task(desk.apply(remark(str(number)), "")) for number in range(9)
    ]
    await asyncio.sleep(0)
    shelf.gate.set()
    await asyncio.gather(*taps)
    assert shelf.kept[-1] == desk.exam
    assert desk.exam.entry("nose").remark == "8"
    assert len(shelf.kept) < 9
    assert desk.overview.save is SaveState.SAVED


async def test_a_refused_change_changes_nothing():
    shelf = Shelf()
    desk = desk_of(shelf, new_exam(Scope.INTAKE))
    before = desk.exam
    with pytest.raises(NotInScopeError):
        await desk.apply(normal("heart"), "Heart")
    assert desk.exam is before
    assert shelf.kept == []
    assert await desk.undo() == ""


async def test_undo_brings_back_the_exam_before_and_saves_it():
    shelf = Shelf()
    desk = desk_of(shelf)
    await desk.apply(normal("nose"), "Nose: no abnormality")
    assert desk.overview.last_step == "Nose: no abnormality"
    assert await desk.undo() == "Nose: no abnormality"
    assert desk.mirrors.regions["nose"].entry.state is RegionState.UNEXAMINED
    assert desk.overview.last_step == ""
    assert shelf.kept[-1].entry("nose").state is RegionState.UNEXAMINED


async def test_undo_remembers_a_bounded_number_of_steps():
    desk = desk_of(Shelf())
    for number in range(UNDO_STEPS + 5):
        await desk.apply(remark(str(number)), str(number))
    undone = [await desk.undo() for _ in range(UNDO_STEPS + 5)]
    assert undone[UNDO_STEPS - 1] == "5"
    assert undone[UNDO_STEPS] == ""


async def test_colleague_and_scribe_are_named_by_the_record():
    desk = desk_of(Shelf())
    desk.change_people(COLLEAGUE, scribe=TECHNICIAN)
    await desk.apply(
        lambda exam, edit: mark_not_examined(exam, DOG, "nose", "unsafe", edit.by), ""
    )
    by = desk.exam.entry("nose").attribution
    assert (by.examined_by, by.entered_by) == (
        COLLEAGUE.person_id,
        TECHNICIAN.person_id,
    )
    assert {p.person_id for p in desk.exam.people} == {
        COLLEAGUE.person_id,
        TECHNICIAN.person_id,
    }


async def test_late_entry_keeps_when_it_was_seen():
    desk = desk_of(Shelf())
    seen = type(NINE_O_CLOCK)(NINE_O_CLOCK.utc_ms - 3_600_000)
    await desk.apply(normal("nose"), "", observed=seen)
    assert desk.exam.entry("nose").attribution.is_late


def closing(exam, edit):
    from dataclasses import replace

    return replace(exam, closing=Closing(edit.by.examined_by, NINE_O_CLOCK))


async def test_closing_waits_for_the_save_and_no_draft_follows_it():
    shelf = Shelf()
    desk = desk_of(shelf)
    shelf.gate.clear()
    tap = asyncio.create_task(desk.apply(normal("nose"), ""))
    await asyncio.sleep(0)
    order = []

    async def keep(closed: Exam) -> None:
        order.append((len(shelf.kept), closed.is_closed))

    close = asyncio.create_task(desk.finish(closing, keep))
    await asyncio.sleep(0)
    assert order == []
    shelf.gate.set()
    await asyncio.gather(tap, close)
    assert order == [(1, True)]
    assert desk.overview.is_closed
    assert await desk.undo() == ""
    await desk.save()
    assert len(shelf.kept) == 1


async def test_closing_that_could_not_be_stored_leaves_the_exam_open():
    desk = desk_of(Shelf())

    async def keep(_closed: Exam) -> None:
        raise DiskFullError

    with pytest.raises(DiskFullError):
        await desk.finish(closing, keep)
    assert not desk.exam.is_closed
    await desk.apply(normal("nose"), "")
    assert desk.overview.save is SaveState.SAVED


async def test_a_tap_while_the_record_is_being_signed_is_refused():
    desk = desk_of(Shelf())
    gate = asyncio.Event()

    async def keep(_closed: Exam) -> None:
        await gate.wait()

    close = asyncio.create_task(desk.finish(closing, keep))
    await asyncio.sleep(0)
    with pytest.raises(ExamClosedError):
        await desk.apply(normal("nose"), "")
    gate.set()
    await close
    assert desk.exam.entry("nose").state is RegionState.UNEXAMINED

"""Hold one exam for the screens: change it purely, show it at once, save it, undo it.

The exam stays one frozen value; observables show it, one for each region key and
each vital, so that a tap draws one row and not the list. A change is shown as soon
as it is made; "saved" is shown only after the store's commit returned. A save that
failed loses nothing: the exam stays here, is shown as not saved, and goes with the
next change.
"""

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable
from dataclasses import replace
from functools import wraps
from typing import Any, Concatenate, NamedTuple, ParamSpec

from exam_app.app.exam_view import ExamView, SaveState
from exam_app.domain.errors import ExamClosedError, ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.late_entries import says_what_was_seen
from exam_app.domain.exam.people import Attribution, Person
from exam_app.domain.exam.transitions import with_person
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key
from exam_app.language.catalogue import tr

UNDO_STEPS = 50
# What is drawn in one turn of the loop is written in the next and sent after it.
TURNS_UNTIL_SENT = 3

NewId = Callable[[], str]
Clock = Callable[[], Moment]
P = ParamSpec("P")


class Edit(NamedTuple):
    """What a change is made with.

    Attributes:
        protocol: What the exam asks.
        by: Who examined and who entered it, and when.
        new_id: Draws the UUID of what the change adds.
    """

    protocol: SpeciesProtocol
    by: Attribution
    new_id: NewId


Change = Callable[[Exam, Edit], Exam]


def change_maker(
    made: Callable[Concatenate[Exam, Edit, P], Exam],
) -> Callable[P, Change]:
    """Split a change in two: called with what it says, it gives the change to make."""

    @wraps(made)
    def make(*said: P.args, **named: P.kwargs) -> Change:
        return lambda exam, edit: made(exam, edit, *said, **named)

    return make


class Step(NamedTuple):
    """One change that can be undone, or done again once it was.

    Attributes:
        exam: The exam on the other side of it.
        places: The parts and vitals it changed: region ids, and ``vital:ID``.
    """

    exam: Exam
    message: str
    places: tuple[str, ...]


class ExamEditor:
    """One open exam, its view, and the only way to change it.

    Attributes:
        exam: The exam now.
        protocol: What this exam asks.
        view: What the screens draw from.
        overview: The part of it that is always in sight.
        now: Gives the present moment.
    """

    def __init__(
        self,
        exam: Exam,
        protocol: SpeciesProtocol,
        examiner: Person,
        keep_draft: Callable[[Exam], Awaitable[None]],
        clock: Clock,
        new_id: NewId,
        scribe: Person | None = None,
    ) -> None:
        """Show an exam that is already kept.

        Args:
            keep_draft: Returns after the commit, or raises.
        """
        self.exam = exam
        self.protocol = protocol
        self.examiner = examiner
        self.scribe = scribe
        self.view = ExamView(exam, protocol)
        self.overview = self.view.overview
        self._keep_draft = keep_draft
        self.now = clock
        self.new_id = new_id
        self._saved = exam
        self._saving = asyncio.Lock()
        self._is_closing = False
        self._steps: deque[Step] = deque(maxlen=UNDO_STEPS)
        self._undone: list[Step] = []
        self._show()

    def attribution(self, observed: Moment | None = None) -> Attribution:
        """Name who examined and who entered it, now or at an earlier moment."""
        now = self.now()
        writer = self.scribe or self.examiner
        return Attribution(
            self.examiner.person_id, writer.person_id, observed or now, now
        )

    @property
    def seen_late(self) -> Moment | None:
        """When all that the examiner enters now was seen; None where it is now."""
        late = self.view.late
        return late.seen if late.said_by == self.examiner.person_id else None

    def _edit(self, observed: Moment | None = None) -> Edit:
        return Edit(self.protocol, self.attribution(observed), self.new_id)

    async def apply(
        self,
        change: Change,
        message: str = "",
        observed: Moment | None = None,
        on_made: Callable[[], None] = lambda: None,
    ) -> None:
        """Make one change, show it, and return when the save was tried.

        Args:
            change: A pure change; it may refuse by raising an ``ExamError``, and
                then nothing is changed.
            message: What undo will name, as "Nose: no abnormality found".
            observed: When it was seen; without it, what was seen is of the moment that
                was said for all of a late entry, and anything else of now.
            on_made: Called once the exam says it and before that is saved.
        """
        if self._is_closing:
            raise ExamClosedError
        before, late = self.exam, self.seen_late
        named = self._with_writers(before)
        after = change(named, self._edit(observed or late))
        if late and observed is None and not says_what_was_seen(named, after):
            after = change(named, self._edit())
        if after in (before, named):
            on_made()
            return
        self._steps.append(Step(before, message, _places(before, after)))
        self._undone.clear()
        self.exam = after
        self._show()
        on_made()
        await self.save()

    async def rename(self, name: str) -> None:
        """Go on with the animal's new name, and save.

        It is no step: what is taken back or done again afterwards keeps the name.
        """
        if self.exam.is_closed or self._is_closing:
            return
        self.exam = _renamed(self.exam, name)
        for steps in (self._steps, self._undone):
            for at, step in enumerate(steps):
                steps[at] = step._replace(exam=_renamed(step.exam, name))
        self._show()
        await self.save()

    async def undo(self) -> str | None:
        """Take the last change back; return its name, or ``None`` if there is none."""
        return await self._step(self._steps, self._undone)

    async def redo(self) -> str | None:
        """Do again what was taken back last, unless another change was made since."""
        return await self._step(self._undone, self._steps)

    async def _step(
        self, steps: "deque[Step] | list[Step]", others: "deque[Step] | list[Step]"
    ) -> str | None:
        if not steps or self.exam.is_closed or self._is_closing:
            return None
        step = steps.pop()
        others.append(step._replace(exam=self.exam))
        self.exam = step.exam
        self._show()
        await self.save()
        return step.message

    async def save(self) -> None:
        """Save unless the newest state is saved already; never raises a refusal."""
        self.overview.save = SaveState.SAVING
        async with self._saving:
            try:
                await _let_it_be_drawn()
                newest = self.exam
                if newest is self._saved or newest.is_closed:
                    self._set_saved()
                    return
                await self._keep_draft(newest)
            except ExamError as refusal:
                self._set_not_saved(tr(refusal.advice))
                return
            except BaseException:
                self._set_not_saved(tr("The last change is not saved yet."))
                raise
            self._saved = newest
            self._set_saved()

    async def finish(
        self, change: Change, keep: Callable[[Exam], Awaitable[Any]]
    ) -> None:
        """Close: make the closing change and keep its result in one save.

        While this runs no draft is saved, so that a draft cannot come back after
        the record. If ``keep`` raises, the exam stays open as it was.

        Args:
            change: Returns the closed exam, or refuses.
            keep: Signs and stores it, and returns after the commit.
        """
        async with self._saving:
            named = self._with_writers(self.exam)
            closed = change(named, self._edit())
            self._is_closing = True
            try:
                await keep(closed)
            finally:
                self._is_closing = False
            self.exam = self._saved = closed
            self._steps.clear()
            self._undone.clear()
        self._show()
        self._set_saved()

    def change_people(self, examiner: Person, scribe: Person | None = None) -> None:
        """Go on with another examiner, or another one who writes."""
        self.examiner, self.scribe = examiner, scribe
        self._show()

    def _with_writers(self, exam: Exam) -> Exam:
        for person in (self.examiner, self.scribe):
            if person and exam.person(person.person_id) != person:
                exam = with_person(exam, person)
        return exam

    def _set_saved(self) -> None:
        if self.exam is self._saved or self.exam.is_closed:
            self.overview.save = SaveState.SAVED
            self.overview.problem = ""

    def _set_not_saved(self, advice: str) -> None:
        self.overview.save = SaveState.NOT_SAVED
        self.overview.problem = advice

    def _show(self) -> None:
        self.view.show(self.exam)
        steps = self.view.steps
        steps.back, steps.back_at = _last(self._steps)
        steps.again, steps.again_at = _last(self._undone)
        self.view.people.examiner = self.examiner.name
        is_other = self.scribe and self.scribe.person_id != self.examiner.person_id
        self.view.people.scribe = self.scribe.name if self.scribe and is_other else ""


async def _let_it_be_drawn() -> None:
    """Let what follows the exam be drawn and sent: a save would share its time."""
    for _ in range(TURNS_UNTIL_SENT):
        await asyncio.sleep(0)


def _renamed(exam: Exam, name: str) -> Exam:
    return replace(exam, animal=replace(exam.animal, name=name))


def _last(
    steps: "deque[Step] | list[Step]",
) -> tuple[str | None, tuple[str, ...]]:
    return (steps[-1].message, steps[-1].places) if steps else (None, ())


def _places(before: Exam, after: Exam) -> tuple[str, ...]:
    regions = {
        split_key(key)[0]
        for key in {*before.regions, *after.regions}
        if before.entry(key) != after.entry(key)
    }
    vitals = {
        f"vital:{name}"
        for name in {*before.vitals, *after.vitals}
        if before.vital(name) != after.vital(name)
    }
    return (*sorted(regions), *sorted(vitals))

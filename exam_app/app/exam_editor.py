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
from functools import wraps
from typing import Any, Concatenate, NamedTuple, ParamSpec

from exam_app.app.exam_view import ExamView, SaveState
from exam_app.domain.errors import ExamClosedError, ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution, Person
from exam_app.domain.exam.transitions import with_person
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol

UNDO_STEPS = 50

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
    """One change that can be undone: the exam before it, and its name."""

    before: Exam
    message: str


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
        self._new_id = new_id
        self._saved = exam
        self._saving = asyncio.Lock()
        self._is_closing = False
        self._steps: deque[Step] = deque(maxlen=UNDO_STEPS)
        self._show()

    def attribution(self, observed: Moment | None = None) -> Attribution:
        """Name who examined and who entered it, now or at an earlier moment."""
        now = self.now()
        writer = self.scribe or self.examiner
        return Attribution(
            self.examiner.person_id, writer.person_id, observed or now, now
        )

    def _edit(self, observed: Moment | None = None) -> Edit:
        return Edit(self.protocol, self.attribution(observed), self._new_id)

    async def apply(
        self, change: Change, message: str = "", observed: Moment | None = None
    ) -> None:
        """Make one change, show it, and return when the save was tried.

        Args:
            change: A pure change; it may refuse by raising an ``ExamError``, and
                then nothing is changed.
            message: What undo will name, as "Nose: no abnormality found".
            observed: When it was seen, for a late entry.
        """
        if self._is_closing:
            raise ExamClosedError
        before = self.exam
        named = self._with_writers(before)
        after = change(named, self._edit(observed))
        if after in (before, named):
            return
        self._steps.append(Step(before, message))
        self.exam = after
        self._show()
        await self.save()

    async def undo(self) -> str:
        """Take the last change back; return its name, or an empty text if none."""
        if not self._steps or self.exam.is_closed or self._is_closing:
            return ""
        step = self._steps.pop()
        self.exam = step.before
        self._show()
        await self.save()
        return step.message

    async def save(self) -> None:
        """Save unless the newest state is saved already; never raises a refusal."""
        self.overview.save = SaveState.SAVING
        async with self._saving:
            newest = self.exam
            if newest is self._saved or newest.is_closed:
                self._set_saved()
                return
            try:
                await self._keep_draft(newest)
            except ExamError as refusal:
                self._set_not_saved(refusal.advice)
                return
            except BaseException:
                self._set_not_saved("The last change is not saved yet.")
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
        self.overview.last_step = self._steps[-1].message if self._steps else ""
        self.view.people.examiner = self.examiner.name
        is_other = self.scribe and self.scribe.person_id != self.examiner.person_id
        self.view.people.scribe = self.scribe.name if self.scribe and is_other else ""

"""One long step on the store at a time, whichever screen is shown meanwhile.

The step belongs to the session and not to a tab: whoever leaves the screen and comes
back finds it under way, or what came of it.
"""

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from threading import Thread
from typing import ClassVar

from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.engine.rewrite import Progress
from exam_app.store.vault.vault import Vault

Step = Callable[[Progress], str]

UNFORESEEN = to_translate(
    "The app stopped in the middle of this and does not know why. What was saved "
    "before is kept. Close the app and open it again, then check everything."
)


class StepUnderWayError(ExamError):
    """A second step was asked for while one is under way."""

    advice: ClassVar[str] = to_translate(
        "Another step on the stored exams is under way. Nothing was begun. "
        "Wait until it has ended, then start this one."
    )


def begin_closing(vault: Vault) -> Thread | None:
    """Close a vault; where that takes long, beside the event loop.

    Returns:
        Ends with the closing; None where it has ended.
    """
    if vault.is_due():
        thread = Thread(target=vault.close)
        try:
            thread.start()
        except RuntimeError:
            # A browser has no threads.
            pass
        else:
            return thread
    vault.close()
    return None


@dataclass(slots=True)
class Work:
    """A step under way, or what came of it.

    Attributes:
        title: What is done.
        done: Parts done, of ``whole``.
        whole: 0 until the first part is done.
        is_running: Whether it has not ended.
        is_good: Whether it ended as wished.
        said: What the person is told at the end.
    """

    title: str
    done: int = 0
    whole: int = 0
    is_running: bool = True
    is_good: bool = True
    said: str = ""

    def note(self, done: int, whole: int) -> None:
        """Keep how far it has come."""
        self.done, self.whole = done, whole

    @property
    def share(self) -> float:
        """How much is done, from 0 to 1."""
        return min(1.0, self.done / self.whole) if self.whole else 0.0

    @property
    def words(self) -> str:
        """How much is done, in words."""
        done = int(100 * self.share)
        return tr("{title}: {done} of 100 parts done", title=self.title, done=done)


class StoreSteps:
    """The long steps on one open vault.

    Attributes:
        last: The step under way, or the last one that ended.
    """

    def __init__(
        self,
        write: Callable[[Callable[[], str]], Awaitable[str]],
        stay_awake: Callable[[], AbstractContextManager[None]],
    ) -> None:
        """Take how to run what writes, and how to keep the screen unlocked meanwhile.

        Args:
            write: Runs it off the event loop, while no save can run.
            stay_awake: Else an idle lock would close the files that are being written.
        """
        self.last: Work | None = None
        self._write, self._stay_awake = write, stay_awake
        self._task: asyncio.Task[None] | None = None

    @property
    def is_busy(self) -> bool:
        """Whether a step is under way."""
        return self.last is not None and self.last.is_running

    def refuse_second(self) -> None:
        """Refuse another step while one is under way.

        Raises:
            StepUnderWayError: One is.
        """
        if self.is_busy:
            raise StepUnderWayError("a step is under way")

    def begin(self, title: str, step: Step) -> "asyncio.Task[None]":
        """Start a step; it goes on when its screen is left.

        Args:
            title: What is done.
            step: Does it, and returns what the person is told.

        Returns:
            Ends with the step, and never with an error: that is in the ``Work``.

        Raises:
            StepUnderWayError: One is under way.
        """
        self.refuse_second()
        work = self.last = Work(title)
        loop = asyncio.get_running_loop()
        self._task = loop.create_task(self._carry_out(work, step))
        return self._task

    async def _carry_out(self, work: Work, step: Step) -> None:
        try:
            with self._stay_awake():
                work.said = await self._write(lambda: step(work.note))
        except ExamError as error:
            work.said, work.is_good = tr(error.advice), False
        except Exception:
            work.said, work.is_good = tr(UNFORESEEN), False
        finally:
            work.is_running = False

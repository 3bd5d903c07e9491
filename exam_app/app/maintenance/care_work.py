"""One long step on the store at a time, whichever screen is shown meanwhile.

The step belongs to the vault and not to a tab: whoever leaves the screen and comes
back finds it under way, or what came of it.
"""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar
from weakref import WeakKeyDictionary

from exam_app.app.session import LONGEST_WAKE_SECONDS, Session
from exam_app.domain.errors import ExamError
from exam_app.store.engine.rewrite import Progress
from exam_app.store.vault.vault import Vault

Step = Callable[[Progress], str]

UNFORESEEN = (
    "The app stopped in the middle of this and does not know why. What was saved "
    "before is kept. Close the app and open it again, then check everything."
)


class CareUnderWayError(ExamError):
    """A second step was asked for while one is under way."""

    advice: ClassVar[str] = (
        "Another step on the stored exams is under way. Nothing was begun. "
        "Wait until it has ended, then start this one."
    )


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
        return f"{self.title}: {int(100 * self.share)} of 100 parts done"


_works: WeakKeyDictionary[Vault, Work] = WeakKeyDictionary()
_tasks: set["asyncio.Task[None]"] = set()


def work_of(vault: Vault) -> Work | None:
    """Return the step under way, or the last one that ended, since the unlocking."""
    return _works.get(vault)


def is_busy(vault: Vault) -> bool:
    """Whether a step is under way."""
    work = work_of(vault)
    return work is not None and work.is_running


def begin(session: Session, title: str, step: Step) -> "asyncio.Task[None]":
    """Start a step; it goes on when its screen is left.

    Args:
        session: Its vault is worked on, off the event loop, while no save can run.
        title: What is done.
        step: Does it, and returns what the person is told.

    Returns:
        Ends with the step, and never with an error: that is in the ``Work``.

    Raises:
        CareUnderWayError: One is under way.
    """
    vault = session.vault
    if is_busy(vault):
        raise CareUnderWayError(title)
    work = _works[vault] = Work(title)
    task = asyncio.get_running_loop().create_task(_carry_out(session, work, step))
    _tasks.add(task)
    task.add_done_callback(_tasks.discard)
    return task


async def _carry_out(session: Session, work: Work, step: Step) -> None:
    try:
        # An idle lock would close the files that are being written.
        with session.stay_awake(LONGEST_WAKE_SECONDS):
            work.said = await session.write(lambda: step(work.note))
    except ExamError as error:
        work.said, work.is_good = error.advice, False
    except Exception:
        work.said, work.is_good = UNFORESEEN, False
    finally:
        work.is_running = False

"""An import worker: takes hand-overs from the queue until there is none, or for ever.

Verifying and reading need no lock and no server, so that as many workers as there are
cores import side by side. A job is removed by the very save that keeps what it brought
and the receipt, so that a worker may be killed at any moment.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from exam_app.crypto.door import sha256
from exam_app.domain.errors import ExamError
from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import Received, receive
from exam_app.exchange.photographs import REFUSED_FOR_NOW, receive_photograph
from exam_app.register.connection import RegisterConnection
from exam_app.register.errors import JobGoneError, RegisterConflictError
from exam_app.register.queue import Job, SpoolQueue
from exam_app.register.register_vault import RegisterVault
from exam_app.store.errors import UnstorableValueError, VaultError
from sync.errors import SyncError
from sync.photographs import is_photograph

PUT_OFF_SECONDS = 300.0
BUSY_SECONDS = 1.0


@dataclass(slots=True)
class Worked:
    """What a worker did.

    Attributes:
        received: Of each hand-over that was stored.
        refused: Advice, of each that was refused or set apart.
        photographs: How many were kept.
        put_off: How many wait for their record, for room, or for their turn.
    """

    received: list[Received] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    photographs: int = 0
    put_off: int = 0


class Worker:
    """Imports hand-overs of one clinic."""

    def __init__(
        self,
        vault: RegisterVault,
        now: Callable[[], Moment],
        done: Callable[[Received], None] | None = None,
    ) -> None:
        """Work with an open register.

        Args:
            vault: Of the clinic.
            now: Gives the present moment.
            done: Told of each hand-over once it is stored; without it they are kept
                in ``worked``.
        """
        self._vault, self._now, self._done = vault, now, done
        self.queue = SpoolQueue(vault.connection, vault.clinic)
        self.worked = Worked()
        self._open: Job | None = None

    def work(self) -> bool:
        """Take one hand-over and import it.

        Returns:
            False where none waits.

        Raises:
            VaultError: The register was lost or refused; what was taken is taken up
                again, by this worker first.
        """
        self._give_back_open()
        job = self.queue.take()
        if job is None:
            return False
        self._open = job
        try:
            self._import(job)
        except JobGoneError:
            # It was taken back, and is imported by whoever has it now.
            self.worked.put_off += 1
        except RegisterConflictError:
            # Others were first each time; nothing is wrong with it.
            self._put_off(job, BUSY_SECONDS)
        except UnstorableValueError as error:
            self._failed(job, error)
        except VaultError:
            raise
        except Exception as error:  # whatever a hostile hand-over brings about
            self._failed(job, error)
        self._open = None
        return True

    def work_through(self) -> Worked:
        """Import until none waits any more."""
        while self.work():
            pass
        return self.worked

    def work_for_ever(self, is_over: Callable[[], bool], wait_seconds: float) -> None:
        """Import whatever comes; where the register is lost, wait and go on."""
        while not is_over():
            try:
                if self.work():
                    continue
            except VaultError:
                # Lost, or full: it is asked again.
                pass
            time.sleep(wait_seconds)

    def _import(self, job: Job) -> None:
        exchange = Exchange(self._vault)
        if is_photograph(job.sealed):
            self._import_photograph(job, exchange)
            return

        def finish(_: RegisterConnection) -> None:
            self.queue.finish(job)

        saved = self._vault.storage.saves
        try:
            with self._vault.also(finish):
                received = receive(job.sealed, exchange, self._now())
        except SyncError as error:
            self.worked.refused.append(error.advice)
            is_kept = exchange.quarantine.get(sha256(job.sealed).hex()) is not None
            if self._vault.storage.saves == saved:
                if is_kept:
                    self.queue.finish(job)
                else:
                    self.queue.set_apart(job, error.advice)
            return
        if self._vault.storage.saves == saved:
            # It was received before: nothing was saved.
            self.queue.finish(job)
        if self._done is None:
            self.worked.received.append(received)
        else:
            self._done(received)

    def _import_photograph(self, job: Job, exchange: Exchange) -> None:
        try:
            receive_photograph(job.sealed, exchange)
        except REFUSED_FOR_NOW as error:
            self._put_off(job, PUT_OFF_SECONDS, error.advice)
        except SyncError as error:
            self.worked.refused.append(error.advice)
            self.queue.set_apart(job, error.advice)
        else:
            self.queue.finish(job)
            self.worked.photographs += 1

    def _put_off(self, job: Job, seconds: float, reason: str = "") -> None:
        self.worked.put_off += 1
        self.queue.give_back(job, seconds, reason)

    def _failed(self, job: Job, error: Exception) -> None:
        # No message: it may hold what was in the hand-over.
        said = error.advice if isinstance(error, ExamError) else type(error).__name__
        self.worked.refused.append(said)
        self.queue.try_again(job, said)

    def _give_back_open(self) -> None:
        """Give back what was taken when the register was lost: not its fault."""
        if self._open is not None:
            self.queue.give_back(self._open)
            self._open = None

"""Sealed hand-overs that wait in the register, and the workers that take them.

Each lies there as its device sealed it and is taken by one worker at a time. A worker
holds a lock of its session as long as it lives, so that what a killed one had taken is
taken up again at once. Whatever ended three workers, or was refused, is set apart for
a person. All times are the server's.
"""

from dataclasses import dataclass

from exam_app.crypto.door import random_bytes, sha256
from exam_app.register.connection import RegisterConnection
from exam_app.register.errors import JobGoneError
from exam_app.store.errors import VaultFullError

MOST_TRIES = 3
LEASE_SECONDS = 600
MOST_BYTES = 4 * 2**30
_WORKERS = 7092
_PUT = """
INSERT INTO register.spooled (clinic, bundle_hash, content) VALUES (%s, %s, %s)
ON CONFLICT (clinic, bundle_hash) DO NOTHING RETURNING job"""
_TAKE = """
UPDATE register.spooled SET state = 'taken', tries = tries + 1, taken_by = %s,
    taken_until = now() + make_interval(secs => %s)
WHERE job = (SELECT job FROM register.spooled WHERE clinic = %s
    AND state = 'waiting' AND not_before <= now() ORDER BY job
    FOR UPDATE SKIP LOCKED LIMIT 1)
RETURNING job, content, tries"""
# Of a worker that is gone, or that holds it for longer than anything takes.
_TAKE_BACK = """
UPDATE register.spooled s SET taken_by = NULL,
    state = CASE WHEN tries >= %s THEN 'apart' ELSE 'waiting' END,
    reason = CASE WHEN tries >= %s THEN %s ELSE reason END
WHERE clinic = %s AND state = 'taken' AND (taken_until < now() OR NOT EXISTS (
    SELECT FROM pg_locks l WHERE l.locktype = 'advisory' AND l.classid = %s
    AND l.objid = s.taken_by AND l.objsubid = 2 AND l.database =
    (SELECT oid FROM pg_database WHERE datname = current_database())))
RETURNING job"""
_ENDED_WORKERS = "It ended three workers that tried to import it."


@dataclass(frozen=True, slots=True)
class Job:
    """A hand-over that a worker has taken.

    Attributes:
        tries: How often it was taken, this time included.
    """

    number: int
    sealed: bytes
    tries: int


@dataclass(frozen=True, slots=True)
class Apart:
    """A hand-over that waits for a person.

    Attributes:
        came: Date and time in words, by the server's clock.
    """

    number: int
    bundle_hash: str
    reason: str
    size: int
    came: str


@dataclass(frozen=True, slots=True)
class QueueState:
    """How much waits, is being imported, and is set apart."""

    waiting: int = 0
    taken: int = 0
    apart: int = 0


class SpoolQueue:
    """The hand-overs of one clinic that no worker has finished."""

    def __init__(self, connection: RegisterConnection, clinic: int) -> None:
        """Use a station's connection."""
        self._connection, self._clinic = connection, clinic
        self._worker, self._held_by = 0, -1

    def put(self, sealed: bytes) -> bool:
        """Keep a hand-over until a worker takes it; returns once it is on the medium.

        Returns:
            False where it waits there already.

        Raises:
            VaultFullError: Too much waits, or the server's disk is full.
        """
        asked = (
            "SELECT coalesce(sum(octet_length(content)), 0) FROM register.spooled "
            "WHERE clinic = %s"
        )
        waiting = self._connection.run(asked, (self._clinic,))[0][0]
        if waiting + len(sealed) > MOST_BYTES:
            raise VaultFullError("too much waits in the register")
        given = (self._clinic, sha256(sealed).hex(), sealed)
        return bool(self._connection.run(_PUT, given))

    def take(self) -> Job | None:
        """Take the oldest that waits, or None."""
        worker = self._own_number()
        given = (worker, LEASE_SECONDS, self._clinic)
        rows = self._connection.run(_TAKE, given)
        if not rows and self.take_back():
            rows = self._connection.run(_TAKE, given)
        return Job(rows[0][0], bytes(rows[0][1]), rows[0][2]) if rows else None

    def take_back(self) -> int:
        """Let go of what workers had that are gone; give how many that were."""
        given = (MOST_TRIES, MOST_TRIES, _ENDED_WORKERS, self._clinic, _WORKERS)
        return len(self._connection.run(_TAKE_BACK, given))

    def finish(self, job: Job) -> None:
        """Remove a job that this worker has; in the save that keeps what it brought.

        Raises:
            JobGoneError: Another worker has it by now; nothing of this save counts.
        """
        asked = (
            "DELETE FROM register.spooled WHERE job = %s AND state = 'taken' "
            "AND taken_by = %s RETURNING job"
        )
        if not self._connection.run(asked, (job.number, self._worker)):
            raise JobGoneError("another worker has it")

    def give_back(self, job: Job, seconds: float = 0, reason: str = "") -> None:
        """Let a job wait again as if it had not been tried: it was not its fault."""
        asked = (
            "UPDATE register.spooled SET state = 'waiting', tries = tries - 1, "
            "taken_by = NULL, reason = %s, "
            "not_before = now() + make_interval(secs => %s) "
            "WHERE job = %s AND state = 'taken' AND taken_by = %s"
        )
        given = (reason, seconds, job.number, self._worker)
        self._connection.run(asked, given)

    def set_apart(self, job: Job, reason: str) -> None:
        """Keep a job for a person; no worker takes it again."""
        asked = (
            "UPDATE register.spooled SET state = 'apart', taken_by = NULL, reason = %s "
            "WHERE job = %s AND state = 'taken' AND taken_by = %s"
        )
        self._connection.run(asked, (reason, job.number, self._worker))

    def try_again(self, job: Job, reason: str) -> None:
        """Let a job that failed wait once more, or set it apart after three tries."""
        if job.tries >= MOST_TRIES:
            self.set_apart(job, reason)
            return
        asked = (
            "UPDATE register.spooled SET state = 'waiting', taken_by = NULL, "
            "reason = %s WHERE job = %s AND state = 'taken' AND taken_by = %s"
        )
        self._connection.run(asked, (reason, job.number, self._worker))

    def release(self, number: int) -> None:
        """Let workers take a job again that was set apart, because a person says so."""
        asked = (
            "UPDATE register.spooled SET state = 'waiting', tries = 0, reason = '' "
            "WHERE clinic = %s AND job = %s AND state = 'apart'"
        )
        self._connection.run(asked, (self._clinic, number))

    def drop(self, number: int) -> None:
        """Remove a job that was set apart, because a person says so."""
        asked = (
            "DELETE FROM register.spooled "
            "WHERE clinic = %s AND job = %s AND state = 'apart'"
        )
        self._connection.run(asked, (self._clinic, number))

    def apart(self) -> list[Apart]:
        """Give what waits for a person, oldest first."""
        asked = (
            "SELECT job, bundle_hash, reason, octet_length(content), "
            "to_char(came, 'YYYY-MM-DD HH24:MI') FROM register.spooled "
            "WHERE clinic = %s AND state = 'apart' ORDER BY job"
        )
        return [Apart(*row) for row in self._connection.run(asked, (self._clinic,))]

    def state(self) -> QueueState:
        """Count what is there."""
        asked = (
            "SELECT state, count(*) FROM register.spooled WHERE clinic = %s "
            "GROUP BY state"
        )
        return QueueState(**dict(self._connection.run(asked, (self._clinic,))))

    def _own_number(self) -> int:
        """Give a number that a lock of this session holds as long as it lives."""
        while self._held_by != self._connection.generation:
            number = int.from_bytes(random_bytes(4)) >> 1
            asked = "SELECT pg_try_advisory_lock(%s::integer, %s::integer)"
            if self._connection.run(asked, (_WORKERS, number))[0][0]:
                self._worker, self._held_by = number, self._connection.generation
        return self._worker

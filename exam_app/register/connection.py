"""One connection to the register: statements, refusals in our words, coming back.

Every statement goes through ``run``, so that a test can cut the connection at any one.
A connection that was lost is made anew by the next statement, never in the middle of
a transaction: there the loss is an error, and all of it is asked for again.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from threading import RLock
from typing import Any

from exam_app.register.errors import (
    NoRegisterError,
    RegisterConflictError,
    RegisterLostError,
    RegisterMissingError,
    RegisterRefusedError,
    RegisterUnsafeError,
)
from exam_app.store.errors import (
    UnstorableValueError,
    VaultClosedError,
    VaultFullError,
)

try:
    import psycopg
    from psycopg import conninfo, errors
except ImportError as missing:
    if missing.name is None or not missing.name.startswith("psycopg"):
        raise
    IS_INSTALLED = False
else:
    IS_INSTALLED = True

Row = tuple[Any, ...]
CONNECT_SECONDS = 5
# One plan a statement, by its index: planning over all months takes longer than the
# answer, and a plan made while a table was empty would read all of it later.
_SETTINGS = "-c plan_cache_mode=force_generic_plan -c enable_seqscan=off -c jit=off"
_CHECKED = ("verify-full", "verify-ca")
_LOCAL = ("", "localhost", "127.0.0.1", "::1")


def check_address(url: str) -> None:
    """Refuse an address that would send secrets over a network unchecked.

    Raises:
        RegisterMissingError: The driver is not installed.
        RegisterUnsafeError: No local socket, no loopback, and no checked certificate.
        NoRegisterError: It is no address.
    """
    if not IS_INSTALLED:
        raise RegisterMissingError("psycopg")
    try:
        parts = conninfo.conninfo_to_dict(url)
    except psycopg.Error as error:
        raise NoRegisterError("no address of a register") from error
    hosts = str(parts.get("host") or parts.get("hostaddr") or "").split(",")
    is_local = all(host in _LOCAL or host.startswith(("/", "@")) for host in hosts)
    if not is_local and parts.get("sslmode") not in _CHECKED:
        raise RegisterUnsafeError("no checked certificate")


class RegisterConnection:
    """Statements over one connection; threads take turns.

    Attributes:
        statements: How many were sent so far.
        generation: Grows each time the connection is made anew.
    """

    def __init__(self, url: str) -> None:
        """Connect.

        Raises:
            RegisterLostError: Nobody answers there.
            ExamError: As ``check_address``.
        """
        check_address(url)
        self._url = url
        said = conninfo.conninfo_to_dict(url).get("options") or ""
        self._options = f"{_SETTINGS} {said}"
        self._turn = RLock()
        self._is_closed = False
        self._depth = 0
        self.statements, self.generation = 0, 0
        self._open = self._connected()

    def _connected(self) -> "psycopg.Connection[Row]":
        with said_in_our_words():
            return psycopg.connect(
                self._url,
                autocommit=True,
                connect_timeout=CONNECT_SECONDS,
                application_name="exam-app",
                options=self._options,
            )

    def run(self, statement: str, given: Sequence[object] = ()) -> list[Row]:
        """Run one statement and give its rows.

        Raises:
            VaultError: Refused, or the connection broke; inside ``transaction``
                nothing of it counts.
        """
        with self._turn, said_in_our_words():
            self._ready()
            self.statements += 1
            cursor = self._open.cursor(binary=True)
            cursor.execute(statement, given)
            return cursor.fetchall() if cursor.description else []

    def run_script(self, statements: str) -> None:
        """Run statements of ours, several in one text.

        Raises:
            VaultError: As ``run``.
        """
        with self._turn, said_in_our_words():
            self._ready()
            self.statements += 1
            self._open.execute(statements.encode())

    def run_all(self, asked: Sequence[tuple[str, Sequence[object]]]) -> list[list[Row]]:
        """Run several statements on one way there and back, in their order.

        Raises:
            VaultError: As ``run``.
        """
        with self._turn, said_in_our_words():
            self._ready()
            with self._open.pipeline():
                cursors = []
                for statement, given in asked:
                    self.statements += 1
                    cursor = self._open.cursor(binary=True)
                    cursor.execute(statement, given)
                    cursors.append(cursor)
            return [one.fetchall() if one.description else [] for one in cursors]

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Make what runs inside count together, or not at all.

        Raises:
            VaultError: Refused, or the connection broke: nothing counts, except where
                it broke while it was told to count, which only asking again shows.
        """
        with self._turn, said_in_our_words():
            self._ready()
            self._depth += 1
            try:
                with self._open.transaction():
                    yield
            finally:
                self._depth -= 1

    def close(self) -> None:
        """Close the connection; calling again does nothing."""
        self._is_closed = True
        with suppress(psycopg.Error):
            self._open.close()

    def _ready(self) -> None:
        if self._is_closed:
            raise VaultClosedError("the register is closed")
        if self._open.closed and not self._depth:
            self._open = self._connected()
            self.generation += 1


@contextmanager
def said_in_our_words() -> Iterator[None]:
    """Turn the driver's errors into ours."""
    try:
        yield
    except errors.DiskFull as error:
        raise VaultFullError("the register's disk is full") from error
    except (
        errors.SerializationFailure,
        errors.DeadlockDetected,
        errors.UniqueViolation,
        errors.LockNotAvailable,
        # Of locks, while many save at once.
        errors.OutOfMemory,
    ) as error:
        raise RegisterConflictError("somebody else was first") from error
    except (errors.UndefinedTable, errors.InvalidSchemaName) as error:
        raise NoRegisterError("no register") from error
    except (errors.InsufficientPrivilege, errors.WithCheckOptionViolation) as error:
        raise RegisterRefusedError("not allowed") from error
    except (psycopg.OperationalError, psycopg.InterfaceError) as error:
        raise RegisterLostError("the register does not answer") from error
    except psycopg.DataError as error:
        raise UnstorableValueError("a value that a column cannot hold") from error
    except psycopg.Error as error:
        raise RegisterRefusedError("refused for another reason") from error

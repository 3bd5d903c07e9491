"""Sealed photographs in the register, by their keyed name."""

from collections.abc import Iterator
from contextlib import contextmanager

from exam_app.register.connection import RegisterConnection
from exam_app.store.errors import VaultError


class RegisterPictures:
    """Pieces as rows; failures are ``OSError``, as of files."""

    def __init__(self, connection: RegisterConnection, clinic: int) -> None:
        """Use the pictures of one clinic."""
        self._connection, self._clinic = connection, clinic

    def names(self) -> set[str]:
        """Give the name of every piece."""
        asked = "SELECT name FROM register.picture WHERE clinic = %s"
        with _as_of_files():
            return {row[0] for row in self._connection.run(asked, (self._clinic,))}

    def holds(self, name: str) -> bool:
        """Whether there is a piece of this name."""
        asked = "SELECT 1 FROM register.picture WHERE clinic = %s AND name = %s"
        with _as_of_files():
            return bool(self._connection.run(asked, (self._clinic, name)))

    def read(self, name: str) -> bytes | None:
        """Give a piece, or None."""
        asked = "SELECT content FROM register.picture WHERE clinic = %s AND name = %s"
        with _as_of_files():
            rows = self._connection.run(asked, (self._clinic, name))
        return bytes(rows[0][0]) if rows else None

    def write(self, name: str, content: bytes) -> None:
        """Keep a piece; return once it is on the server's medium."""
        asked = (
            "INSERT INTO register.picture (clinic, name, content) VALUES (%s, %s, %s) "
            "ON CONFLICT (clinic, name) DO UPDATE SET content = excluded.content"
        )
        with _as_of_files():
            self._connection.run(asked, (self._clinic, name, content))

    def remove(self, name: str) -> None:
        """Remove a piece; without one nothing happens."""
        asked = "DELETE FROM register.picture WHERE clinic = %s AND name = %s"
        with _as_of_files():
            self._connection.run(asked, (self._clinic, name))

    def left(self) -> int | None:
        """Give None: nobody here knows the server's room."""
        return None

    def close(self) -> None:
        """Do nothing: the connection belongs to the vault."""


@contextmanager
def _as_of_files() -> Iterator[None]:
    try:
        yield
    except VaultError as error:
        raise OSError("the register") from error

"""The numbered SQL files that make the register and bring it up to date."""

from dataclasses import dataclass
from importlib import resources

from exam_app.crypto import door
from exam_app.register.connection import RegisterConnection
from exam_app.register.errors import NoRegisterError

_LOCK = 7091
_TABLE = """
CREATE TABLE IF NOT EXISTS public.register_migration (
    number integer PRIMARY KEY, name text NOT NULL, sha256 text NOT NULL,
    applied timestamptz NOT NULL DEFAULT now())"""
_GRANT = "GRANT SELECT ON public.register_migration TO PUBLIC"


@dataclass(frozen=True, slots=True)
class Migration:
    """One file: its number, its name, what it says."""

    number: int
    name: str
    content: bytes

    @property
    def sha256(self) -> str:
        """The hash of its content, in hexadecimal."""
        return door.sha256(self.content).hex()


def migrations() -> list[Migration]:
    """Give every file that comes with the program, in order."""
    folder = resources.files("exam_app.register") / "migrations"
    found = [one for one in folder.iterdir() if one.name.endswith(".sql")]
    made = [Migration(int(f.name[:4]), f.name, f.read_bytes()) for f in found]
    return sorted(made, key=lambda one: one.number)


def migrate(connection: RegisterConnection) -> list[str]:
    """Run every file that the database has not seen, each in its own transaction.

    Returns:
        Their names.

    Raises:
        NoRegisterError: The database has one that is not known here, or another one
            under a known number; nothing was done.
    """
    done = []
    connection.run(_TABLE)
    connection.run(_GRANT)
    for one in migrations():
        with connection.transaction():
            connection.run("SELECT pg_advisory_xact_lock(%s, 0)", (_LOCK,))
            if one.number not in _applied(connection):
                connection.run_script(one.content.decode())
                kept = (one.number, one.name, one.sha256)
                asked = (
                    "INSERT INTO public.register_migration (number, name, sha256) "
                    "VALUES (%s, %s, %s)"
                )
                connection.run(asked, kept)
                done.append(one.name)
    check_version(connection)
    return done


def check_version(connection: RegisterConnection) -> None:
    """Refuse a database whose migrations are not the ones known here.

    Raises:
        NoRegisterError: One is missing, unknown, or another one.
    """
    known = {one.number: one.sha256 for one in migrations()}
    if _applied(connection) != known:
        raise NoRegisterError("other migrations than are known here")


def _applied(connection: RegisterConnection) -> dict[int, str]:
    rows = connection.run("SELECT number, sha256 FROM public.register_migration")
    return dict(rows)

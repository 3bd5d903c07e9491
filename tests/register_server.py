"""A PostgreSQL server of its own for tests, on a socket in a temporary folder.

It runs as an ordinary user, since it refuses root; where the tests are root, as
``postgres`` or ``nobody``. Without PostgreSQL or its driver the tests that ask for it
are skipped with the reason, unless EXAM_REGISTER_EXPECTED is set: then they fail.
"""

import contextlib
import itertools
import os
import shutil
import signal
import subprocess
import tempfile
import time
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path

import pytest

EXPECTED = "EXAM_REGISTER_EXPECTED"
_FIRST_VERSION = 15
_numbers = itertools.count()
_SETTINGS = {
    "listen_addresses": "",
    "shared_buffers": "64MB",
    "max_connections": "60",
    "max_wal_size": "512MB",
    "autovacuum": "on",
    "log_min_messages": "fatal",
}


def binaries():
    """Give the folder of the newest server that is new enough, or None."""
    found = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/postgres")]
    named = shutil.which("postgres")
    found += [Path(named).resolve().parent] if named else []
    new = [p for p in found if _version(p) >= _FIRST_VERSION]
    return max(new, key=_version, default=None)


def _version(folder):
    told = subprocess.run(
        [folder / "postgres", "--version"], capture_output=True, text=True, check=False
    )
    # The name twice, then the version, then the package's.
    words = told.stdout.split()
    number = words[2].partition(".")[0] if len(words) > 2 else ""
    return int(number) if number.isdecimal() else 0


def missing():
    """Say what the register's tests lack here; empty where nothing is missing."""
    if find_spec("psycopg") is None:
        return "needs psycopg: pip install -e '.[register]'"
    if os.name != "posix" or binaries() is None:
        return f"no PostgreSQL {_FIRST_VERSION} or newer on this machine"
    return ""


def require():
    """Skip, or fail where the register is expected."""
    reason = missing()
    if reason and os.environ.get(EXPECTED):
        pytest.fail(reason)
    if reason:
        pytest.skip(reason)


def _user():
    if os.geteuid():
        return None
    import pwd

    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            return pwd.getpwnam(name)
    return None


@dataclass(slots=True)
class Server:
    """A server that runs.

    Attributes:
        folder: Of its data and its socket; belongs to the user it runs as.
    """

    folder: Path
    settings: dict = field(default_factory=dict)
    process: object = None

    def url(self, role="owner", database="postgres"):
        return f"host={self.folder} user={role} dbname={database}"

    def start(self):
        given = {**_SETTINGS, "unix_socket_directories": str(self.folder)}
        given |= self.settings
        options = [
            f"-c{name}={str(value).strip(chr(39))}" for name, value in given.items()
        ]
        log = (self.folder / "log").open("ab")
        with log:
            self.process = subprocess.Popen(
                [binaries() / "postgres", "-D", self.folder / "data", *options],
                stdout=log,
                stderr=log,
                **self._as_user(),
            )
        for _ in range(600):
            if self._is_ready():
                return self
            if self.process.poll() is not None:
                raise AssertionError((self.folder / "log").read_text()[-2000:])
            time.sleep(0.05)  # the server tells nobody that it is ready
        raise AssertionError("the server did not start")

    def _is_ready(self):
        ready = [binaries() / "pg_isready", "-q", "-h", self.folder]
        return subprocess.run(ready, check=False).returncode == 0

    def stop(self, how=signal.SIGINT):
        """End it: SIGINT at once and cleanly, SIGQUIT as a crash does."""
        if self.process is not None:
            self.process.send_signal(how)
            self.process.wait(60)
            self.process = None

    def tool(self, name, *arguments, **options):
        """Run one of PostgreSQL's own tools as the server's user."""
        command = [binaries() / name, *map(str, arguments)]
        given = {"capture_output": True, **self._as_user(), **options}
        return subprocess.run(command, check=True, **given)

    def run(self, *statements, database="postgres"):
        """Run statements as the owner, each by itself."""
        import psycopg

        with psycopg.connect(self.url(database=database), autocommit=True) as owner:
            for one in statements:
                cursor = owner.execute(one)
            return cursor.fetchall() if cursor.description else []

    def new_database(self):
        """Make an empty database and give its name."""
        name = f"register_{next(_numbers)}"
        self.run(f"CREATE DATABASE {name}")
        return name

    def _as_user(self):
        user = _user()
        if user is None:
            return {}
        return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


@contextlib.contextmanager
def running(**settings):
    """Give a server of its own; it and its folder are gone afterwards."""
    # A socket's path has at most some hundred bytes; pytest's folders may be longer.
    with tempfile.TemporaryDirectory(prefix="exam-pg-", dir="/tmp") as name:
        server, user = Server(Path(name), settings), _user()
        if user is not None:
            os.chown(name, user.pw_uid, user.pw_gid)
        server.tool(
            "initdb",
            "-D",
            Path(name) / "data",
            "-U",
            "owner",
            "-A",
            "trust",
            "--no-locale",
            "-E",
            "UTF8",
            "--no-sync",
            cwd=name,
        )
        server.start()
        try:
            yield server
        finally:
            server.stop()


@contextlib.contextmanager
def shared():
    """Give a server for what needs no disk: it does not flush."""
    with running(fsync="off", synchronous_commit="off", full_page_writes="off") as one:
        yield one

"""The register as a vault: the same repositories, another storage.

Opened with a station's own keys, which lie in the store of its folder: the private
agreement key there opens the register's data key.
"""

import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from threading import RLock
from typing import Any, TypeVar

from exam_app.crypto import door
from exam_app.exchange.spool import spool
from exam_app.register.connection import RegisterConnection
from exam_app.register.errors import (
    NoStationError,
    RegisterConflictError,
    RegisterKeepsItselfError,
)
from exam_app.register.keys import RowSealer, station_id, unwrap
from exam_app.register.migrations import check_version
from exam_app.register.pictures import RegisterPictures
from exam_app.register.reading import OpenRecords
from exam_app.register.storage import RegisterStorage
from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import FrameKeys, derive_frame_keys
from exam_app.store.engine.keys import NewDataKey
from exam_app.store.engine.rewrite import Progress, silent
from exam_app.store.vault.audit import AuditReport
from exam_app.store.vault.kept import Repositories
from exam_app.store.vault.vault import Vault

T = TypeVar("T")
_TRIES = 12
_FIRST_WAIT = 0.005


class _Turn(AbstractContextManager[None]):
    """One thread at a time, and one piece of work for what it reads and saves."""

    def __init__(self, storage: RegisterStorage) -> None:
        self._storage, self._lock = storage, RLock()
        self._open: list[Any] = []

    def __enter__(self) -> None:
        self._lock.acquire()
        unit = self._storage.units.one()
        unit.__enter__()
        self._open.append(unit)

    def __exit__(self, *raised: object) -> None:
        try:
            self._open.pop().__exit__(*raised)
        finally:
            self._lock.release()


class RegisterVault(Vault):
    """A clinic's store in the register; made by ``open_register`` only.

    Attributes:
        clinic: Its number in the register.
        station: The id of the station that opened it.
        folder: Of the station's own store; None without one.
        connection: To the server.
        sealer: Seals and opens its rows.
    """

    def __init__(
        self,
        connection: RegisterConnection,
        sealer: RowSealer,
        clinic: int,
        own: Vault | None,
    ) -> None:
        """Take over an open connection.

        Args:
            connection: Of the station's role.
            sealer: With the clinic's keys.
            clinic: Its number.
            own: The station's own store, which passphrases and upkeep concern;
                closed with this.
        """
        self.connection, self.sealer, self.clinic = connection, sealer, clinic
        self.station = ""
        self.folder: Path | None = None
        self._own = own
        self._unkept: tuple[str, str] | None = None
        self._repairs = ()
        self._is_closed = False
        # A vault in a folder begins with its files, which are not here.
        Repositories.__init__(
            self,
            RegisterStorage(connection, sealer, clinic),
            RegisterPictures(connection, clinic),
            lambda: self._frame_keys,
            self.rewrite,
        )
        self.turn = _Turn(self.storage)
        if own is not None:
            # Half a line typed at one station is none of another one's.
            self.typed = own.typed

    @property
    def storage(self) -> RegisterStorage:
        """What the tables stand on."""
        storage = self._storage
        assert isinstance(storage, RegisterStorage)  # noqa: S101  as it was made
        return storage

    def attempt(self, action: Callable[[], T]) -> T:
        """Run what looks first and saves then, again where others were first.

        Raises:
            RegisterConflictError: Others were first every time.
        """
        if self.storage.units.now is not None:
            # What stands around it looked first, and is done again as a whole.
            return action()
        wait = _FIRST_WAIT
        for _ in range(_TRIES - 1):
            try:
                with self.turn:
                    return action()
            except RegisterConflictError:
                # Not all at once again.
                time.sleep(wait * (1 + door.random_bytes(1)[0] / 255))
                wait = min(2 * wait, 0.5)
        with self.turn:
            return action()

    @contextmanager
    def also(self, action: Callable[[RegisterConnection], None]) -> Iterator[None]:
        """Do something in the transaction of the next save inside."""
        self.storage.also = action
        try:
            yield
        finally:
            self.storage.also = None

    @property
    def open_records(self) -> OpenRecords:
        """Who has which record open."""
        return OpenRecords(self.connection, self.sealer, self.clinic, self.station)

    def begin_reading(self, exam_id: str, name: str) -> None:
        """Say who has a record open at this station."""
        self.open_records.begin(exam_id, name)

    def read_elsewhere(self, exam_id: str) -> tuple[str, ...]:
        """Give who has a record open at other stations."""
        return self.open_records.elsewhere(exam_id)

    def keep_for_later(self, waiting: list[bytes]) -> None:
        """Spool hand-overs on this station while the register is lost.

        They are imported with what comes while the exams are locked.
        """
        while waiting and self.folder is not None:
            spool(self.folder, waiting[0])
            waiting.pop(0)

    @property
    def damage_report(self) -> str | None:
        """What was found wrong, as sentences; None when all is well."""
        own = self._own.damage_report if self._own else None
        texts = [*self.losses.unread(), own]
        return " ".join(text for text in texts if text) or None

    def report_loss(self, key: str, sentence: str) -> None:
        """Keep a loss that was found."""
        self.losses.keep(key, sentence)

    def acknowledge_damage(self, by: str, at: str) -> None:
        """Note who has read the damage report, and when, as shown."""
        self.losses.mark_read(by, at)
        if self._own is not None:
            self._own.acknowledge_damage(by, at)

    async def confirm_passphrase(self, passphrase: str) -> None:
        """Check the passphrase of the station's own store and unlock locked PINs."""
        await self._of_station().confirm_passphrase(passphrase)
        self.people.forgive_wrong_pins()

    async def change_passphrase(self, old: str, new: str) -> None:
        """Replace the passphrase of the station's own store."""
        await self._of_station().change_passphrase(old, new)

    async def replace_recovery_code(self) -> str:
        """Make a new recovery code of the station's own store."""
        return await self._of_station().replace_recovery_code()

    async def new_data_key(self, passphrase: str) -> NewDataKey:
        """Refuse: ``exam-app register rekey`` changes the register's key.

        Raises:
            RegisterKeepsItselfError: Always.
        """
        raise RegisterKeepsItselfError("new_data_key")

    def go_over(self, new: NewDataKey, progress: Progress = silent) -> None:
        """Refuse, as ``new_data_key`` does."""
        raise RegisterKeepsItselfError("go_over")

    @property
    def disk_report(self) -> str | None:
        """What to know of this station's own disk."""
        return self._own.disk_report if self._own else None

    def size(self) -> int:
        """Give how many bytes the whole database takes."""
        asked = "SELECT pg_database_size(current_database())"
        return int(self.connection.run(asked)[0][0])

    def audit(self, progress: Progress = silent) -> AuditReport:
        """Refuse: the server checks its pages, ``register check`` the rows.

        Raises:
            RegisterKeepsItselfError: Always.
        """
        raise RegisterKeepsItselfError("audit")

    def rewrite(self, progress: Progress = silent) -> None:
        """Leave to the server's vacuum what a removed row took; REGISTER.md says how.

        Backups of the database made before still hold it sealed.
        """

    def back_up(self, file: SealedFile, progress: Progress = silent) -> None:
        """Refuse: PostgreSQL's own tools make backups.

        Raises:
            RegisterKeepsItselfError: Always.
        """
        raise RegisterKeepsItselfError("back_up")

    def is_due(self) -> bool:
        """Whether closing takes long; of a register never."""
        return self._own.is_due() if self._own else False

    def close(self) -> None:
        """Close the connection and the station's own store."""
        if self._is_closed:
            return
        self._is_closed = True
        self.storage.close()
        if self._own is not None:
            self._own.close()

    def _of_station(self) -> Vault:
        if self._own is None:
            raise NoStationError("opened without a store of its own")
        return self._own

    @property
    def _frame_keys(self) -> FrameKeys:
        # Photographs are sealed with the first key for ever: names hang on it.
        return derive_frame_keys(
            self.sealer.first_key, self.sealer.register_id, bytes(16)
        )


def open_register(url: str, private: bytes, own: Vault | None = None) -> RegisterVault:
    """Open the register as a station.

    Args:
        url: As libpq takes it; with the role of the station.
        private: The station's X25519 private key.
        own: Its own store; closed with the register.

    Raises:
        ExamError: Nobody answers, it is no register, or the station is not admitted.
    """
    connection = RegisterConnection(url)
    try:
        check_version(connection)
        vault = _opened(connection, private, own)
        connection.run("SELECT register.make_month(register.this_month())")
    except BaseException:
        connection.close()
        raise
    return vault


def open_for_station(url: str, own: Vault, folder: Path) -> RegisterVault:
    """Open the register with a station's open store, which is closed with it.

    Args:
        folder: Of that store, for what comes while the register is lost.
    """
    try:
        vault = open_register(url, own.settings.get("agreement_key"), own)
    except BaseException:
        own.close()
        raise
    vault.folder = folder
    return vault


def _opened(
    connection: RegisterConnection, private: bytes, own: Vault | None
) -> RegisterVault:
    station = station_id(door.agreement_public_key(private))
    rows = connection.run("SELECT register.my_clinic(), register.my_station()")
    clinic, known = rows[0]
    if clinic is None or known != station:
        raise NoStationError("its role or its key is not admitted")
    register_id, is_demo = connection.run(
        "SELECT register_id, is_demo FROM register.about"
    )[0]
    wrapped = connection.run(
        "SELECT epoch, sealed FROM register.wrapped_key WHERE station = %s", (station,)
    )
    keys = {
        epoch: unwrap(sealed, epoch, register_id, private) for epoch, sealed in wrapped
    }
    if not keys:
        raise NoStationError("no key was wrapped for it")
    vault = RegisterVault(connection, RowSealer(keys, register_id, clinic), clinic, own)
    vault.station, vault.is_demo = station, is_demo
    return vault

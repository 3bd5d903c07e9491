"""Making a register, admitting stations to it, and changing its data key.

All three are done by the owner of the database, whom row security does not bind; a
station's own role may do none of them.
"""

from dataclasses import dataclass

from exam_app.crypto import door
from exam_app.register.connection import RegisterConnection
from exam_app.register.errors import NoRegisterError, NoStationError
from exam_app.register.keys import RowSealer, station_id, unwrap, wrap
from exam_app.register.migrations import migrate
from exam_app.register.rekeying import seal_again


@dataclass(frozen=True, slots=True)
class Admission:
    """A station that is to be admitted.

    Attributes:
        agreement_key: Its X25519 public key.
        role: The role of the database it logs in with; must exist.
        clinic: Code of its clinic, letters and digits; never a person's name.
    """

    agreement_key: bytes
    role: str
    clinic: str


def make_register(
    owner: RegisterConnection, first: Admission, *, is_demo: bool
) -> list[str]:
    """Make the tables, or bring them up to date, and admit a first station.

    A register that is there keeps its keys; only migrations are run then.

    Returns:
        The migrations that were run.
    """
    done = migrate(owner)
    with owner.transaction():
        if not owner.run("SELECT 1 FROM register.about"):
            asked = "INSERT INTO register.about (register_id, is_demo) VALUES (%s, %s)"
            register_id, key = door.random_bytes(16), door.random_bytes(32)
            owner.run(asked, (register_id, is_demo))
            owner.run("INSERT INTO register.data_key (epoch) VALUES (1)")
            _admit(owner, {1: key}, register_id, first)
    return done


def admit_station(owner: RegisterConnection, private: bytes, new: Admission) -> str:
    """Admit a station, or one again, with the keys that another station opens.

    Args:
        owner: A connection of the database's owner.
        private: The private key of a station that is admitted already.
        new: Who is admitted.

    Returns:
        The new station's id.

    Raises:
        NoStationError: The private key opens nothing here.
    """
    register_id, keys = opened_keys(owner, private)
    with owner.transaction():
        return _admit(owner, keys, register_id, new)


def revoke_station(owner: RegisterConnection, station: str) -> None:
    """End the trust in a station: its role sees nothing more, no key is wrapped for it.

    What it read it may have kept: change the data key afterwards.
    """
    with owner.transaction():
        asked = "UPDATE register.station SET revoked = now() WHERE station = %s"
        owner.run(asked, (station,))
        owner.run("DELETE FROM register.wrapped_key WHERE station = %s", (station,))


def opened_keys(
    owner: RegisterConnection, private: bytes
) -> tuple[bytes, dict[int, bytes]]:
    """Give the register's id and its data keys, by epoch.

    Raises:
        NoRegisterError: None was made.
        NoStationError: The private key opens nothing here.
    """
    about = owner.run("SELECT register_id FROM register.about")
    if not about:
        raise NoRegisterError("none was made")
    register_id = about[0][0]
    station = station_id(door.agreement_public_key(private))
    asked = "SELECT epoch, sealed FROM register.wrapped_key WHERE station = %s"
    rows = owner.run(asked, (station,))
    keys = {
        epoch: unwrap(sealed, epoch, register_id, private) for epoch, sealed in rows
    }
    if not keys:
        raise NoStationError("no key was wrapped for it")
    return register_id, keys


def change_data_key(owner: RegisterConnection, private: bytes) -> int:
    """Make a new data key, wrap it for every station, seal every row with it.

    Rows are sealed again a few at a time while stations work on; those that are open
    must be opened anew to know the new key, and are refused rows until then. It can be
    broken off and begun again. Photographs keep the first key.

    Returns:
        How many rows were sealed again.
    """
    register_id, keys = opened_keys(owner, private)
    key, epoch = door.random_bytes(32), max(keys) + 1
    with owner.transaction():
        owner.run("INSERT INTO register.data_key (epoch) VALUES (%s)", (epoch,))
        asked = "SELECT agreement_key FROM register.station WHERE revoked IS NULL"
        for (station_key,) in owner.run(asked):
            _wrap(owner, {epoch: key}, register_id, station_key)
    return finish_changing(owner, register_id, {**keys, epoch: key})


def finish_changing(
    owner: RegisterConnection, register_id: bytes, keys: dict[int, bytes]
) -> int:
    """Seal with the newest key what older ones sealed; give how many rows that was."""
    clinics = [row[0] for row in owner.run("SELECT clinic FROM register.clinic")]
    return sum(
        seal_again(owner, RowSealer(keys, register_id, clinic), clinic)
        for clinic in clinics
    )


def _admit(
    owner: RegisterConnection,
    keys: dict[int, bytes],
    register_id: bytes,
    new: Admission,
) -> str:
    station = station_id(new.agreement_key)
    asked = (
        "INSERT INTO register.clinic (code) VALUES (%s) "
        "ON CONFLICT (code) DO UPDATE SET code = excluded.code RETURNING clinic"
    )
    clinic = owner.run(asked, (new.clinic,))[0][0]
    asked = (
        "INSERT INTO register.station (station, role, clinic, agreement_key) "
        "VALUES (%s, %s, %s, %s) ON CONFLICT (station) DO UPDATE SET "
        "role = excluded.role, clinic = excluded.clinic, revoked = NULL"
    )
    owner.run(asked, (station, new.role, clinic, new.agreement_key))
    asked = "SELECT format('GRANT register_station TO %%I', %s::text)"
    owner.run(owner.run(asked, (new.role,))[0][0])
    _wrap(owner, keys, register_id, new.agreement_key)
    return station


def _wrap(
    owner: RegisterConnection,
    keys: dict[int, bytes],
    register_id: bytes,
    station_key: bytes,
) -> None:
    station = station_id(station_key)
    for epoch, key in keys.items():
        asked = (
            "INSERT INTO register.wrapped_key (epoch, station, sealed) "
            "VALUES (%s, %s, %s) ON CONFLICT (epoch, station) "
            "DO UPDATE SET sealed = excluded.sealed"
        )
        sealed = wrap(key, epoch, register_id, station_key)
        owner.run(asked, (epoch, station, sealed))

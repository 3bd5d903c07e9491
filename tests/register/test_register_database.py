"""The register's tables: migrations, months, what is dropped with a month."""

import contextlib
from dataclasses import replace

import pytest

from exam_app.app.queries.kept_records import read_kept
from exam_app.app.session import LockState
from exam_app.cli.store import at_register
from exam_app.domain.animal.signalment import Owner
from exam_app.register import migrations
from exam_app.register.errors import NoRegisterError, RegisterRefusedError
from exam_app.register.making import Admission, make_register
from exam_app.register.migrations import migrate
from exam_app.register.register_vault import RegisterVault
from exam_app.store.errors import VaultClosedError, VaultError
from tests import register_places
from tests.clinic_and_device import PASSPHRASE, VETERINARIAN, SetUp, new_session
from tests.handover_places import animal, paired_places, small_exam


@pytest.fixture
def alone(register):
    """A register in a database of its own, on the shared server."""
    return register_places.make(register.server)


def test_migrations_are_numbered_without_gaps_and_run_once(alone):
    found = migrations.migrations()
    assert [one.number for one in found] == list(range(1, len(found) + 1))
    with alone.owner() as owner:
        assert migrate(owner) == []
        again = Admission(bytes([9]) + bytes(31), alone.new_role(), "first")
        assert make_register(owner, again, is_demo=True) == []
    # A register that is there admits nobody by being made again.
    assert len(alone.run("SELECT * FROM register.station")) == 1


@pytest.mark.parametrize(
    "changed",
    [
        "UPDATE register_migration SET sha256 = '' WHERE number = 1",
        "INSERT INTO register_migration VALUES (99, 'later.sql', '')",
        "DELETE FROM register_migration WHERE number = 2",
    ],
)
def test_a_database_with_other_migrations_is_refused(alone, changed):
    (role,) = alone.stations
    alone.run(changed)
    with pytest.raises(NoRegisterError):
        alone.open(role)


def test_a_database_without_a_register_is_refused(register):
    server = register.server
    (role, *_), name = register.stations, server.new_database()
    from exam_app.register.register_vault import open_register

    with pytest.raises(NoRegisterError):
        open_register(server.url(role, name), register.stations[role])


def test_only_months_near_the_present_get_a_partition(register):
    role = register.admit(register.new_clinic())
    with contextlib.closing(register.open(role)) as vault:
        vault.connection.run("SELECT register.make_month(register.this_month())")
        for far in ("1970-01-01", "2399-01-01"):
            with pytest.raises(VaultError):
                vault.connection.run("SELECT register.make_month(%s::date)", (far,))
        with pytest.raises(RegisterRefusedError):
            vault.connection.run("SELECT register.drop_month('2020-01-01')")
        assert vault.settings.get("nothing") is None


async def test_a_dropped_month_takes_its_records_and_what_stands_beside_them(
    tmp_path, alone
):
    async with paired_places(tmp_path, register=alone) as (clinic, tablet):
        owner = Owner(name="Ilse Vandermolen")
        old = tablet.close_exam(small_exam("old"), owner)
        new = tablet.close_exam(
            small_exam("new", of=animal("Sorrel")), replace(owner, name="Other")
        )
        for exam_id in (old, new):
            (bundle,) = tablet.hand_over(exam_id)
            clinic.receive(bundle.sealed)
        month = "register.this_month() - interval '6 months'"
        alone.run(
            f"SELECT register.make_month(({month})::date)",
            f"UPDATE register.record SET month = {month} WHERE id = '{old}'",
            f"UPDATE register.record_key SET month = {month} WHERE id = '{old}'",
        )
        assert read_kept(clinic.vault, old) is not None
        gone = alone.run(f"SELECT register.drop_month(({month})::date)")
        assert gone == [(1,)]
        assert read_kept(clinic.vault, old) is None
        assert clinic.vault.owners.get(old) is None
        assert clinic.vault.closed.count() == 1
        assert read_kept(clinic.vault, new) is not None
        assert clinic.vault.owners.get(new) is not None
        with pytest.raises(Exception, match="this month is not over"):
            alone.run("SELECT register.drop_month(register.this_month())")


async def test_the_app_opens_the_register_with_the_stations_passphrase(
    tmp_path, register
):
    session = new_session(tmp_path / "station")
    answers = SetUp("clinic", "Invented", "555", PASSPHRASE, VETERINARIAN, "4321")
    await session.set_up(answers)
    private = session.vault.settings.get("agreement_key")
    session.close()
    role = register.admit(register.new_clinic(), private)
    session = new_session(tmp_path / "station")
    session.at_register = lambda own: at_register(
        register.url(role), own, session.folder
    )
    await session.open_with_passphrase(PASSPHRASE)
    assert session.state is LockState.OPEN
    vault = session.vault
    assert isinstance(vault, RegisterVault)
    await session.save(lambda: vault.people.put(VETERINARIAN))
    session.close()
    with pytest.raises(VaultClosedError):
        vault.people.all()
    # Where the station is refused, its own folder is closed again, and can be opened.
    session = new_session(tmp_path / "station")
    session.at_register = lambda own: at_register("host=/nowhere", own, session.folder)
    with pytest.raises(VaultError):
        await session.open_with_passphrase(PASSPHRASE)
    session.at_register = lambda own: own
    await session.open_with_passphrase(PASSPHRASE)
    session.close()

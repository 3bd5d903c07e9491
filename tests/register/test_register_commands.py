"""The register's commands, as one station after another runs them."""

import contextlib
import io
import json
import sys

import pytest

from exam_app.__main__ import Costs, main
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.spool import spooled
from exam_app.register.connection import RegisterConnection
from exam_app.register.errors import RegisterKeepsItselfError, RegisterUnsafeError
from exam_app.register.making import opened_keys
from exam_app.store.engine.files import open_file
from exam_app.store.errors import VaultClosedError
from sync.transport.folder import Ending, FolderWriter, device_folder
from tests.handover_places import (
    BOUNDS,
    CHEAP,
    PASSPHRASE,
    animal,
    new_place,
    paired_places,
    small_exam,
)

COSTS = Costs(CHEAP, BOUNDS)
REAL = animal(is_demo=False)


@pytest.fixture
async def places(tmp_path):
    """A real clinic in files, closed, with one exam, and an open tablet."""
    async with paired_places(tmp_path, opener=open_file, is_demo=False) as (
        clinic,
        tablet,
    ):
        (bundle,) = tablet.hand_over(tablet.close_exam(small_exam("one", of=REAL)))
        clinic.receive(bundle.sealed)
        clinic.vault.close()
        yield clinic, tablet


class Station:
    """A computer whose commands are run here."""

    def __init__(self, monkeypatch, capsys, folder):
        self.monkeypatch, self.capsys, self.folder = monkeypatch, capsys, folder

    def run(self, *arguments, url=None, code=0):
        self.monkeypatch.setattr(sys, "stdin", io.StringIO(f"{PASSPHRASE}\n"))
        at = () if url is None else ("--register", url)
        given = [*at, *map(str, arguments), "--data", str(self.folder)]
        assert main(given, COSTS) == code
        return self.capsys.readouterr()


def new_database(register):
    """Give the owner's address of an empty database and a role's."""
    server, role = register.server, register.new_role()
    name = server.new_database()
    return server.url("owner", name), server.url(role, name), role


def records_in(folder):
    return {
        path.relative_to(folder): path.read_bytes()
        for path in folder.rglob("*")
        if path.suffix in (".cose", ".json", ".txt", ".csv") and path.is_file()
    }


@pytest.mark.exhaustive
def test_a_clinic_moves_up_works_there_and_is_exported_whole(
    places, tmp_path, register, monkeypatch, capsys
):
    _, tablet = places
    owner, url, role = new_database(register)
    station = Station(monkeypatch, capsys, tmp_path / "clinic")
    made = station.run(
        "register", "init", "--role", role, "--clinic-code", "n", url=owner
    )
    assert "0001_register.sql" in made.out
    again = station.run(
        "register", "init", "--role", role, "--clinic-code", "n", url=owner
    )
    assert "up to date" in again.out
    assert "1 record" in station.run("register", "import", url=url).out
    assert "0 records" in station.run("register", "import", url=url).out

    shared = tmp_path / "shared"
    exam_id = tablet.close_exam(small_exam("two", of=REAL))
    (bundle,) = tablet.hand_over(exam_id)
    FolderWriter(device_folder(shared, tablet.device_id)).put(
        bundle.sealed, Ending.BUNDLE
    )
    said = station.run("register", "serve", shared, "--once", url=url).out
    assert said.startswith("1 hand-over put into the queue")
    assert "Nothing waits" in station.run("register", "work", "--once", url=url).out
    said = station.run("register", "serve", shared, "--once", url=url).out
    assert "1 receipt written" in said
    (receipt,) = shared.rglob("*.exam-receipt")
    assert receipt.stat().st_size
    told = json.loads(station.run("register", "status", "--json", url=url).out)
    assert (told["waiting"], told["apart"], told["records"]) == (0, 0, 2)
    assert told["hand_overs"] == 2
    assert "0 wait" in station.run("register", "status", url=url).out

    station.run("export", tmp_path / "from folder")
    station.run("export", tmp_path / "from register", url=url)
    folder, whole = (records_in(tmp_path / f"from {x}") for x in ("folder", "register"))
    assert len(whole) > len(folder)
    # The list of sums at the top is signed at each export anew.
    signed = [p for p in folder if p.suffix == ".cose" and len(p.parts) > 1]
    assert signed
    assert all(whole[path] == folder[path] for path in signed)


@pytest.mark.exhaustive
def test_a_second_station_is_admitted_and_its_trust_ended(
    places, tmp_path, register, monkeypatch, capsys
):
    import asyncio

    owner, url, role = new_database(register)
    first = Station(monkeypatch, capsys, tmp_path / "clinic")
    first.run("register", "init", "--role", role, "--clinic-code", "n", url=owner)
    first.run("register", "import", url=url)
    place = asyncio.run(
        new_place(tmp_path / "second", "Second", "clinic", opener=open_file)
    )
    place.vault.close()
    second = Station(monkeypatch, capsys, tmp_path / "second")
    key = second.run("register", "key").out.strip()
    refused = second.run("register", "status", url=url, code=1)
    assert "does not know this station" in refused.err
    other = register.new_role()
    there = url.replace(role, other)
    admit = ("register", "admit", key, "--role", other, "--clinic-code", "n")
    assert "Admitted station" in first.run(*admit, url=owner).out
    assert "1 records of 1" in second.run("register", "status", url=there).out
    assert "sealed again" in first.run("register", "rekey", url=owner).out
    assert "1 records of 1" in second.run("register", "status", url=there).out
    first.run("register", "revoke", key, url=owner)
    second.run("register", "status", url=there, code=1)
    refused = first.run("register", "admit", "no key", *admit[3:], url=owner, code=1)
    assert "no station's key" in refused.err


def test_a_station_that_lost_the_register_spools_and_says_so(
    places, tmp_path, register, monkeypatch, capsys
):
    _, tablet = places
    owner, url, role = new_database(register)
    station = Station(monkeypatch, capsys, tmp_path / "clinic")
    station.run("register", "init", "--role", role, "--clinic-code", "n", url=owner)
    station.run("register", "import", url=url)
    (bundle,) = tablet.hand_over(tablet.close_exam(small_exam("two", of=REAL)))
    file = tmp_path / "two.exam-bundle"
    file.write_bytes(bundle.sealed)
    nowhere = url.replace(str(register.server.folder), str(tmp_path / "nobody"))
    assert "spooled" in station.run("receive", file, url=nowhere, code=3).out
    refused = station.run("register", "status", url=nowhere, code=1)
    assert "register cannot be reached" in refused.err
    assert bundle.code in station.run("receive", file, url=url).out
    told = json.loads(station.run("register", "status", "--json", url=url).out)
    assert told["records"] == 2


def test_a_computer_that_is_not_set_up_is_no_station(tmp_path, monkeypatch, capsys):
    station = Station(monkeypatch, capsys, tmp_path / "nothing yet")
    refused = station.run("--no-browser", url="dbname=r", code=1)
    assert "not set up yet" in refused.err


async def test_what_is_typed_at_a_station_stays_there(tmp_path, register):
    from exam_app.register.register_vault import open_for_station

    role = register.admit(register.new_clinic())
    own = (await new_place(tmp_path / "own", "Own", "clinic")).vault
    own.settings.put("agreement_key", register.stations[role])
    vault = open_for_station(register.url(role), own, tmp_path)
    vault.typed.put("animal/x", "animal", {"name": "half a na"})
    assert vault.storage.entries("typed_words") == {}
    assert own.typed.all()
    waiting = [b"what came while it was lost"]
    vault.keep_for_later(waiting)
    assert waiting == []
    assert [one for _, one in spooled(tmp_path)] == [b"what came while it was lost"]
    with pytest.raises(RegisterKeepsItselfError):
        vault.audit()
    assert vault.size() > 1_000_000
    await vault.confirm_passphrase(PASSPHRASE)
    vault.close()
    with pytest.raises(VaultClosedError):
        own.settings.put("x", 1)


@pytest.mark.exhaustive
async def test_a_backup_by_the_servers_own_tools_is_restored_whole(tmp_path, register):
    async with paired_places(tmp_path, register=register) as (clinic, tablet):
        exam = small_exam("one")
        received = clinic.receive(tablet.seal_exams(clinic, exam))
        server, file = register.server, register.server.folder / "backup"
        at = ("-h", server.folder, "-U", "owner")
        server.tool("pg_dump", *at, "-Fc", "-f", file, register.database)
        name = server.new_database()
        server.tool("pg_restore", *at, "-d", name, file)
        role, private = clinic.station, register.stations[clinic.station]
        from exam_app.register.register_vault import open_register

        with contextlib.closing(open_register(server.url(role, name), private)) as back:
            assert back.closed.get(exam.exam_id) == clinic.vault.closed.get(
                exam.exam_id
            )
            kept = Exchange(back).incoming.receipt(received.receipt_view.bundle_hash)
            assert kept == received.receipt
            assert back.animals.search("bramble")
        with contextlib.closing(RegisterConnection(server.url("owner", name))) as owner:
            assert opened_keys(owner, private)[1].keys() == {1}


async def test_what_both_have_otherwise_stays_as_the_register_has_it(
    tmp_path, register
):
    from exam_app.register.moving import OtherClinicError, move_up
    from tests.photographed_places import close_with, sealed_of
    from tests.pictures import picture

    async with paired_places(tmp_path, opener=open_file) as (clinic, tablet):
        exam_id = close_with(tablet, "one", picture(1))
        (bundle,) = tablet.hand_over(exam_id)
        clinic.receive(bundle.sealed)
        from exam_app.exchange.photographs import receive_photograph

        receive_photograph(sealed_of(tablet)[0], clinic.exchange)
        role = register.admit(register.new_clinic())
        with contextlib.closing(register.open(role)) as vault:
            vault.is_demo = True
            first = move_up(clinic.vault, vault)
            assert (first.copied["closed"], first.photographs) == (1, 1)
            changed = {**vault.animals.get(animal().animal_id), "place": "Ward 3"}
            vault.animals.put(changed)
            clinic.vault.closed.acknowledge(
                exam_id, vault.closed.revisions(exam_id)[0].record_hash, "Dr Second"
            )
            second = move_up(clinic.vault, vault)
            assert (second.copied["closed"], second.kept) == (1, 1)
            assert vault.animals.get(animal().animal_id)["place"] == "Ward 3"
            assert vault.closed.revisions(exam_id)[0].acknowledged_by == "Dr Second"
            third = move_up(clinic.vault, vault)
            assert (sum(third.copied.values()), third.photographs) == (0, 0)
            (row,) = vault.photographs.rows()
            assert vault.photographs.get(row.sha256) == picture(1)
            other = await new_place(tmp_path / "other", "Other", "clinic")
            with pytest.raises(OtherClinicError):
                move_up(other.vault, vault)
            other.vault.close()


@pytest.mark.parametrize(
    ("address", "is_safe"),
    [
        ("host=/run/x dbname=r", True),
        ("dbname=r", True),
        ("host=127.0.0.1 dbname=r", True),
        ("host=db.example dbname=r", False),
        ("postgresql://role@db.example/r?sslmode=require", False),
        ("postgresql://role@db.example/r?sslmode=verify-full", True),
    ],
)
def test_no_secret_goes_over_a_network_unchecked(register, address, is_safe):
    from exam_app.register.connection import check_address

    if is_safe:
        check_address(address)
    else:
        with pytest.raises(RegisterUnsafeError):
            check_address(address)

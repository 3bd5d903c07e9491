"""Several stations at one register: who sees what, who reads, who acknowledges."""

import contextlib
import threading
from dataclasses import replace

import pytest

from exam_app.app.clinic.notes import acknowledge_once, write_note
from exam_app.app.queries.clinic_records import read_record
from exam_app.app.queries.kept_records import read_kept
from exam_app.crypto import door
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.returns import make_day_pack
from exam_app.exchange.signed_notes import acknowledgements, notes_of
from exam_app.record.notes import NoteKind
from exam_app.register.errors import NoStationError, RegisterRefusedError
from exam_app.register.handing import end_handing, hand_animal, handed_here, take_over
from exam_app.register.making import change_data_key, revoke_station
from tests.exam_samples import VETERINARIAN
from tests.handover_places import LATER, animal, named_id, paired_places, small_exam

TABLES = (
    "document",
    "record",
    "record_key",
    "picture",
    "spooled",
    "reading",
    "handed",
    "wrapped_key",
    "station",
)


@pytest.fixture
async def places(tmp_path, register):
    async with paired_places(tmp_path, register=register) as opened:
        yield opened


@contextlib.contextmanager
def second_station(register, clinic):
    """Open the clinic of a place once more, as another station of it."""
    asked = f"SELECT code FROM register.clinic WHERE clinic = {clinic.vault.clinic}"
    role = register.admit(register.run(asked)[0][0])
    with contextlib.closing(register.open(role)) as vault:
        vault.is_demo = clinic.is_demo
        yield vault


def received(clinic, tablet, name="one"):
    exam = small_exam(name)
    clinic.receive(tablet.seal_exams(clinic, exam))
    return exam.exam_id


def acknowledgement(vault, exam_id, note_name, author=VETERINARIAN):
    kept = read_kept(vault, exam_id)
    kind = NoteKind.ACKNOWLEDGEMENT
    return write_note(kind, kept, author, LATER, named_id(note_name))


def given_of(vault, exam_id):
    notes, unread = notes_of(vault, exam_id)
    assert not unread
    return acknowledgements(notes, read_kept(vault, exam_id).exam_hash)


async def test_what_one_station_received_another_one_reads(places, register):
    clinic, tablet = places
    exam_id = received(clinic, tablet)
    with second_station(register, clinic) as other:
        assert read_kept(other, exam_id).exam == read_kept(clinic.vault, exam_id).exam
        assert other.closed.latest(5)[0].exam_id == exam_id
        assert other.animals.search("bramble")[0].name == "Bramble"
        for vault in (other, clinic.vault):
            make_day_pack(
                Exchange(vault), tablet.device_id, [], LATER, door.random_bytes
            )
        assert Exchange(other).outgoing.next_sequence(tablet.device_id) == 3


async def test_a_list_shown_again_shows_what_another_station_changed(places, register):
    clinic, tablet = places
    exam_ids = {received(clinic, tablet, name) for name in ("one", "two")}

    def shown(vault):
        return {row.exam_id: row.acknowledged_by for row in vault.closed.latest(5)}

    with second_station(register, clinic) as other:
        assert shown(other).keys() == exam_ids
        changed = next(iter(exam_ids))
        note = acknowledgement(clinic.vault, changed, "a")
        assert acknowledge_once(clinic.vault, note)
        left = dict.fromkeys(exam_ids - {changed}, "")
        assert shown(other) == {changed: VETERINARIAN.name, **left}
        clinic.vault.closed.remove(changed)
        assert shown(other) == left
        came = received(clinic, tablet, "three")
        assert shown(other) == {came: "", **left}


async def test_equal_words_of_two_clinics_have_other_blind_values(places, register):
    clinic, tablet = places
    received(clinic, tablet)
    sealer = clinic.vault.sealer
    terms = set(sealer.terms_of("bramble", ["bramble"]))
    asked = f"""SELECT count(*) FROM register.document WHERE kind = 'animals'
        AND terms && ARRAY{sorted(terms)}::bigint[]"""
    assert register.run(asked)[0][0] > 0
    others = sealer.of_clinic(clinic.vault.clinic + 1).terms_of("bramble", ["bramble"])
    assert len(others) == len(terms)
    assert terms.isdisjoint(others)


async def test_what_is_asked_often_is_planned_once(places, register):
    clinic, tablet = places
    received(clinic, tablet)
    vault = clinic.vault
    asks = (
        lambda: vault.closed.latest(5),
        lambda: vault.closed.pressing(5),
        lambda: vault.closed.for_animal(animal().animal_id),
        lambda: vault.notes.counts_of(["a" * 32, "b" * 32]),
    )
    for ask in asks * 7:
        ask()
    planned = vault.connection.run(
        "SELECT statement, generic_plans, custom_plans FROM pg_prepared_statements"
    )
    assert len(planned) >= len(asks)
    for statement, generic, custom in planned:
        assert (generic > 0, custom) == (True, 0), statement


async def test_two_at_once_acknowledge_each_once_and_nothing_is_lost(places, register):
    clinic, tablet = places
    exam_id = received(clinic, tablet)
    colleague = replace(VETERINARIAN, person_id="c" * 32, name="Dr Second")
    with second_station(register, clinic) as other:
        start, outcomes = threading.Barrier(4), []

        def give(vault, name, author):
            note = acknowledgement(vault, exam_id, name, author)
            start.wait()
            outcomes.append(acknowledge_once(vault, note))

        # The same person twice on each of two stations, and another one.
        work = [
            (clinic.vault, "a", VETERINARIAN),
            (other, "b", VETERINARIAN),
            (clinic.vault, "c", colleague),
            (other, "d", colleague),
        ]
        threads = [threading.Thread(target=give, args=one) for one in work]
        for one in threads:
            one.start()
        for one in threads:
            one.join()
        assert sorted(outcomes) == [False, False, True, True]
        for vault in (clinic.vault, other):
            authors = {one.note.author.name for one in given_of(vault, exam_id)}
            assert authors == {VETERINARIAN.name, "Dr Second"}
            assert len(given_of(vault, exam_id)) == 2
            assert vault.closed.revisions(exam_id)[0].acknowledged_by in authors


async def test_who_reads_what_is_shown_to_others_and_ends(places, register):
    clinic, tablet = places
    exam_id = received(clinic, tablet)
    with second_station(register, clinic) as other:
        for _ in range(2):
            clinic.vault.begin_reading(exam_id, "Dr Mar Ondine")
        assert read_record(other, exam_id).read_elsewhere == ("Dr Mar Ondine",)
        assert read_record(clinic.vault, exam_id).read_elsewhere == ()
        register.run("UPDATE register.reading SET until = now() - interval '1 s'")
        assert other.read_elsewhere(exam_id) == ()
        clinic.vault.begin_reading(exam_id, "Dr Mar Ondine")
        clinic.vault.begin_reading("another", "Dr Mar Ondine")
        assert other.read_elsewhere(exam_id) == ()
        assert other.read_elsewhere("another") == ("Dr Mar Ondine",)
        clinic.vault.open_records.end()
        assert other.read_elsewhere("another") == ()


async def test_a_hostile_station_reads_and_changes_nothing_of_another_clinic(
    places, register
):
    clinic, tablet = places
    received(clinic, tablet)
    clinic.vault.begin_reading("e", "Dr Mar Ondine")
    hostile = register.admit(register.new_clinic())
    with contextlib.closing(register.open(hostile)) as vault:
        run = vault.connection.run
        theirs = clinic.vault.clinic
        for table in TABLES:
            where = "clinic = %s" if table != "wrapped_key" else "station <> %s"
            given = theirs if table != "wrapped_key" else vault.station
            assert run(f"SELECT * FROM register.{table} WHERE {where}", (given,)) == []
        assert len(run("SELECT * FROM register.wrapped_key")) == 1
        for table in ("document", "record", "record_key", "spooled", "reading"):
            gone = f"DELETE FROM register.{table} WHERE clinic = %s RETURNING 1"
            assert run(gone, (theirs,)) == []
        changed = (
            "UPDATE register.document SET clinic = %s WHERE clinic = %s RETURNING 1"
        )
        assert run(changed, (vault.clinic, theirs)) == []
        handed = "SELECT * FROM register.records_handed(%s, %s)"
        animal_id = small_exam("one").animal.animal_id
        assert run(handed, (theirs, animal_id)) == []
        assert (
            run("SELECT * FROM register.documents_handed(%s, %s)", (theirs, animal_id))
            == []
        )
        marks = "SELECT * FROM register.animals_with(%s::bigint[], 10)"
        assert run(marks, (vault.sealer.words(["bramble"])[0],)) == []
        put = (
            'INSERT INTO register.document (clinic, kind, id, place, version, "row") '
            "VALUES (%s, 'people', 'x', 1, 1, '')"
        )
        month = f"record_{register.run('SELECT register.this_month()')[0][0]:%Y_%m}"
        others = [
            (put, (theirs,)),
            ("UPDATE register.document SET clinic = %s", (theirs,)),
            (f"SELECT * FROM register.{month}", ()),
            ("SELECT * FROM register.record_other", ()),
            ("SELECT register.drop_month('2001-01-01')", ()),
            ("INSERT INTO register.station VALUES ('x', 'x', %s, '')", (theirs,)),
            ("UPDATE register.station SET clinic = %s", (theirs,)),
            ("ALTER TABLE register.document DISABLE ROW LEVEL SECURITY", ()),
            ("SET ROLE owner", ()),
            (f"SET ROLE {clinic.station}", ()),
            (f"SET SESSION AUTHORIZATION {clinic.station}", ()),
        ]
        vault.settings.put("its_own", "a row to try and give away")
        for asked, given in others:
            with pytest.raises(RegisterRefusedError):
                run(asked, given)
    assert clinic.vault.animals.search("bramble")
    with second_station(register, clinic) as other:
        assert other.read_elsewhere("e") == ("Dr Mar Ondine",)


async def test_only_a_handed_animal_is_read_by_the_other_clinic(places, register):
    clinic, tablet = places
    exam_id = received(clinic, tablet)
    kept_back = small_exam(
        "two", of=replace(small_exam("two").animal, animal_id="f" * 32)
    )
    clinic.receive(tablet.seal_exams(clinic, kept_back, sequence=2))
    acknowledge_once(clinic.vault, acknowledgement(clinic.vault, exam_id, "n"))
    code = register.new_clinic()
    role = register.admit(code)
    animal_id = read_kept(clinic.vault, exam_id).exam.animal.animal_id
    with contextlib.closing(register.open(role)) as vault:
        with vault.transaction():
            for name in ("signing_key", "agreement_key"):
                vault.settings.put(name, door.random_bytes(32))
        assert handed_here(vault) == []
        hand_animal(clinic.vault, animal_id, code)
        (handed,) = handed_here(vault)
        assert take_over(vault, handed) == 1
        assert take_over(vault, handed) == 0
        kept = read_kept(vault, exam_id)
        assert kept.exam == read_kept(clinic.vault, exam_id).exam
        notes, unread = notes_of(vault, exam_id)
        assert (len(notes), unread) == (1, 0)
        assert read_kept(vault, kept_back.exam_id) is None
        assert len(vault.closed.everything()) == 1
        end_handing(clinic.vault, animal_id)
        assert handed_here(vault) == []
        assert read_kept(vault, exam_id) is not None
    with pytest.raises(NoStationError):
        hand_animal(clinic.vault, animal_id, "nowhere")


async def test_animals_are_found_by_whole_words_and_by_how_one_begins(places):
    clinic, tablet = places
    for name in ("Bramble", "Bram Stone", "Sorrel Stone"):
        tablet.close_exam(small_exam(name, of=animal(name)))
        (bundle,) = tablet.hand_over(small_exam(name).exam_id)
        clinic.receive(bundle.sealed)

    def found(text):
        return [one.name for one in clinic.vault.animals.search(text, 50)]

    assert found("bramble") == ["Bramble"]
    assert found("brambl") == ["Bramble"]
    assert found("sor") == ["Sorrel Stone"]
    assert found("stone") == ["Bram Stone", "Sorrel Stone"]
    assert found("STONE bram") == ["Bram Stone"]
    assert found("ston sorrel") == ["Sorrel Stone"]
    assert found("bram") == ["Bram Stone"]
    assert found("rambl") == found("so") == found("sorrow") == []
    assert len(found("")) == 3


async def test_what_presses_is_listed_however_old_it_is(places, register, monkeypatch):
    from exam_app.app.queries import clinic_records

    clinic, tablet = places
    old = received(clinic, tablet)
    monkeypatch.setattr(clinic_records, "LOOKED_THROUGH", 1)
    new = small_exam("two")
    clinic.receive(tablet.seal_exams(clinic, new, sequence=2))
    ids = [row.exam_id for row in clinic_records.received_rows(clinic.vault)]
    assert ids == [new.exam_id, old]
    acknowledge_once(clinic.vault, acknowledgement(clinic.vault, old, "n"))
    ids = [row.exam_id for row in clinic_records.received_rows(clinic.vault)]
    assert ids == [new.exam_id]


async def test_a_revoked_station_sees_nothing_more(places, register):
    clinic, tablet = places
    received(clinic, tablet)
    asked = f"SELECT code FROM register.clinic WHERE clinic = {clinic.vault.clinic}"
    role = register.admit(register.run(asked)[0][0])
    with contextlib.closing(register.open(role)) as vault:
        assert len(vault.closed.everything()) == 1
        with register.owner() as owner:
            revoke_station(owner, vault.station)
        assert vault.closed.everything() == []
        assert vault.connection.run("SELECT * FROM register.document") == []
    with pytest.raises(NoStationError):
        register.open(role)


@pytest.mark.exhaustive
async def test_the_data_key_is_changed_and_everything_is_read_with_the_new_one(
    tmp_path, register
):
    from tests import register_places

    alone = register_places.make(register.server)
    async with paired_places(tmp_path, register=alone) as (clinic, tablet):
        exam_id = received(clinic, tablet)
        before = alone.run('SELECT "row" FROM register.document ORDER BY kind, id')
        with alone.owner() as owner:
            assert change_data_key(owner, alone.stations[clinic.station]) > 5
        after = alone.run('SELECT "row" FROM register.document ORDER BY kind, id')
        assert all(one != two for one, two in zip(before, after, strict=True))
        epochs = alone.run(
            'SELECT DISTINCT substring("row" FOR 2) FROM register.record'
        )
        assert [bytes(one) for (one,) in epochs] == [b"\0\2"]
        with contextlib.closing(alone.open(clinic.station)) as vault:
            assert read_kept(vault, exam_id) is not None
            assert vault.animals.search("bramble")
            # The one that is not known any more opens nothing of what is there now.
            assert vault.sealer.newest == 2


async def test_a_dump_of_the_database_holds_no_name(places, register, tmp_path):
    clinic, tablet = places
    from exam_app.domain.animal.signalment import Owner

    owner = Owner(name="Ilse Vandermolen", phone="555 0199")
    exam_id = tablet.close_exam(small_exam("one", closer=VETERINARIAN), owner)
    (bundle,) = tablet.hand_over(exam_id)
    clinic.receive(bundle.sealed)
    clinic.vault.begin_reading(exam_id, "Dr Mar Ondine")
    assert clinic.vault.animals.search("vandermolen")
    dumped = register.server.tool(
        "pg_dump", "-h", register.server.folder, "-U", "owner", register.database
    ).stdout
    assert b"register.record" in dumped
    assert exam_id.encode() in dumped
    names = [
        "Bramble",
        "Vandermolen",
        "555 0199",
        VETERINARIAN.name,
        "Ondine",
        "Invented",
    ]
    for name in names:
        for said in (name, name.lower()):
            assert said.encode() not in dumped
            # As bytes are written in a dump.
            assert said.encode().hex().encode() not in dumped

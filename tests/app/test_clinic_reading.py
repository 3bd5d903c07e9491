"""What the clinic reads of a record, and how it signs: in words, once, by name."""

import asyncio
from dataclasses import replace

import pytest

from exam_app.app.clinic.imports import import_sealed
from exam_app.app.clinic.notes import (
    acknowledge_once,
    keep_note,
    parts_to_ask_for,
    write_note,
)
from exam_app.app.exam_sessions import new_id, now
from exam_app.app.queries import clinic_history, clinic_records
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.queries.record_chain import open_requests
from exam_app.app.session import LockState
from exam_app.domain.animal.history import history_of
from exam_app.domain.animal.weight_changes import weight_change
from exam_app.domain.exam.exam import Correction
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.wording.pressing_words import MOST_LINES, pressing_lines
from exam_app.exchange.signed_notes import acknowledgements, notes_of
from exam_app.record.notes import NoteKind
from tests.clinic_and_device import (
    PASSPHRASE,
    PIN,
    new_session,
    opened_both,
    prepare_both,
    sealed_by,
)

VETERINARIAN = Person("b" * 32, "Dr Mar Ondine", Role.VETERINARIAN, "MO")
OTHER = Person("c" * 32, "Dr Ada Brook", Role.VETERINARIAN, "AB")
EVERYTHING = 100


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """A clinic that has received everything of the demonstration's device."""
    folder = tmp_path_factory.mktemp("prepared")

    async def receive():
        await prepare_both(folder / "empty")
        async with opened_both(folder / "empty", folder / "full") as (clinic, device):
            for sealed in sealed_by(device.vault, EVERYTHING):
                import_sealed(clinic.vault, sealed, now())

    asyncio.run(receive())
    return folder / "full"


@pytest.fixture
async def session(prepared, tmp_path):
    async with opened_both(prepared, tmp_path / "both") as (clinic, _):
        yield clinic


@pytest.fixture
def vault(session):
    return session.vault


def rows_of(vault, name):
    return [r for r in clinic_records.received_rows(vault) if r.name == name]


def record_of(vault, name):
    return read_kept(vault, rows_of(vault, name)[0].exam_id)


def note_on(kept, kind=NoteKind.ACKNOWLEDGEMENT, author=VETERINARIAN, **more):
    return write_note(kind, kept, author, now(), new_id(), **more)


def given(vault, kept):
    notes, _ = notes_of(vault, kept.exam.exam_id)
    return acknowledgements(notes, kept.exam_hash)


@pytest.mark.slow
def test_a_line_of_the_list_says_the_sign_who_was_told_and_the_value(vault):
    (row,) = rows_of(vault, "Dandelion")
    assert row.pressing == (
        "URGENT Rabbit of 37.9 °C or less: told Dr Maren Oakhollow 11:30",
        "Temperature 37.8 °C, below 4 of 5 published ranges, inside one far off",
    )


def test_signs_answered_alike_are_one_line(vault):
    (row,) = rows_of(vault, "Wick")
    signs = "URGENT Pale or white gums; Capillary refill over 2 s: told "
    assert row.pressing[0].startswith(signs)


def test_a_sign_that_nobody_was_told_of_says_so(vault):
    kept = record_of(vault, "Wick")
    untold = tuple(replace(sign, answers=()) for sign in kept.exam.urgent)
    exam = replace(kept.exam, urgent=untold)
    assert pressing_lines(exam, kept.loaded.protocol)[0].endswith(": NOBODY TOLD")


def test_a_lump_is_said_with_its_place_and_size(vault):
    (row,) = rows_of(vault, "Lantern")
    said = "; ".join(row.pressing)
    assert "Lump, between the shoulder blades, 3 cm behind the neck, 6 × 5 mm" in said


def test_a_list_is_short_and_counts_what_it_leaves_to_the_record(vault):
    kept = record_of(vault, "Wick")
    (first, *_) = kept.exam.urgent
    many = tuple(
        replace(first, label=f"sign {n}", answers=first.answers[:1] * (n + 1))
        for n in range(MOST_LINES + 2)
    )
    lines = pressing_lines(replace(kept.exam, urgent=many), kept.loaded.protocol)
    assert len(lines) == MOST_LINES + 1
    assert lines[-1].startswith("and ")
    assert lines[-1].endswith("more lines in the record")


def test_a_row_of_an_earlier_version_is_read_from_its_record(vault):
    (row,) = rows_of(vault, "Dandelion")
    early = replace(row, pressing=None)
    assert clinic_records.pressing_of(vault, early) == row.pressing


def test_a_recheck_offers_what_is_in_doubt_before_what_was_not_done(vault):
    kept = record_of(vault, "Dandelion")
    first, *others = parts_to_ask_for(kept.exam, kept.loaded.protocol)
    assert first.key == "vital:temperature"
    assert first.doubt.startswith("37.8 °C, below 4 of 5 published ranges")
    assert not any(part.doubt for part in others)
    kept = record_of(vault, "Lantern")
    first, *_ = parts_to_ask_for(kept.exam, kept.loaded.protocol)
    assert (first.key, "veterinarian to look" in first.doubt) == ("skin_coat", True)
    kept = record_of(vault, "Wick")
    assert parts_to_ask_for(kept.exam, kept.loaded.protocol)[0].undone


@pytest.mark.parametrize(
    ("reader", "said"), [(Role.VOLUNTEER, "Gum colour"), (Role.TECHNICIAN, "Mucous")]
)
def test_a_volunteer_reads_a_recheck_in_plain_words(vault, reader, said):
    kept = record_of(vault, "Dandelion")
    asks = ("vital:mucous_membrane_colour",)
    keep_note(vault, note_on(kept, NoteKind.RECHECK_REQUEST, asks_for=asks))
    (request,) = open_requests(vault, kept.exam.animal.animal_id, reader)
    assert request.parts.startswith(said)
    asked = clinic_records.rechecks_asked(vault, rows_of(vault, "Dandelion"))
    assert asked[kept.exam.exam_id].startswith("Mucous")


def test_one_person_acknowledges_a_record_once_and_another_one_too(vault):
    kept = record_of(vault, "Dandelion")
    assert acknowledge_once(vault, note_on(kept))
    assert not acknowledge_once(vault, note_on(kept))
    assert len(given(vault, kept)) == 1
    assert acknowledge_once(vault, note_on(kept, author=OTHER))
    assert [one.note.author.name for one in given(vault, kept)] == [
        "Dr Mar Ondine",
        "Dr Ada Brook",
    ]


async def test_two_keys_at_once_are_one_acknowledgement(session):
    kept = record_of(session.vault, "Dandelion")
    notes = [note_on(kept) for _ in range(5)]
    save = [session.save(lambda n=n: acknowledge_once(session.vault, n)) for n in notes]
    assert sum(await asyncio.gather(*save)) == 1
    assert len(given(session.vault, kept)) == 1


async def test_an_acknowledgement_that_was_said_to_be_kept_is_there_after_a_restart(
    session,
):
    kept = record_of(session.vault, "Dandelion")
    await session.save(lambda: acknowledge_once(session.vault, note_on(kept)))
    session.close()
    again = new_session(session.folder)
    await again.open_with_passphrase(PASSPHRASE)
    (row,) = rows_of(again.vault, "Dandelion")
    assert row.acknowledged_by == "Dr Mar Ondine"
    assert len(given(again.vault, kept)) == 1
    again.close()


async def test_a_sitting_ends_with_lock_with_another_person_and_after_the_lock_time(
    session,
):
    async def begin():
        assert await session.open_with_pin(VETERINARIAN.person_id, PIN)
        session.begin_reviewing()
        assert session.is_reviewing

    await begin()
    session.rest()
    assert session.state is LockState.RESTING
    assert not session.is_reviewing
    await begin()
    session.vault.people.put(OTHER)
    await session.choose_person(OTHER.person_id)
    await session.choose_person(VETERINARIAN.person_id)
    assert not session.is_reviewing
    await begin()
    session.lock_after_seconds = -1.0
    # Somebody touches the screen before the lock has looked.
    session.touch()
    assert not session.is_reviewing


async def test_a_tab_that_takes_over_takes_no_sitting_with_it(session):
    session.take("one", session.messages, lambda: None)
    session.begin_reviewing()
    session.take("one", session.messages, lambda: None)
    assert session.is_reviewing
    session.take("two", session.messages, lambda: None)
    assert not session.is_reviewing


def test_earlier_values_stand_newest_first_and_name_the_record_that_is_read(vault):
    rows = rows_of(vault, "Bramble")
    read = clinic_records.read_record(vault, rows[0].exam_id)
    history, shown = read.history, read.kept.exam
    values = dict(clinic_history.earlier_values(history, shown))
    newest, older = values["Heart rate"]
    assert ", this record: " in newest
    assert newest[:10] > older[:10]
    alone = history_of(one for one in history.exams if one.exam_id == shown.exam_id)
    assert clinic_history.earlier_values(alone, shown) == ()


def test_a_weight_is_laid_beside_the_one_before_the_record_that_is_read(vault):
    rows = rows_of(vault, "Bramble")
    newest = clinic_records.read_record(vault, rows[0].exam_id)
    (series,) = newest.history.series_of("weight")
    before, now = series.values[-2:]
    said = clinic_history.weight_since(newest.history, newest.kept.exam)
    assert said.lower().startswith(weight_change(before, now).words)
    first = clinic_records.read_record(vault, series.values[0].exam_id)
    assert clinic_history.weight_since(first.history, first.kept.exam) == ""


def test_what_a_later_version_changed_stands_newest_first_beside_the_old(vault):
    exam = replace(
        record_of(vault, "Dandelion").exam,
        corrections=(
            Correction("Weight", "2.40 kg", "2.54 kg"),
            Correction("Temperature", "38.1 °C", "37.8 °C"),
        ),
    )
    assert [item for item, _, _ in clinic_history.amended(exam)] == [
        "Temperature",
        "Weight",
    ]

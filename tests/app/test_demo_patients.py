"""The demonstration is made by the app's own rules and is marked as such."""

import asyncio
import tomllib
from datetime import UTC, datetime
from decimal import Decimal
from functools import cache

import pytest

from exam_app.app.demo.demo import fill
from exam_app.crypto.door import (
    DerivationBounds,
    KeyDerivation,
    new_agreement_key,
    new_signing_key,
    signing_public_key,
)
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import available, load_content
from exam_app.record.plain_form import from_plain
from exam_app.record.records import read_exam
from exam_app.resources import demo_patients_folder
from exam_app.store.vault.folder import create_vault

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
BOUNDS = DerivationBounds(cheapest=CHEAP, dearest=CHEAP)


@pytest.fixture(scope="module")
def vault(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    opened, _ = asyncio.run(
        create_vault(folder, "a demonstration", CHEAP, bounds=BOUNDS)
    )
    opened.settings.put("signing_key", new_signing_key())
    opened.settings.put("agreement_key", new_agreement_key())
    fill(opened, datetime(2026, 3, 2, 15, 0, tzinfo=UTC))
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def records(vault):
    keys = [signing_public_key(vault.settings.get("signing_key"))]

    @cache
    def lookup(content_hash):
        return load_content(vault.protocols.get(content_hash)).protocol

    read = (
        read_exam(vault.closed.get(row.exam_id), keys, lookup).exam
        for row in vault.closed.latest(100)
    )
    return [(exam, lookup(exam.protocol_hash)) for exam in read]


@pytest.fixture(scope="module")
def begun(vault):
    drafts = [vault.drafts.get(row.exam_id) for row in vault.drafts.open()]
    return [from_plain(Exam, draft) for draft in drafts]


@pytest.mark.slow
def test_demo_has_a_dozen_dogs_and_cats_and_one_at_least_of_every_species(
    vault, records, begun
):
    species = [animal.species for animal in vault.animals.all()]
    assert len(species) >= 28
    assert sum(name in {"dog", "cat"} for name in species) >= 12
    assert set(species) == set(available())
    examined = {exam.animal.species for exam, _ in records}
    still = {exam.animal.species for exam in begun}
    assert examined | still == set(available())


def test_every_demo_place_and_owner_is_invented_and_says_so():
    for path in demo_patients_folder().glob("[0-9]*.toml"):
        told = tomllib.loads(path.read_text("utf-8"))
        assert told["animal"]["place"].endswith("(demo)") or (
            told["animal"]["place"] == "Ferrow Lane"
        )
        assert told.get("owner", {"name": "(demo)"})["name"].endswith("(demo)")
        assert told["animal"].get("chip", "999").startswith("999")


@pytest.mark.slow
def test_demo_group_of_ewes_has_two_closed_rows_and_one_open(vault, records, begun):
    group = next(exam for exam in begun if exam.animal.is_group)
    rows = [exam for exam, _ in records if exam.group_exam == group.exam_id]
    still = [exam for exam in begun if exam.group_exam == group.exam_id]
    assert [group.group.present, group.group.examined] == [24, 3]
    assert len(rows) == 2
    assert len(still) == 1
    tags = {exam.animal.tag for exam in (*rows, *still)}
    assert tags == {"DEMO 0101", "DEMO 0102", "DEMO 0103"}
    asked = ["vital:temperature", "vital:body_condition", "vital:locomotion"]
    kept = vault.settings.get("round_columns:sheep")
    assert [key for key in kept if key.startswith("vital:")] == asked
    assert all(exam.asked_vitals == rows[0].asked_vitals for exam in still)


def test_demo_horse_is_taped_and_its_weight_says_that_it_is_an_estimate(records):
    horse, protocol = next((e, p) for e, p in records if e.animal.species == "horse")
    weight = horse.vital("weight")
    assert weight.is_estimate
    # Girth 182 cm squared times length 164 cm over 11900 (Carroll & Huntington).
    assert weight.reading.value == Decimal("456.5")
    text = write_record(horse, protocol).as_text()
    assert "about 456.5 kg (estimate)" in text
    assert "tape: heart girth 182 cm, body length 164 cm" in text


def test_demo_rabbit_of_37_8_was_told_with_the_signs_own_words(records):
    rabbit, protocol = next((e, p) for e, p in records if e.animal.species == "rabbit")
    sign = next(u for u in rabbit.urgent if u.sign_id == "cold")
    assert sign.answers
    assert "Rabbit of 37.9" in write_record(rabbit, protocol).as_text()


def test_every_demo_record_verifies_and_says_demo_inside_the_signature(records):
    exams = [exam for exam, _ in records]
    assert len(exams) >= 11
    assert all(exam.is_demo and exam.animal.is_demo for exam in exams)
    assert all("DEMO" in write_record(exam, p).title for exam, p in records)


def test_demo_has_a_draft_a_stop_a_flag_a_puppy_and_one_eye(records, begun):
    exams = [exam for exam, _ in records]
    half_done = begun[0]
    assert not half_done.is_closed
    assert any(exam.stopped for exam in exams)
    levels = [v.flag.level for e in exams for v in e.vitals.values() if v.flag]
    assert "above" in levels
    assert any(exam.life_stage == "juvenile" for exam in exams)
    gone = [exam.entry("eyes.right").state for exam in exams]
    assert RegionState.NOT_PRESENT in gone


def test_no_adult_range_is_held_against_the_puppy(records):
    puppy, protocol = next((e, p) for e, p in records if e.animal.name == "Pim")
    used = {i for v in puppy.vitals.values() if v.flag for i in v.flag.interval_ids}
    rows = [row for row in protocol.intervals if row.interval_id in used]
    assert rows


def test_owner_stands_beside_the_demo_records_and_not_inside(vault, records):
    for exam, protocol in records:
        text = write_record(exam, protocol).as_text()
        for animal in vault.animals.all():
            owner = vault.animals.get(animal.animal_id).get("owner")
            if owner:
                assert owner["name"] not in text
                assert owner["name"].encode() not in vault.closed.get(exam.exam_id)


def test_lump_measured_by_two_people_is_not_said_to_have_grown(records):
    texts = [
        write_record(exam, protocol).as_text()
        for exam, protocol in records
        if exam.animal.name == "Corrin"
    ]
    assert len(texts) == 2
    later = next(text for text in texts if "The same lump: " in text)
    assert "24 × 18 mm (calliper, along the rib, Tove Brandelyn) on 2026-01-20" in later
    assert "now 31 × 24 mm (calliper, along the rib, Ines Corvanne)." in later
    assert "Mark 1, of 2026-01-20: left view, 500 of 1000 across" in later
    assert "Longest 23.0 mm before, 31.0 mm now." in later
    assert "This does not mean unchanged." in later
    assert "Larger" not in later

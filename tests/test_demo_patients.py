"""The demonstration is made by the app's own rules and is marked as such."""

import asyncio
from datetime import UTC, datetime

import pytest

from exam_app.crypto.door import (
    DerivationBounds,
    KeyDerivation,
    new_signing_key,
    signing_public_key,
)
from exam_app.domain.region_states import RegionState
from exam_app.domain.written_record import write_record
from exam_app.protocols.loader import load_content
from exam_app.record.draft_codec import exam_from_plain
from exam_app.record.records import read_exam
from exam_app.store.vault import create_vault
from exam_app.ui.demo import fill

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
BOUNDS = DerivationBounds(cheapest=CHEAP, dearest=CHEAP)


@pytest.fixture(scope="module")
def vault(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    opened, _ = asyncio.run(
        create_vault(folder, "a demonstration", CHEAP, bounds=BOUNDS)
    )
    opened.settings.put("signing_key", new_signing_key())
    fill(opened, datetime(2026, 3, 2, 15, 0, tzinfo=UTC))
    yield opened
    opened.close()


def records(vault):
    keys = [signing_public_key(vault.settings.get("signing_key"))]

    def lookup(content_hash):
        return load_content(vault.protocols.get(content_hash)).protocol

    for row in vault.closed.latest(100):
        read = read_exam(vault.closed.get(row["exam_id"]), keys, lookup)
        yield read.exam, lookup(read.exam.protocol_hash)


def test_demo_has_a_dozen_dogs_and_cats_and_more(vault):
    species = [animal["species"] for animal in vault.animals.all()]
    assert len(species) >= 12
    assert set(species) == {"dog", "cat"}


def test_every_demo_record_verifies_and_says_demo_inside_the_signature(vault):
    exams = [exam for exam, _ in records(vault)]
    assert len(exams) >= 11
    assert all(exam.is_demo and exam.animal.is_demo for exam in exams)
    assert all("DEMO" in write_record(exam, p).title for exam, p in records(vault))


def test_demo_has_a_draft_a_stop_a_flag_a_puppy_and_one_eye(vault):
    exams = [exam for exam, _ in records(vault)]
    drafts = [vault.drafts.get(row["exam_id"]) for row in vault.drafts.open()]
    half_done = exam_from_plain(drafts[0])
    assert not half_done.is_closed
    assert any(exam.stopped for exam in exams)
    levels = [v.flag.level for e in exams for v in e.vitals.values() if v.flag]
    assert "above" in levels
    assert any(exam.life_stage == "juvenile" for exam in exams)
    gone = [exam.entry("eyes.right").state for exam in exams]
    assert RegionState.NOT_PRESENT in gone


def test_no_adult_range_is_held_against_the_puppy(vault):
    puppy, protocol = next((e, p) for e, p in records(vault) if e.animal.name == "Pim")
    used = {i for v in puppy.vitals.values() if v.flag for i in v.flag.interval_ids}
    rows = [row for row in protocol.intervals if row.interval_id in used]
    assert rows


def test_owner_stands_beside_the_demo_records_and_not_inside(vault):
    for exam, protocol in records(vault):
        text = write_record(exam, protocol).as_text()
        for animal in vault.animals.all():
            owner = animal.get("owner")
            if owner:
                assert owner["name"] not in text
                assert owner["name"].encode() not in vault.closed.get(exam.exam_id)


def test_lump_measured_by_two_people_is_not_said_to_have_grown(vault):
    texts = [
        write_record(exam, protocol).as_text()
        for exam, protocol in records(vault)
        if exam.animal.name == "Corrin"
    ]
    assert len(texts) == 2
    later = next(text for text in texts if "Beside the lump of 2026-01-20" in text)
    assert "Longest 23.0 mm before, 31.0 mm now." in later
    assert "This does not mean unchanged." in later
    assert "Larger" not in later

"""The clinic's work on its store: pair, receive, answer, read, decide, send back."""

import asyncio
import json
from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.app.clinic import pairing as clinic_pairing
from exam_app.app.clinic.export import fhir_of, file_name, table_of, told
from exam_app.app.clinic.imports import (
    admit_set_apart,
    drop_set_apart,
    import_sealed,
    import_waiting,
    look_into_folder,
    receiving_of,
    take_in_spool,
)
from exam_app.app.clinic.notes import (
    EmptyNoteError,
    corrections_beside,
    keep_note,
    parts_to_ask_for,
    show_note,
    write_note,
)
from exam_app.app.clinic.shared_folder import FOLDER
from exam_app.app.exam_sessions import now
from exam_app.app.handover.pairing_device import device_keys
from exam_app.app.queries import clinic_history, clinic_records
from exam_app.app.queries.history import rows_of_animal
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.signing import store_closed
from exam_app.app.view.clinic_review_presenter import is_acknowledged
from exam_app.app.view.clinic_version_lines import differences
from exam_app.crypto.door import agreement_public_key, random_bytes
from exam_app.domain.exam.corrections import (
    begin_correction,
    close_correction,
    statements,
)
from exam_app.domain.exam.exam import Correction
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.wording.written_record import write_record
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.merge import Clash
from exam_app.exchange.outbox import hand_over
from exam_app.exchange.returns import contents_for, make_day_pack
from exam_app.exchange.signed_notes import notes_of
from exam_app.exchange.spool import spool, spooled
from exam_app.record.notes import NoteKind
from exam_app.record.records import close_and_sign
from exam_app.record.salted_blocks import SALT_LENGTH
from exam_app.store.errors import VaultError
from exam_app.store.repositories.rows import ClosedExam
from sync.bundle.bundle import BundleKind, seal_bundle
from sync.bundle.contents import Contents
from sync.errors import CardError, CardExpiredError, NotACardError
from sync.transport.folder import Ending, FolderWriter, clinic_folder, device_folder
from sync.trust.cards import as_text, from_text
from sync.trust.pairing import answer
from tests.clinic_and_device import opened_both, pair, prepare_both, sealed_by

VETERINARIAN = Person("b" * 32, "Dr Mar Ondine", Role.VETERINARIAN, "MO")


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """A clinic paired with two devices of equal exams and different keys."""
    folder = tmp_path_factory.mktemp("prepared")
    asyncio.run(prepare_both(folder / "one"))
    asyncio.run(prepare_both(folder / "other"))
    return folder


@pytest.fixture
async def sessions(prepared, tmp_path):
    async with opened_both(prepared / "one", tmp_path / "one") as both:
        yield both


@pytest.fixture
async def other(prepared, tmp_path):
    """The store of a device that is paired with another clinic."""
    async with opened_both(prepared / "other", tmp_path / "other") as (_, session):
        yield session.vault


@pytest.fixture
def clinic(sessions):
    return sessions[0].vault


@pytest.fixture
def device(sessions):
    return sessions[1].vault


def received(clinic, sealed):
    answered = import_sealed(clinic, sealed, now())
    assert answered.received is not None, answered.problem
    return answered.received


def answer_to(clinic, device, at):
    offered = clinic_pairing.new_offer(clinic, at)
    keys = device_keys(device, "Van 2")
    return offered, answer(offered.card, keys, at, random_bytes)


@pytest.mark.slow
async def test_what_arrived_can_be_read_and_is_shown_with_its_device(clinic, device):
    (sealed,) = sealed_by(device)
    assert len(received(clinic, sealed).receipt_code) == 9
    rows = clinic_records.received_rows(clinic)
    assert len(rows) == 3
    assert Exchange(clinic).pairing.names()[rows[0].device_id] == "Van 2"
    for row in rows:
        read = clinic_records.read_record(clinic, row.exam_id)
        assert read is not None
        assert read.kept.exam_hash == row.record_hash


async def test_the_same_hand_over_twice_is_kept_once_with_the_same_code(clinic, device):
    (sealed,) = sealed_by(device)
    first, again = received(clinic, sealed), received(clinic, sealed)
    assert again.was_known
    assert (again.receipt_code, again.receipt) == (first.receipt_code, first.receipt)
    assert len(clinic_records.received_rows(clinic)) == 3


async def test_a_bundle_that_did_not_come_is_missing_until_it_comes(clinic, device):
    first, second, third = (sealed_by(device, 2)[0] for _ in range(3))
    received(clinic, first)
    received(clinic, third)
    assert [row.missing for row in clinic_records.devices_now(clinic)] == [(2,)]
    received(clinic, second)
    assert [row.missing for row in clinic_records.devices_now(clinic)] == [()]


async def test_a_bundle_from_the_stick_is_taken_and_its_receipt_put_there(
    clinic, device, tmp_path
):
    stick = tmp_path / "stick"
    stick.mkdir()
    clinic.settings.put(FOLDER, str(stick))
    device_id = device.settings.get("device_id")
    (sealed,) = sealed_by(device)
    FolderWriter(device_folder(stick, device_id)).put(sealed, Ending.BUNDLE)
    (answered,) = look_into_folder(clinic, now())
    place = clinic_folder(stick, clinic.settings.get("device_id"), device_id)
    (receipt,) = place.iterdir()
    assert receipt.read_bytes() == answered.received.receipt
    assert look_into_folder(clinic, now()) == ()


async def test_a_file_that_opens_for_nobody_waits_and_is_asked_once(clinic, tmp_path):
    stick = tmp_path / "stick"
    clinic.settings.put(FOLDER, str(stick))
    FolderWriter(stick / "device-ab").put(b"x" * 200, Ending.BUNDLE)
    (answered,) = look_into_folder(clinic, now())
    assert answered.received is None
    assert look_into_folder(clinic, now()) == ()
    assert [one.reason for one in receiving_of(clinic).look.waiting]


async def test_a_hand_over_that_could_not_be_saved_waits_for_the_next_try(
    clinic, device, monkeypatch
):
    (sealed,) = sealed_by(device)
    receiving_of(clinic).waiting.append(sealed)

    def full(*_args, **_more):
        raise VaultError("the disk is full")

    with monkeypatch.context() as broken:
        broken.setattr("exam_app.exchange.inbox.keep_arrival", full)
        with pytest.raises(VaultError):
            import_waiting(clinic, now())
    assert clinic_records.received_rows(clinic) == []
    (answered,) = import_waiting(clinic, now())
    assert answered.received is not None
    assert receiving_of(clinic).waiting == []


async def test_what_came_while_the_exams_were_locked_is_taken_and_told(
    sessions, clinic, device
):
    folder = sessions[0].folder
    for _ in range(2):
        spool(folder, sealed_by(device, 2)[0])
    spool(folder, b"x" * 200)
    take_in_spool(clinic, folder, now())
    told = receiving_of(clinic).spool
    assert told[0].startswith("2 hand-overs that came while the exams were locked")
    assert len(told) == 2
    assert len(clinic_records.received_rows(clinic)) == 4
    assert list(spooled(folder)) == []


async def test_an_unknown_device_is_set_aside_and_admitted_once_it_is_paired(
    clinic, other
):
    await pair(clinic, other, "Barn")
    device_id = other.settings.get("device_id")
    kept = Exchange(clinic).pairing.device(device_id)
    Exchange(clinic).pairing.put_device(replace(kept, state="words shown"))
    (sealed,) = sealed_by(other)
    answered = import_sealed(clinic, sealed, now())
    assert answered.received is None
    assert "Set aside" in answered.problem
    (held,) = Exchange(clinic).quarantine.held()
    why = "Tove brought it herself"
    refused = admit_set_apart(clinic, held.key, now(), "Dr Ondine", why)
    assert "not paired" in refused.problem
    Exchange(clinic).pairing.put_device(kept)
    admit_set_apart(clinic, held.key, now(), "Dr Ondine", why)
    assert len(clinic_records.received_rows(clinic)) == 3
    entry = Exchange(clinic).quarantine.get(held.key)
    assert (entry.state, entry.why) == ("admitted", why)


async def test_what_a_revoked_device_sends_later_is_set_aside_and_can_be_dropped(
    clinic, device
):
    first, second = (sealed_by(device, 2)[0] for _ in range(2))
    received(clinic, first)
    device_id = device.settings.get("device_id")
    Exchange(clinic).pairing.revoke_device(device_id, 1, now().utc_ms, "Dr Ondine")
    assert import_sealed(clinic, second, now()).received is None
    assert len(clinic_records.received_rows(clinic)) == 2
    (held,) = Exchange(clinic).quarantine.held()
    drop_set_apart(clinic, held.key, now(), "Dr Ondine", "the van was stolen")
    assert Exchange(clinic).quarantine.held() == []
    kept = Exchange(clinic).quarantine.get(held.key)
    assert (kept.state, kept.why) == ("dropped", "the van was stolen")


async def test_an_answer_uses_up_its_card(clinic, device):
    at = now()
    _, given = answer_to(clinic, device, at)
    clinic_pairing.take_answer(clinic, given.sealed, at)
    with pytest.raises(CardError):
        clinic_pairing.take_answer(clinic, given.sealed, at)
    assert clinic_pairing.open_offer(clinic, at) is None


async def test_rubbish_in_the_answer_field_leaves_the_card_open(clinic):
    at = now()
    clinic_pairing.new_offer(clinic, at)
    with pytest.raises(NotACardError):
        clinic_pairing.take_answer(clinic, b"good morning", at)
    assert clinic_pairing.open_offer(clinic, at) is not None


async def test_a_card_is_refused_after_ten_minutes(clinic, device):
    at = now()
    _, given = answer_to(clinic, device, at)
    late = Moment(at.utc_ms + 600_001, at.offset_min)
    with pytest.raises((CardExpiredError, NotACardError)):
        clinic_pairing.take_answer(clinic, given.sealed, late)


async def test_a_device_is_not_paired_before_a_person_compared_the_words(clinic, other):
    at = now()
    _, given = answer_to(clinic, other, at)
    text = as_text(given.sealed).lower()
    clinic_pairing.take_answer(clinic, from_text(text), at)
    assert len(clinic_records.paired_devices(clinic)) == 1
    clinic_pairing.distrust(clinic)
    assert clinic_pairing.trust(clinic, at, "Dr Ondine") == ""
    assert len(clinic_records.paired_devices(clinic)) == 1


async def test_an_acknowledgement_is_signed_by_name_and_shows_in_the_list(
    clinic, device
):
    (sealed,) = sealed_by(device)
    received(clinic, sealed)
    row = clinic_records.received_rows(clinic)[0]
    read = clinic_records.read_record(clinic, row.exam_id)
    note = write_note(
        NoteKind.ACKNOWLEDGEMENT, read.kept, VETERINARIAN, now(), "1" * 32
    )
    keep_note(clinic, note)
    again = clinic_records.read_record(clinic, row.exam_id)
    assert [(n.note.kind, n.note.author.name) for n in again.notes] == [
        (NoteKind.ACKNOWLEDGEMENT, "Dr Mar Ondine")
    ]
    marked = [is_acknowledged(r) for r in clinic_records.received_rows(clinic)]
    assert marked.count(True) == 1
    (signed,) = again.notes
    shown = show_note(signed, read.kept.loaded.protocol, row.record_hash)
    assert shown.title.startswith("Acknowledged: Dr Mar Ondine, veterinarian, ")
    assert shown.is_about_this


async def test_a_note_about_another_version_does_not_acknowledge_this_one(
    clinic, device
):
    (sealed,) = sealed_by(device)
    received(clinic, sealed)
    row = clinic_records.received_rows(clinic)[0]
    kept = clinic_records.read_record(clinic, row.exam_id).kept
    other = replace(kept, exam_hash="f" * 64)
    note = write_note(NoteKind.ACKNOWLEDGEMENT, other, VETERINARIAN, now(), "2" * 32)
    keep_note(clinic, note)
    assert not any(map(is_acknowledged, clinic_records.received_rows(clinic)))
    ((signed,), _) = notes_of(clinic, row.exam_id)
    shown = show_note(signed, kept.loaded.protocol, kept.exam_hash)
    assert not shown.is_about_this


async def test_a_recheck_names_parts_and_an_empty_note_is_refused(clinic, device):
    (sealed,) = sealed_by(device)
    received(clinic, sealed)
    row = clinic_records.received_rows(clinic)[0]
    kept = clinic_records.read_record(clinic, row.exam_id).kept
    asked = parts_to_ask_for(kept.exam, kept.loaded.protocol)
    assert {part.key: part.label for part in asked}["vital:weight"] == "Weight"
    note = write_note(
        NoteKind.RECHECK_REQUEST,
        kept,
        VETERINARIAN,
        now(),
        "3" * 32,
        text="in two weeks",
        asks_for=("vital:weight",),
    )
    keep_note(clinic, note)
    ((signed,), _) = notes_of(clinic, row.exam_id)
    shown = show_note(signed, kept.loaded.protocol, kept.exam_hash)
    assert shown.text == "Look again at: Weight\nin two weeks"
    for kind in (NoteKind.ADDENDUM, NoteKind.RECHECK_REQUEST):
        with pytest.raises(EmptyNoteError):
            write_note(kind, kept, VETERINARIAN, now(), "4" * 32, text="  ")


async def test_history_holds_weights_oldest_first_and_the_other_exams(clinic, device):
    for sealed in [one for _ in range(8) for one in sealed_by(device, 3)]:
        received(clinic, sealed)
    rows = clinic_records.received_rows(clinic)
    ids = [row.animal_id for row in rows]
    row = next(r for r in rows if ids.count(r.animal_id) > 1)
    read = clinic_records.read_record(clinic, row.exam_id)
    (weights,) = read.history.series_of("weight")
    taken = [value.at for value in weights.values]
    assert taken == sorted(taken)
    others = clinic_history.earlier_exams(read.rows, read.kept.exam)
    assert len(others) == ids.count(row.animal_id) - 1
    assert row.exam_id not in [other.exam_id for other in others]
    assert any(_lumps(clinic, row) for row in rows)


def _lumps(clinic, row):
    read = clinic_records.read_record(clinic, row.exam_id)
    return clinic_history.lumps(read.history, read.kept.exam)


async def test_a_day_pack_opens_for_its_device_and_brings_the_note(clinic, device):
    (sealed,) = sealed_by(device)
    received(clinic, sealed)
    row = clinic_records.received_rows(clinic)[0]
    kept = clinic_records.read_record(clinic, row.exam_id).kept
    note = write_note(NoteKind.ACKNOWLEDGEMENT, kept, VETERINARIAN, now(), "5" * 32)
    signed = keep_note(clinic, note)
    source = Exchange(clinic)
    device_id = device.settings.get("device_id")
    kept = source.pairing.device(device_id)
    contents = contents_for(source, kept, [row.animal_id])
    assert signed in contents.notes
    pack = make_day_pack(source, device_id, [row.animal_id], now(), random_bytes)
    assert pack.manifest.kind.value == "day pack"
    assert len(contents.receipts) == 1


def revised(device, kept, remark):
    """Sign a revision of a record as its device would."""
    exam = replace(kept.exam, revision=1, parent_hash=kept.exam_hash, remark=remark)
    seed = device.settings.get("signing_key")
    salt = random_bytes(SALT_LENGTH)
    return close_and_sign(exam, kept.loaded.protocol, seed, None, salt).signed


def sealed_records(clinic, device, *records):
    public = agreement_public_key(clinic.settings.get("agreement_key"))
    bundle = seal_bundle(
        BundleKind.EXAMS,
        Contents(records=records),
        sequence=90,
        made=now(),
        sender_id=device.settings.get("device_id"),
        seed=device.settings.get("signing_key"),
        recipient_key=public,
        is_demo=True,
        random=random_bytes,
    )
    return bundle.sealed


async def test_two_revisions_of_one_record_are_both_kept_flagged_and_told_apart(
    clinic, device
):
    (sealed,) = sealed_by(device)
    received(clinic, sealed)
    exam_id = clinic_records.received_rows(clinic)[0].exam_id
    kept = clinic_records.read_record(clinic, exam_id).kept
    both = [revised(device, kept, words) for words in ("came back", "went home")]
    received(clinic, sealed_records(clinic, device, *both))
    rows = clinic_records.received_rows(clinic)
    forked = [row for row in rows if row.is_fork]
    assert [row.exam_id for row in forked] == [exam_id, exam_id]
    read = [
        clinic_records.read_record(clinic, exam_id, row.record_hash) for row in forked
    ]
    assert all(len(one.versions) == 2 for one in read)
    texts = [
        write_record(one.kept.exam, one.kept.loaded.protocol).as_text() for one in read
    ]
    words = {line for found in differences(texts) for line in found}
    assert {line.rpartition(": ")[2] for line in words} == {"came back", "went home"}


async def test_animals_called_the_same_are_read_together_and_can_be_parted_again(
    clinic, device
):
    for _ in range(2):
        received(clinic, sealed_by(device)[0])
    rows = clinic_records.received_rows(clinic)
    first, second = list(dict.fromkeys(row.animal_id for row in rows))[:2]
    identity = Exchange(clinic).identity
    identity.propose_join(first, second, "owner and name", 1)
    (question,) = clinic_records.join_questions(clinic)
    assert "can be chance" in question.because
    assert all("from Van 2" in side.seen for side in question.sides)
    apart = len(rows_of_animal(clinic, first))
    identity.decide_join(question.key, "same", "Dr Ondine", 2)
    assert clinic_records.join_questions(clinic) == []
    assert len(rows_of_animal(clinic, first)) > apart
    identity.decide_join(question.key, "different", "Dr Ondine", 3)
    assert len(rows_of_animal(clinic, first)) == apart


async def test_a_clash_waits_for_a_person_and_their_choice_changes_the_animal(
    clinic, device
):
    received(clinic, sealed_by(device)[0])
    animal_id = clinic_records.received_rows(clinic)[0].animal_id
    device_id = device.settings.get("device_id")
    key = f"{animal_id}:colour"
    clash = Clash("colour", "grey", "blue", key, animal_id, device_id, 1)
    Exchange(clinic).identity.put_clash(clash)
    (question,) = clinic_records.clash_questions(clinic)
    assert (question.label, question.came) == ("Colour", "from Van 2")
    Exchange(clinic).decide_clash(question.key, "take theirs", "Dr Ondine", 2)
    assert clinic_records.clash_questions(clinic) == []
    assert clinic.animals.get(animal_id)["colour"] == "blue"


async def test_a_list_of_records_is_one_table_and_what_cannot_be_read_is_counted(
    clinic, device
):
    received(clinic, sealed_by(device)[0])
    rows = clinic_records.received_rows(clinic)
    content, unread = table_of(clinic, rows)
    assert unread == 0
    assert all(row.exam_id.encode() in content for row in rows)
    gone = [ClosedExam(exam_id="0" * 32, record_hash="0" * 64)]
    assert table_of(clinic, gone)[1] == 1
    assert told(1).startswith("1 record could not be verified")


async def test_a_received_record_is_saved_for_other_programs_under_its_signed_hash(
    clinic, device
):
    received(clinic, sealed_by(device)[0])
    row = clinic_records.received_rows(clinic)[0]
    kept = clinic_records.read_record(clinic, row.exam_id, None).kept
    bundle = json.loads(fhir_of(clinic, kept))
    assert bundle["identifier"]["value"] == kept.exam_hash == row.record_hash
    assert file_name(kept, "fhir.json").endswith(f"-{row.record_hash[:8]}.fhir.json")


async def test_a_corrected_weight_reaches_the_clinic_with_the_one_before(
    clinic, device
):
    (sealed,) = sealed_by(device)
    received(clinic, sealed)
    row = next(
        r
        for r in clinic_records.received_rows(clinic)
        if clinic_records.read_record(clinic, r.exam_id)
        .kept.exam.vital("weight")
        .reading
    )
    first = read_kept(device, row.exam_id)
    closer = first.exam.person(first.exam.closing.closed_by)
    by = Attribution(closer.person_id, closer.person_id, now(), now())
    draft = begin_correction(first.exam, first.exam_hash, "misread the scale", by)
    typed = Reading("3.21", "kg", Decimal("3.21"))
    entry = replace(draft.vital("weight"), reading=typed, flag=None)
    draft = replace(draft, vitals={**draft.vitals, "weight": entry})
    protocol = first.loaded.protocol
    exam = close_correction(draft, first.exam, protocol, closer, now())
    store_closed(device, exam, protocol)
    waiting = [one.exam_id for one, _ in Exchange(device).not_handed_over()]
    assert row.exam_id in waiting
    outbox = Exchange(device)
    for bundle in hand_over(outbox, [row.exam_id], now(), random_bytes):
        received(clinic, bundle.sealed)
    read = clinic_records.read_record(clinic, row.exam_id)
    text = write_record(read.kept.exam, protocol).as_text()
    was = first.exam.vital("weight").reading.typed
    assert f"before: {was}" in text
    assert "3.21 kg" in text
    assert "misread the scale" in text
    kept_before = read_kept(clinic, row.exam_id, first.exam_hash)
    assert kept_before.exam == first.exam


async def test_a_correction_written_at_the_clinic_stands_beside_the_value(
    clinic, device
):
    (sealed,) = sealed_by(device)
    received(clinic, sealed)
    row = clinic_records.received_rows(clinic)[0]
    kept = read_kept(clinic, row.exam_id)
    item, was = statements(kept.exam, kept.loaded.protocol)[0]
    wrong = Correction(item, was, "something else", "seen again")
    note = write_note(
        NoteKind.ADDENDUM,
        kept,
        VETERINARIAN,
        now(),
        "7" * 32,
        text=f"Correction of {item}.",
        corrections=(wrong,),
    )
    keep_note(clinic, note)
    (beside,) = corrections_beside(clinic, kept)
    assert beside.reason.startswith("seen again, Dr Mar Ondine, veterinarian")
    text = write_record(kept.exam, kept.loaded.protocol, beside=(beside,)).as_text()
    assert "a note says it should read: something else" in text
    table, _ = table_of(clinic, clinic_records.received_rows(clinic))
    assert b"something else" in table
    assert b"something else" in fhir_of(clinic, kept)

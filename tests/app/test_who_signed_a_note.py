"""What a paired device may claim in a note: never that the clinic said it.

The attacker holds a paired device: it signs with a key that is known, and writes any
name, role and kind above a note.
"""

import json
from dataclasses import replace

import pytest

from exam_app.app.clinic.export import fhir_of, table_of
from exam_app.app.clinic.notes import keep_note, notes_beside, show_note, write_note
from exam_app.app.handover.arrivals import take
from exam_app.app.queries.clinic_records import read_record, received_rows
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.queries.record_chain import open_requests
from exam_app.app.view.clinic_review_presenter import is_acknowledged
from exam_app.cli.verify import verify_file
from exam_app.crypto import door
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.wording.visible_text import visible
from exam_app.domain.wording.written_record import write_record
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.returns import make_day_pack
from exam_app.exchange.signed_notes import acknowledgements, notes_of, signer_of
from exam_app.record.notes import NoteKind
from exam_app.record.records import read_note
from sync.bundle.bundle import BundleKind
from sync.bundle.contents import Contents
from tests.exam_samples import VETERINARIAN
from tests.handover_places import DOG, LATER, named_id, paired_places, small_exam

CHIEF = Person("c" * 32, "Dr Chief", Role.VETERINARIAN, "DC")
BY_VAN = "the device “Van two”"


@pytest.fixture
async def places(tmp_path, each_store):
    """A clinic with two paired devices; the second is in the attacker's hands."""
    async with paired_places(
        tmp_path, ("Tablet one", "Van two"), register=each_store
    ) as opened:
        yield opened


def arrived(clinic, tablet, name="one"):
    """An exam of the first device, received by the clinic; its id and hash."""
    exam = small_exam(name)
    (bundle,) = tablet.hand_over(tablet.close_exam(exam))
    clinic.receive(bundle.sealed)
    return exam.exam_id, bundle.record_hashes[0]


def forged(clinic, van, exam_id, exam_hash, kind=NoteKind.ACKNOWLEDGEMENT, **fields):
    """The attacker's note under the name of the chief, received by the clinic."""
    note = van.sign_note(
        f"forged {kind}",
        exam_id,
        kind=kind,
        exam_hash=exam_hash,
        author=CHIEF,
        text="seen, all well",
        **fields,
    )
    clinic.receive(van.seal(clinic, Contents(notes=(note,))))
    return note


def true_acknowledgement(clinic, exam_id):
    kept = read_kept(clinic.vault, exam_id)
    note = write_note(
        NoteKind.ACKNOWLEDGEMENT, kept, VETERINARIAN, LATER, named_id("true")
    )
    return keep_note(clinic.vault, note)


def pack_for(clinic, device, *animal_ids):
    sealed = make_day_pack(
        clinic.exchange, device.device_id, animal_ids, LATER, door.random_bytes
    )
    return take(device.vault, sealed.sealed)


async def test_acknowledgement_signed_by_a_device_does_not_count_at_the_clinic(places):
    clinic, tablet, van = places
    exam_id, exam_hash = arrived(clinic, tablet)
    forged(clinic, van, exam_id, exam_hash)
    read = read_record(clinic.vault, exam_id)
    assert len(read.notes) == 1
    assert acknowledgements(read.notes, exam_hash) == ()
    assert not any(map(is_acknowledged, received_rows(clinic.vault)))
    true_acknowledgement(clinic, exam_id)
    read = read_record(clinic.vault, exam_id)
    (counted,) = acknowledgements(read.notes, exam_hash)
    assert counted.note.author == VETERINARIAN
    assert all(map(is_acknowledged, received_rows(clinic.vault)))


async def test_device_that_acknowledges_its_own_record_marks_nothing(places):
    _, tablet, _ = places
    exam = small_exam("one")
    tablet.close_exam(exam)
    kept = read_kept(tablet.vault, exam.exam_id)
    note = write_note(NoteKind.ACKNOWLEDGEMENT, kept, CHIEF, LATER, named_id("own"))
    keep_note(tablet.vault, note)
    (row,) = tablet.vault.closed.revisions(exam.exam_id)
    assert not row.acknowledged_by
    (one,), _ = notes_of(tablet.vault, exam.exam_id)
    assert "Signed by this device, not by the clinic" in one.signed_words


async def test_note_of_a_device_names_that_device_on_the_clinics_screen(places):
    clinic, tablet, van = places
    exam_id, exam_hash = arrived(clinic, tablet)
    for kind in NoteKind:
        forged(clinic, van, exam_id, exam_hash, kind)
    read = read_record(clinic.vault, exam_id)
    assert len(read.notes) == len(NoteKind)
    for one in read.notes:
        shown = show_note(one, DOG.protocol, exam_hash)
        assert f"Signed by {BY_VAN}, not by the clinic." in shown.text
        assert not shown.title.startswith("Acknowledged")


async def test_acknowledgement_signed_by_a_device_does_not_count_on_a_device(places):
    clinic, tablet, van = places
    exam_id, exam_hash = arrived(clinic, tablet)
    forged(clinic, van, exam_id, exam_hash)
    animal_id = read_kept(clinic.vault, exam_id).exam.animal.animal_id
    assert pack_for(clinic, tablet, animal_id).is_taken
    (row,) = tablet.vault.closed.for_animal(animal_id)
    assert not row.acknowledged_by
    true_acknowledgement(clinic, exam_id)
    pack_for(clinic, tablet, animal_id)
    (row,) = tablet.vault.closed.for_animal(animal_id)
    assert row.acknowledged_by == VETERINARIAN.name


async def test_note_of_another_device_names_it_on_the_devices_screen(places):
    clinic, tablet, van = places
    exam_id, exam_hash = arrived(clinic, tablet)
    for kind in NoteKind:
        forged(clinic, van, exam_id, exam_hash, kind)
    kept = read_kept(tablet.vault, exam_id)
    pack_for(clinic, tablet, kept.exam.animal.animal_id)
    notes, unread = notes_of(tablet.vault, exam_id)
    assert (len(notes), unread) == (len(NoteKind), 0)
    for one in notes:
        shown = show_note(one, DOG.protocol, exam_hash)
        assert f"Signed by {BY_VAN}, not by the clinic." in shown.text
    (request,) = open_requests(tablet.vault, kept.exam.animal.animal_id)
    assert f"signed by {BY_VAN}, not by the clinic" in request.asked


async def test_request_of_the_clinic_needs_no_other_name(places):
    clinic, tablet, _ = places
    exam_id, exam_hash = arrived(clinic, tablet)
    signed = clinic.sign_note(
        "ask", exam_id, kind=NoteKind.RECHECK_REQUEST, exam_hash=exam_hash
    )
    tablet.vault.notes.put(named_id("ask"), exam_id, signed)
    (request,) = open_requests(tablet.vault, small_exam("one").animal.animal_id)
    assert "signed by" not in request.asked


async def test_note_of_a_device_names_it_in_text_table_and_fhir(places):
    clinic, tablet, van = places
    exam_id, exam_hash = arrived(clinic, tablet)
    forged(clinic, van, exam_id, exam_hash)
    kept = read_kept(clinic.vault, exam_id)
    written = write_record(kept.exam, DOG.protocol)
    text = written.with_notes(notes_beside(clinic.vault, kept)).as_text()
    table, _ = table_of(clinic.vault, received_rows(clinic.vault))
    document = json.loads(fhir_of(clinic.vault, kept))
    sections = document["entry"][0]["resource"]["section"]
    (beside,) = [s for s in sections if s["title"] == "Notes beside the record"]
    for form in (text, table.decode("utf-8-sig"), beside["text"]["div"]):
        assert "Acknowledgement from a device: Dr Chief" in form
        assert f"Signed by {BY_VAN}, not by the clinic." in form
        assert "does not count" in form
        assert "Acknowledged: Dr Chief" not in form


async def test_verify_names_the_device_that_signed_a_note(places):
    clinic, tablet, van = places
    exam_id, exam_hash = arrived(clinic, tablet)
    false = forged(clinic, van, exam_id, exam_hash)
    said = verify_file(false, clinic.vault, None)
    assert (said["verified"], said["acknowledges"]) == (True, False)
    assert f"acknowledgement by Dr Chief, signed by {BY_VAN}" in said["what"]
    assert "does not count" in said["what"]
    said = verify_file(true_acknowledgement(clinic, exam_id), clinic.vault, None)
    assert (said["acknowledges"], said["signed_by"]) == (True, "this computer")


async def test_device_that_calls_itself_the_clinic_is_still_a_device(places):
    clinic, _, van = places
    van.name = "the clinic”, \u202eacknowledged"
    kept = Exchange(clinic.vault).pairing.device(van.device_id)
    Exchange(clinic.vault).pairing.put_device(replace(kept, name=van.name))
    signed = van.sign_note("n", "ab" * 16)
    signer = signer_of(clinic.vault, read_key(signed, clinic))
    assert signer.name.startswith("the device “")
    assert "\u202e" not in signer.words
    assert signer.words.endswith("not by the clinic")


async def test_device_has_no_key_of_the_clinic_to_acknowledge_with(places):
    # The device's own role is written in its own store: what it says there of itself
    # makes its key no clinic's anywhere else.
    clinic, tablet, van = places
    exam_id, exam_hash = arrived(clinic, tablet)
    van.vault.settings.put("role", "clinic")
    forged(clinic, van, exam_id, exam_hash)
    notes, _ = notes_of(clinic.vault, exam_id)
    assert acknowledgements(notes, exam_hash) == ()


async def test_note_of_a_revoked_device_says_who_ended_the_trust(places):
    clinic, tablet, van = places
    exam_id, exam_hash = arrived(clinic, tablet)
    forged(clinic, van, exam_id, exam_hash, NoteKind.ADDENDUM)
    Exchange(clinic.vault).pairing.revoke_device(van.device_id, 9, 1, "Dr Ondine")
    ((note,), _) = notes_of(clinic.vault, exam_id)
    assert "which Dr Ondine trusts no more" in note.signed_words


async def test_day_pack_of_a_device_is_taken_by_no_other_device(places):
    # Names of signers are believed because the clinic signs the manifest.
    clinic, tablet, van = places
    exam_id, _ = arrived(clinic, tablet)
    note = van.sign_note("n", exam_id, kind=NoteKind.ACKNOWLEDGEMENT, author=CHIEF)
    for sender in (van.device_id, clinic.device_id):
        sealed = van.seal(
            tablet,
            Contents(notes=(note,)),
            kind=BundleKind.DAY_PACK,
            sender_id=sender,
            signers=((signing_key(van), "the clinic"),),
        )
        assert not take(tablet.vault, sealed).is_taken
    assert notes_of(tablet.vault, exam_id) == ((), 0)


def read_key(signed, clinic):
    return read_note(signed, Exchange(clinic.vault).signing_keys()).key_id


def signing_key(place):
    return Exchange(place.vault).own_device().signing_key


def test_control_and_direction_characters_are_seen():
    assert visible("a\x1b[2Jb\u202ec\nd\u2028") == (
        "a\\u{1b}[2Jb\\u{202e}c\\u{a}d\\u{2028}"
    )
    assert visible("C:\\Äpfel né 犬 ") == "C:\\Äpfel né 犬 "

"""A note for the veterinarian only goes to the clinic, and nowhere else.

Every way out of a device and out of the clinic is opened with the recipient's own
keys, and the opened bytes are searched for the words.
"""

from dataclasses import replace

import pytest

from exam_app.app.handover.arrivals import pack_words
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.signing import store_closed
from exam_app.app.view.clinic_day_pack_presenter import made_words
from exam_app.app.view.visit_presenter import notes_for_reader
from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.corrections import begin_correction, close_correction
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.visit import PrivateNote
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.exchange.arriving import PRIVATE_FAULT
from exam_app.exchange.day_pack import take_day_pack
from exam_app.exchange.exchange import Exchange, delete_exams
from exam_app.exchange.outbox import take_receipt
from exam_app.exchange.returns import left_out, make_day_pack
from exam_app.export.fhir import as_json, exam_bundle
from exam_app.export.tables import as_csv, exam_rows
from exam_app.record.cbor_form import encode
from exam_app.record.cose import Kind, sign_record
from exam_app.record.errors import CannotBeWrittenError, NotARecordError
from exam_app.record.field_writer import write_exam
from exam_app.record.records import close_and_sign, read_exam
from exam_app.record.salted_blocks import private_block, read_private, salted_hash
from exam_app.record.vocabulary import vocabulary_of
from sync.bundle.bundle import BundleKind
from sync.bundle.contents import Contents, PrivatePart, plan_bundles
from sync.bundle.packing import Part, Unpacking, split_parts
from sync.bundle.sealing import unseal
from sync.errors import BundleNotMadeError
from tests.handover_places import (
    DOG,
    LATER,
    NOW,
    TECHNICIAN,
    VETERINARIAN,
    named_id,
    paired_places,
    small_exam,
)
from tests.sync_tiny import opened, sealed

SECRET = "rope mark round the neck, told by the neighbour"


@pytest.fixture
async def places(tmp_path, each_store):
    async with paired_places(
        tmp_path, ("Tablet one", "Tablet two"), register=each_store
    ) as opened_places:
        yield opened_places


def telling(exam, words=SECRET):
    """The exam with a private note of its technician."""
    by = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NOW, NOW)
    reopened = record_visit(replace(exam, closing=None), PrivateNote(words, by))
    return replace(reopened, closing=exam.closing)


def inside(vault, sealed_bytes):
    """All that the recipient's key opens: the unpacked parts, and what they unpack."""
    plain = unseal(sealed_bytes, vault.settings.get("agreement_key")).plain
    return Unpacking(plain).rest()


def day_pack(clinic, device, *animal_ids):
    made = make_day_pack(
        clinic.exchange, device.device_id, animal_ids, LATER, door.random_bytes
    )
    return made.sealed


def old_record(place, exam):
    """Sign as earlier versions did: the private note among the fields of the exam."""
    vocabulary = vocabulary_of(DOG.protocol)
    body = {1: write_exam(exam, vocabulary), 3: vocabulary.check}
    return sign_record(Kind.EXAM, encode([1, body]), place.seed)


def handed_over(clinic, tablet, name="one", words=SECRET):
    exam = telling(small_exam(name), words)
    tablet.close_exam(exam, Owner("Ada Invented"))
    (bundle,) = tablet.hand_over(exam.exam_id)
    clinic.receive(bundle.sealed)
    return exam, bundle


async def test_private_note_is_not_in_the_signed_record(places):
    _, tablet, _ = places
    exam = telling(small_exam("one"))
    tablet.close_exam(exam)
    signed = tablet.vault.closed.get(exam.exam_id)
    assert SECRET.encode() not in signed
    kept = read_kept(tablet.vault, exam.exam_id)
    assert kept.exam == exam
    assert SECRET in str(notes_for_reader(kept.exam, VETERINARIAN))
    assert notes_for_reader(kept.exam, TECHNICIAN) == ()


async def test_private_note_reaches_the_clinic_sealed_and_is_read_there(places):
    clinic, tablet, _ = places
    exam, bundle = handed_over(clinic, tablet)
    assert SECRET.encode() not in bundle.sealed
    assert SECRET.encode() in inside(clinic.vault, bundle.sealed)
    for other in places[1:]:
        with pytest.raises(Exception, match="sealed to another key"):
            inside(other.vault, bundle.sealed)
    kept = read_kept(clinic.vault, exam.exam_id)
    assert kept.exam == exam
    assert not kept.lacks_private


async def test_no_day_pack_holds_a_private_note(places):
    clinic, tablet, other = places
    exam, _ = handed_over(clinic, tablet)
    animal_id = exam.animal.animal_id
    clinic.vault.notes.put(
        named_id("n"), exam.exam_id, clinic.sign_note("n", exam.exam_id)
    )
    for device in (tablet, other):
        pack_sealed = day_pack(clinic, device, animal_id)
        unpacked = inside(device.vault, pack_sealed)
        assert SECRET.encode() not in unpacked
        assert Part.PRIVATE not in {kind for kind, _, _ in split_parts(unpacked)}
        take_day_pack(device.exchange, pack_sealed, LATER)
    kept = read_kept(other.vault, exam.exam_id)
    assert kept.exam.private_notes == ()
    assert "clinic's computer only" in str(
        notes_for_reader(kept.exam, VETERINARIAN, lacks_private=kept.lacks_private)
    )
    assert notes_for_reader(kept.exam, TECHNICIAN, lacks_private=True) == ()
    assert read_kept(tablet.vault, exam.exam_id).exam == exam


async def test_receipt_holds_no_private_note(places):
    clinic, tablet, _ = places
    _, bundle = handed_over(clinic, tablet)
    receipt = Exchange(clinic.vault).incoming.receipt(bundle.bundle_hash)
    assert SECRET.encode() not in receipt
    take_receipt(tablet.exchange, receipt)


async def test_revision_of_a_record_leaves_the_private_note_beside_it_too(places):
    clinic, tablet, other = places
    first, bundle = handed_over(clinic, tablet)
    second = replace(
        telling(first, "and a second mark"),
        revision=1,
        parent_hash=bundle.record_hashes[0],
    )
    salt, private_salt = door.random_bytes(32), door.random_bytes(32)
    made = close_and_sign(second, DOG.protocol, tablet.seed, None, salt, private_salt)
    part = PrivatePart(made.exam_hash, private_salt, made.private_block)
    contents = Contents((made.signed,), privates=(part,))
    clinic.receive(tablet.seal(clinic, contents, 2))
    kept = read_kept(clinic.vault, first.exam_id)
    assert [note.text for note in kept.exam.private_notes] == [
        SECRET,
        "and a second mark",
    ]
    for words in (SECRET, "second mark"):
        assert words.encode() not in made.signed
        animal_id = first.animal.animal_id
        unpacked = inside(other.vault, day_pack(clinic, other, animal_id))
        assert words.encode() not in unpacked


async def test_correction_made_in_the_app_leaves_the_private_note_beside_it(places):
    clinic, tablet, other = places
    exam, bundle = handed_over(clinic, tablet)
    first = read_kept(tablet.vault, exam.exam_id).exam
    by = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, LATER, LATER)
    draft = begin_correction(first, bundle.record_hashes[0], "misheard", by)
    by_then = telling(replace(draft, closing=first.closing), "a second mark")
    changed = replace(by_then, closing=None, remark="limps")
    closed = close_correction(changed, first, DOG.protocol, TECHNICIAN, LATER)
    store_closed(tablet.vault, closed, DOG.protocol)
    signed = tablet.vault.closed.get(exam.exam_id)
    assert read_kept(tablet.vault, exam.exam_id).exam == closed
    for sealed_bundle in tablet.hand_over(exam.exam_id):
        clinic.receive(sealed_bundle.sealed)
    assert read_kept(clinic.vault, exam.exam_id).exam == closed
    unpacked = inside(other.vault, day_pack(clinic, other, exam.animal.animal_id))
    for words in (SECRET, "a second mark"):
        assert words.encode() not in signed
        assert words.encode() not in unpacked


async def test_record_of_an_older_version_with_the_note_inside_stays_at_the_clinic(
    places,
):
    clinic, tablet, other = places
    exam = telling(small_exam("old"))
    signed = old_record(tablet, exam)
    assert SECRET.encode() in signed
    assert (
        read_exam(signed, [door.signing_public_key(tablet.seed)], DOG_OF).exam == exam
    )
    clinic.receive(tablet.seal(clinic, Contents((signed,))))
    assert read_kept(clinic.vault, exam.exam_id).exam == exam
    animal_id = exam.animal.animal_id
    assert SECRET.encode() not in inside(
        other.vault, day_pack(clinic, other, animal_id)
    )
    assert left_out(clinic.exchange, [animal_id]) == 1
    assert "stays here" in made_words("Tablet two", "", 9, 1)
    # An earlier record without such a note goes in its place.
    before = replace(
        small_exam("before"), animal=exam.animal, started=replace(NOW, utc_ms=1)
    )
    assert before.animal == exam.animal
    clinic.receive(tablet.seal(clinic, Contents((tablet.sign(before),)), 2))
    unpacked = inside(other.vault, day_pack(clinic, other, animal_id))
    assert SECRET.encode() not in unpacked
    assert Part.EXAM in {kind for kind, _, _ in split_parts(unpacked)}


async def test_device_keeps_no_record_of_another_device_with_a_note_inside(places):
    # As a clinic of an older version would send it.
    clinic, tablet, other = places
    exam = telling(small_exam("old"))
    signed = old_record(tablet, exam)
    given = clinic.seal(
        other,
        Contents((signed,)),
        kind=BundleKind.DAY_PACK,
        signers=((door.signing_public_key(tablet.seed), "Tablet one"),),
    )
    taken = take_day_pack(other.exchange, given, LATER)
    assert (len(taken.records), taken.private) == (0, 1)
    assert "stayed with the clinic" in pack_words(taken)
    assert other.vault.closed.get(exam.exam_id) is None


async def test_private_note_of_a_record_that_is_had_already_is_still_taken(places):
    # A record that waited apart for its protocol was freed without what came beside.
    clinic, tablet, _ = places
    exam = telling(small_exam("one"))
    tablet.close_exam(exam)
    record = tablet.vault.closed.get(exam.exam_id)
    clinic.receive(tablet.seal(clinic, Contents((record,))))
    assert read_kept(clinic.vault, exam.exam_id).lacks_private
    (bundle,) = tablet.hand_over(exam.exam_id)
    received = clinic.receive(bundle.sealed)
    assert received.exams[0].outcome == "had already"
    assert read_kept(clinic.vault, exam.exam_id).exam == exam


async def test_false_private_note_beside_a_true_record_is_left_out_and_said(places):
    clinic, tablet, _ = places
    exam = telling(small_exam("one"))
    made = close_and_sign(exam, DOG.protocol, tablet.seed, None, bytes(32), b"s" * 32)
    true, false = made.private_block, private_block(telling(small_exam("one"), "x"))
    tries = (
        (b"s" * 32, false),
        (b"t" * 32, true),
        (b"s" * 32, true[:-1]),
        (b"s" * 32, b""),
    )
    for number, (salt, block) in enumerate(tries, 1):
        part = PrivatePart(made.exam_hash, salt, block)
        contents = Contents((made.signed,), privates=(part,))
        received = clinic.receive(tablet.seal(clinic, contents, number))
        assert received.exams[0].reason == PRIVATE_FAULT
        assert "not the signed one" in received.exams[0].reason
        assert read_kept(clinic.vault, exam.exam_id).exam.private_notes == ()


async def test_deleted_exam_takes_its_private_note_along(places):
    clinic, tablet, _ = places
    exam, bundle = handed_over(clinic, tablet)
    take_receipt(
        tablet.exchange, Exchange(clinic.vault).incoming.receipt(bundle.bundle_hash)
    )
    delete_exams(tablet.vault, [exam.exam_id])
    assert tablet.vault.privates.get(bundle.record_hashes[0]) is None


def test_day_pack_with_a_private_note_is_neither_made_nor_opened():
    part = PrivatePart("ab" * 32, bytes(32), b"\x80")
    contents = Contents(privates=(part,))
    assert opened(sealed(contents).sealed).contents == contents
    with pytest.raises(BundleNotMadeError):
        sealed(contents, BundleKind.DAY_PACK)


def test_private_note_goes_in_the_bundle_of_its_record():
    exams = [telling(small_exam(f"{n}"), f"{n} " * 400) for n in range(6)]
    made = [
        close_and_sign(e, DOG.protocol, bytes(32), None, bytes(32), b"s" * 32)
        for e in exams
    ]
    contents = Contents(
        tuple(one.signed for one in made),
        privates=tuple(
            PrivatePart(one.exam_hash, b"s" * 32, one.private_block) for one in made
        ),
    )
    planned = plan_bundles(contents, 1_000)
    assert len(planned) > 1
    for piece in planned:
        hashes = [door.sha256(record).hex() for record in piece.records]
        assert [one.exam_hash for one in piece.privates] == hashes


def test_private_note_needs_a_salt_of_its_own_and_is_never_forgotten():
    exam = telling(small_exam("one"))
    for salt in (b"", bytes(16)):
        with pytest.raises(CannotBeWrittenError):
            close_and_sign(exam, DOG.protocol, bytes(32), None, bytes(32), salt)
    block = private_block(exam)
    made = close_and_sign(exam, DOG.protocol, bytes(32), None, bytes(32), b"s" * 32)
    key = door.signing_public_key(bytes(32))
    read = read_exam(made.signed, [key], DOG_OF)
    assert read.private_hash == salted_hash(block, b"s" * 32).hex()
    assert read_private(made.private_block, read.exam) == exam.private_notes
    for broken in (block[:-1], encode({}), encode([{}]), encode([{1: 2}]), b"\xff"):
        with pytest.raises(NotARecordError):
            read_private(broken, read.exam)


def test_hash_of_a_private_note_cannot_be_tried_without_its_salt():
    # The salt of the owner's details travels in day packs, so it must not be this one.
    exam = telling(small_exam("one"), "yes")
    made = close_and_sign(
        exam, DOG.protocol, bytes(32), Owner("Ada"), b"o" * 32, b"p" * 32
    )
    read = read_exam(made.signed, [door.signing_public_key(bytes(32))], DOG_OF)
    guesses = [private_block(telling(small_exam("one"), w)) for w in ("yes", "no")]
    hashes = {salted_hash(g, s).hex() for g in guesses for s in (b"o" * 32, bytes(32))}
    assert read.private_hash not in hashes


def test_private_note_stands_in_no_export():
    exam = telling(small_exam("one"))
    for form in (
        as_json(exam_bundle(exam, DOG.protocol, "ab" * 32)),
        as_csv(exam_rows(exam, DOG.protocol)),
    ):
        assert SECRET.encode() not in form


def DOG_OF(content_hash):  # noqa: N802
    return DOG.protocol if content_hash == DOG.content_hash else None

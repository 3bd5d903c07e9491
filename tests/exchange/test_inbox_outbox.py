"""What a device hands over, how far it has come, and what comes back to it."""

from dataclasses import replace

import pytest

from exam_app.app.queries.animals import last_time
from exam_app.app.queries.kept_records import read_kept
from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.moments import Moment
from exam_app.exchange.day_pack import take_day_pack
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outbox import enter_code, hand_over, mark_shown, take_receipt
from exam_app.exchange.pairings import NotPairedError
from exam_app.exchange.returns import contents_for, make_day_pack
from exam_app.exchange.signed_notes import notes_of
from exam_app.protocols.loader import load_content
from exam_app.record.plain_form import to_plain
from exam_app.record.records import close_and_sign
from sync.bundle.bundle import BundleKind, seal_bundle
from sync.bundle.contents import Contents
from sync.errors import (
    BadManifestError,
    MistypedReceiptCodeError,
    NotABundleError,
    ReceiptError,
    SyncError,
    UnknownDeviceError,
    WrongReceiptCodeError,
)
from sync.receipts import Outcome, Receipt, ReceiptLine, sign_receipt
from tests.handover_places import (
    DOG,
    LATER,
    NOW,
    agreement_key,
    animal,
    named_id,
    new_place,
    paired_places,
    small_exam,
)

MUCH_LATER = Moment(LATER.utc_ms + 3_600_000, LATER.offset_min)


@pytest.fixture
async def places(tmp_path, each_store):
    async with paired_places(
        tmp_path, ("Tablet one", "Tablet two"), register=each_store
    ) as opened:
        yield opened


def state(place, exam_id):
    return Exchange(place.vault).state_of(exam_id)


def day_pack(clinic, device, *animal_ids, now=MUCH_LATER):
    return make_day_pack(
        clinic.exchange, device.device_id, animal_ids, now, door.random_bytes
    ).sealed


def contents_of(clinic, device, *animal_ids):
    kept = Exchange(clinic.vault).pairing.device(device.device_id)
    return contents_for(clinic.exchange, kept, animal_ids)


def take(device, sealed):
    return take_day_pack(device.exchange, sealed, MUCH_LATER)


async def test_an_exam_goes_from_waiting_to_received_one_step_after_the_other(places):
    clinic, tablet, _ = places
    exchange = Exchange(tablet.vault)
    exam_id = tablet.close_exam(small_exam("one"))
    assert state(tablet, exam_id) == "waiting"
    assert [row.exam_id for row, _ in exchange.not_handed_over()] == [exam_id]
    (bundle,) = tablet.hand_over(exam_id)
    assert state(tablet, exam_id) == "waiting"
    mark_shown(tablet.exchange, bundle.bundle_hash)
    assert state(tablet, exam_id) == "shown"
    received = clinic.receive(bundle.sealed)
    enter_code(tablet.exchange, bundle.bundle_hash, received.receipt_code.lower())
    assert state(tablet, exam_id) == "received by code"
    assert not exchange.may_delete(exam_id)
    take_receipt(tablet.exchange, received.receipt)
    assert state(tablet, exam_id) == "received"
    assert exchange.may_delete(exam_id)
    assert exchange.not_handed_over() == []
    assert not exchange.outgoing.get(bundle.bundle_hash).sealed
    mark_shown(tablet.exchange, bundle.bundle_hash)
    take_receipt(tablet.exchange, received.receipt)
    assert state(tablet, exam_id) == "received"
    assert tablet.hand_over(exam_id) == ()


async def test_what_was_sealed_is_shown_again_as_it_is(places):
    _, tablet, _ = places
    first, second = (tablet.close_exam(small_exam(n)) for n in ("one", "two"))
    (urgent,) = tablet.hand_over(second)
    (again,) = tablet.hand_over(second)
    assert again == urgent
    both = tablet.hand_over(first, second)
    assert both[0] == urgent
    assert [bundle.sequence for bundle in both] == [1, 2]
    assert both[1].exam_ids == (first,)


async def test_a_number_is_kept_with_its_bundle_before_anything_shows(places):
    _, tablet, _ = places
    (bundle,) = tablet.hand_over(tablet.close_exam(small_exam("one")))
    exchange = Exchange(tablet.vault)
    assert exchange.outgoing.get(bundle.bundle_hash).sealed == bundle.sealed
    assert exchange.outgoing.next_sequence(bundle.recipient_id) == 2


async def test_more_than_one_bundle_holds_goes_into_several(places):
    clinic, tablet, _ = places
    ids = [tablet.close_exam(small_exam(f"exam {n}")) for n in range(12)]
    bundles = hand_over(tablet.exchange, ids, NOW, door.random_bytes, 700)
    assert len(bundles) > 1
    assert [bundle.sequence for bundle in bundles] == [*range(1, len(bundles) + 1)]
    for bundle in reversed(bundles):
        received = clinic.receive(bundle.sealed)
        assert received.receipt_code == bundle.code
    assert received.missing_sequences == ()
    assert clinic.hashes() == tablet.hashes()


async def test_five_wrong_codes_end_the_typing_and_a_slip_costs_none(places):
    clinic, tablet, _ = places
    (bundle,) = tablet.hand_over(tablet.close_exam(small_exam("one")))
    (other,) = tablet.hand_over(tablet.close_exam(small_exam("two")))
    code = clinic.receive(bundle.sealed).receipt_code
    for _ in range(7):
        with pytest.raises(MistypedReceiptCodeError):
            enter_code(tablet.exchange, bundle.bundle_hash, code[:-1])
    lefts = []
    for _ in range(6):
        with pytest.raises(WrongReceiptCodeError) as refused:
            enter_code(tablet.exchange, bundle.bundle_hash, other.code)
        lefts.append(refused.value.tries_left)
    assert lefts == [4, 3, 2, 1, 0, 0]
    with pytest.raises(WrongReceiptCodeError):
        enter_code(tablet.exchange, bundle.bundle_hash, code)
    assert state(tablet, bundle.exam_ids[0]) == "waiting"
    enter_code(tablet.exchange, other.bundle_hash, other.code)


async def test_forged_and_foreign_receipts_change_nothing(places):
    clinic, tablet, other = places
    (bundle,) = tablet.hand_over(tablet.close_exam(small_exam("one")))
    good = clinic.receive(bundle.sealed)
    view = good.receipt_view
    forged = [
        sign_receipt(view, other.seed),
        sign_receipt(replace(view, device_id=other.device_id), clinic.seed),
        sign_receipt(replace(view, bundle_hash="ab" * 32), clinic.seed),
        good.receipt[:-1],
        b"",
        bundle.sealed,
    ]
    for place in range(0, len(good.receipt), 7):
        flipped = bytearray(good.receipt)
        flipped[place] ^= 4
        forged.append(bytes(flipped))
    for receipt in forged:
        with pytest.raises(ReceiptError):
            take_receipt(tablet.exchange, receipt)
    assert not Exchange(tablet.vault).may_delete(bundle.exam_ids[0])
    with pytest.raises(ReceiptError):
        take_receipt(other.exchange, good.receipt)


async def test_what_was_not_stored_is_not_received_and_is_handed_over_anew(places):
    clinic, tablet, _ = places
    ids = [tablet.close_exam(small_exam(name)) for name in ("one", "two")]
    (bundle,) = tablet.hand_over(*ids)
    outcomes = (Outcome.STORED, Outcome.QUARANTINED)
    lines = map(ReceiptLine, bundle.signed_hashes, outcomes)
    receipt = Receipt(
        named_id("device Clinic"),
        tablet.device_id,
        bundle.bundle_hash,
        1,
        LATER,
        tuple(lines),
        is_demo=True,
    )
    take_receipt(tablet.exchange, sign_receipt(receipt, clinic.seed))
    assert [state(tablet, exam_id) for exam_id in ids] == ["received", "shown"]
    protocol, again = tablet.hand_over(*ids)
    assert (protocol.sequence, protocol.exam_ids) == (2, ())
    assert (again.sequence, again.exam_ids) == (3, (ids[1],))
    clinic.receive(protocol.sealed)
    received = clinic.receive(again.sealed)
    assert [x.outcome for x in received.receipt_view.lines] == [Outcome.STORED]


async def test_without_a_clinic_nothing_is_sealed(tmp_path):
    place = await new_place(tmp_path, "Lone", "field")
    exam_id = place.close_exam(small_exam("one"))
    with pytest.raises(NotPairedError):
        place.hand_over(exam_id)
    place.vault.close()


async def test_owner_details_go_beside_the_record(places):
    clinic, tablet, _ = places
    owner = Owner("Ada Invented", "555 0199")
    exam_id = tablet.close_exam(small_exam("one"), owner)
    (bundle,) = tablet.hand_over(exam_id)
    assert b"Ada Invented" not in bundle.sealed
    clinic.receive(bundle.sealed)
    assert clinic.vault.owners.get(exam_id) == tablet.vault.owners.get(exam_id)
    kept = clinic.vault.animals.get(small_exam("one").animal.animal_id)
    assert kept["owner"] == to_plain(owner)


async def test_a_day_pack_brings_last_months_record_to_another_device(places):
    clinic, tablet, other = places
    exam = small_exam("one")
    tablet.close_exam(exam, Owner("Ada Invented"))
    (bundle,) = tablet.hand_over(exam.exam_id)
    clinic.receive(bundle.sealed)
    clinic.vault.notes.put(
        named_id("n"), exam.exam_id, clinic.sign_note("n", exam.exam_id)
    )
    sealed = day_pack(clinic, other, exam.animal.animal_id)
    pack = take(other, sealed)
    assert (len(pack.records), len(pack.notes), pack.refused) == (1, 1, 0)
    assert read_kept(other.vault, exam.exam_id).exam == exam
    assert other.vault.animals.get(exam.animal.animal_id)["owner"]["name"]
    notes, unread = notes_of(other.vault, exam.exam_id)
    assert (len(notes), unread) == (1, 0)
    assert Exchange(other.vault).not_handed_over() == []
    again = take(other, sealed)
    assert (len(again.records), again.had_already) == (0, 2)
    assert len(other.hashes()) == 1

    class FakeSession:
        vault = other.vault

    assert last_time(FakeSession, exam.animal.animal_id).findings == ()


async def test_a_day_pack_brings_notes_and_receipts_to_the_device_that_examined(places):
    clinic, tablet, _ = places
    exam_id = tablet.close_exam(small_exam("one"))
    (bundle,) = tablet.hand_over(exam_id)
    clinic.receive(bundle.sealed)
    clinic.vault.notes.put(named_id("n"), exam_id, clinic.sign_note("n", exam_id))
    pack = take(tablet, day_pack(clinic, tablet))
    assert (pack.receipts, len(pack.notes)) == (1, 1)
    assert state(tablet, exam_id) == "received"
    assert tablet.vault.notes.for_exam(exam_id)


async def test_day_packs_for_others_or_by_others_are_refused(places):
    clinic, tablet, other = places
    sealed = day_pack(clinic, tablet)
    with pytest.raises(SyncError):
        take(other, sealed)
    with pytest.raises(SyncError):
        clinic.receive(sealed)
    known = replace(Exchange(tablet.vault).own_device(), state="paired")
    Exchange(other.vault).pairing.put_device(known)
    forged = make_day_pack(other.exchange, tablet.device_id, (), NOW, door.random_bytes)
    with pytest.raises(UnknownDeviceError):
        take(tablet, forged.sealed)
    (bundle,) = tablet.hand_over(tablet.close_exam(small_exam("one")))
    with pytest.raises(SyncError):
        take(tablet, bundle.sealed)
    named = tablet_sealed_as_day_pack(clinic, tablet)
    with pytest.raises(BadManifestError):
        take(tablet, named)


def tablet_sealed_as_day_pack(clinic, tablet):
    """The clinic's key, another sender's name."""
    return seal_bundle(
        BundleKind.DAY_PACK,
        Contents(),
        sequence=1,
        made=NOW,
        sender_id=tablet.device_id,
        seed=clinic.seed,
        recipient_key=agreement_key(tablet.vault),
        is_demo=True,
        random=door.random_bytes,
    ).sealed


async def test_a_revoked_device_gets_no_day_pack(places):
    clinic, tablet, _ = places
    Exchange(clinic.vault).pairing.revoke_device(tablet.device_id, 0, 0, "Dr Ondine")
    with pytest.raises(NotPairedError):
        day_pack(clinic, tablet)


async def test_a_record_nobody_vouches_for_is_left_out_of_a_day_pack(places):
    clinic, tablet, other = places
    exam = small_exam("one")
    tablet.close_exam(exam)
    clinic.receive(tablet.hand_over(exam.exam_id)[0].sealed)
    forged = other.sign(small_exam("forged"))
    honest = contents_of(clinic, other, exam.animal.animal_id)
    bad_key = {**honest.animals[0], "record_keys": ["00" * 32, "no key", 7]}
    records = (*honest.records, forged)
    changed = replace(honest, animals=(bad_key,), records=records)
    pack = take(other, seal_pack(clinic, other, changed))
    assert pack.refused == 1
    assert [r.read.exam.exam_id for r in pack.records] == [named_id("forged")]
    assert animal().animal_id == exam.animal.animal_id


async def test_nothing_is_deleted_that_the_clinic_has_not_signed_for(places):
    clinic, tablet, other = places
    exam = small_exam("one")
    tablet.close_exam(exam)
    (bundle,) = tablet.hand_over(exam.exam_id)
    take_receipt(tablet.exchange, clinic.receive(bundle.sealed).receipt)
    assert Exchange(tablet.vault).may_delete(exam.exam_id)
    note = tablet.sign_note("n", exam.exam_id)
    tablet.vault.notes.put(named_id("n"), exam.exam_id, note)
    assert not Exchange(tablet.vault).may_delete(exam.exam_id)
    (of_note,) = tablet.hand_over(exam.exam_id)
    take_receipt(tablet.exchange, clinic.receive(of_note.sealed).receipt)
    assert Exchange(tablet.vault).may_delete(exam.exam_id)
    assert clinic.vault.notes.for_exam(exam.exam_id) == [note]
    take(other, day_pack(clinic, other, exam.animal.animal_id))
    for place in (clinic, other):
        assert not Exchange(place.vault).may_delete(exam.exam_id)
    assert not Exchange(tablet.vault).may_delete("never there")


async def test_a_day_pack_brings_protocols_revisions_and_what_is_refused_is_counted(
    places,
):
    clinic, tablet, other = places
    own = load_content(DOG.content.replace(b'"label":"Dog"', b'"label":"Our dog"', 1))
    first = replace(small_exam("one"), protocol_hash=own.content_hash)
    parent = close_and_sign(first, own.protocol, tablet.seed, None, bytes(32)).signed
    second = replace(first, revision=1, parent_hash=door.sha256(parent).hex())
    revised = close_and_sign(second, own.protocol, tablet.seed, None, bytes(32)).signed
    fork = close_and_sign(
        replace(first, remark="fork"), own.protocol, tablet.seed, None, bytes(32)
    ).signed
    contents = Contents((parent, revised), (), (), (own.content,))
    clinic.receive(tablet.seal(clinic, contents))
    honest = contents_of(clinic, other, first.animal.animal_id)
    assert honest.protocols == (own.content,)
    assert honest.records == (revised,)
    note = clinic.sign_note("n", first.exam_id)
    changed = clinic.sign_note("n", first.exam_id, text="changed")
    real = clinic.sign_note("real", first.exam_id, is_demo=False)
    broken = note[:-1] + bytes([note[-1] ^ 1])
    sent = replace(
        honest,
        records=(parent, revised, fork),
        notes=(note, changed, real, broken),
        protocols=(b"no protocol", own.content),
    )
    pack = take(other, seal_pack(clinic, other, sent))
    outcomes = [record.outcome for record in pack.records]
    assert outcomes == [Outcome.STORED, Outcome.REVISION, Outcome.FORK]
    assert (len(pack.notes), pack.refused) == (1, 3)
    assert read_kept(other.vault, first.exam_id).exam == second
    assert other.vault.protocols.get(own.content_hash) == own.content
    older = seal_pack(clinic, other, replace(sent, records=()), sequence=1)
    assert take(other, older).animals
    with pytest.raises(NotABundleError):
        take(other, seal_pack(clinic, other, sent, kind=BundleKind.EXAMS))


def seal_pack(clinic, device, contents, sequence=3, kind=BundleKind.DAY_PACK):
    """Seal what the app itself would never send."""
    return clinic.seal(
        device, contents, sequence, recipient_key=agreement_key(device.vault), kind=kind
    )

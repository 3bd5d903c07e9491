"""What a clinic keeps of a bundle: every record once, unaltered, or not at all."""

from dataclasses import replace

import pytest

from exam_app.app.queries.kept_records import read_kept
from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.people import Role
from exam_app.exchange.arriving import OWNER_FAULT
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import admit
from exam_app.protocols.loader import load_content
from exam_app.record.lineage import FormerKey
from exam_app.record.records import close_and_sign
from exam_app.record.salted_blocks import owner_block
from exam_app.store.vault.restore import become_new_device
from sync.bundle.bundle import BundleKind, seal_bundle
from sync.bundle.contents import Contents, OwnerPart
from sync.errors import (
    BadManifestError,
    DemoRefusedError,
    NotABundleError,
    RevokedDeviceError,
    SyncError,
    UnknownDeviceError,
    WrongRecipientError,
)
from sync.receipts import Outcome, read_receipt
from tests.exam_samples import TECHNICIAN, VETERINARIAN
from tests.handover_places import (
    DOG,
    LATER,
    NOW,
    agreement_key,
    animal,
    named_bytes,
    named_id,
    new_place,
    pair,
    paired_places,
    small_exam,
)


@pytest.fixture
async def places(tmp_path, clinic_register):
    devices = ("Tablet one", "Tablet two")
    async with paired_places(tmp_path, devices, register=clinic_register) as opened:
        yield opened


def outcomes(received):
    return [line.outcome for line in received.receipt_view.lines]


def revision_of(place, exam, number=1, **fields):
    parent_hash = door.sha256(place.sign(exam)).hex()
    return replace(exam, revision=number, parent_hash=parent_hash, **fields)


async def test_every_exam_arrives_once_and_unaltered(places):
    clinic, tablet, _ = places
    ids = [tablet.close_exam(small_exam(f"exam {n}")) for n in range(3)]
    (bundle,) = tablet.hand_over(*ids)
    received = clinic.receive(bundle.sealed)
    assert outcomes(received) == [Outcome.STORED] * 3
    assert clinic.hashes() == tablet.hashes()
    for exam_id in ids:
        assert clinic.vault.closed.get(exam_id) == tablet.vault.closed.get(exam_id)
        kept, sent = read_kept(clinic.vault, exam_id), read_kept(tablet.vault, exam_id)
        assert kept.exam == sent.exam
    row = clinic.vault.closed.revisions(ids[0])[0]
    assert row.is_received
    assert row.device_id == tablet.device_id
    assert received.receipt_code == bundle.code


async def test_the_receipt_names_every_record_and_is_signed_by_the_clinic(places):
    clinic, tablet, _ = places
    (bundle,) = tablet.hand_over(tablet.close_exam(small_exam("one")))
    received = clinic.receive(bundle.sealed)
    public = door.signing_public_key(clinic.seed)
    read = read_receipt(received.receipt, public, lambda _: bundle.signed_hashes)
    assert read == received.receipt_view
    assert [line.record_hash for line in read.lines] == list(bundle.signed_hashes)


async def test_the_same_bundle_twice_is_kept_once_and_gets_the_same_receipt(places):
    clinic, tablet, _ = places
    (bundle,) = tablet.hand_over(tablet.close_exam(small_exam("one")))
    first = clinic.receive(bundle.sealed)
    second = clinic.receive(bundle.sealed, now=replace(LATER, utc_ms=LATER.utc_ms + 9))
    assert (second.receipt, second.receipt_code) == (first.receipt, first.receipt_code)
    assert second.receipt_view == first.receipt_view
    assert second.was_known
    assert not first.was_known
    assert len(clinic.hashes()) == 1


async def test_the_same_records_in_another_bundle_were_had_already(places):
    clinic, tablet, _ = places
    exams = [small_exam("one"), small_exam("two")]
    clinic.receive(tablet.seal_exams(clinic, *exams))
    received = clinic.receive(tablet.seal_exams(clinic, *exams, sequence=2))
    assert outcomes(received) == [Outcome.HAD_ALREADY] * 2
    assert received.receipt_code
    assert len(clinic.hashes()) == 2


async def test_a_revision_is_kept_beside_what_it_revises(places):
    clinic, tablet, _ = places
    first = small_exam("one")
    second = revision_of(tablet, first, remark="corrected")
    received = clinic.receive(tablet.seal_exams(clinic, first, second))
    assert outcomes(received) == [Outcome.STORED, Outcome.REVISION]
    assert len(clinic.vault.closed.revisions(first.exam_id)) == 2
    assert read_kept(clinic.vault, first.exam_id).exam == second


async def test_two_records_of_one_number_are_a_fork_and_both_are_kept(places):
    clinic, tablet, _ = places
    first = small_exam("one")
    left = revision_of(tablet, first, remark="left")
    right = revision_of(tablet, first, remark="right")
    received = clinic.receive(tablet.seal_exams(clinic, first, left, right))
    assert outcomes(received) == [Outcome.STORED, Outcome.REVISION, Outcome.FORK]
    tips = clinic.vault.closed.tips(first.exam_id)
    assert [row.is_fork for row in tips] == [False, True]
    other = replace(first, remark="another first record")
    again = clinic.receive(tablet.seal_exams(clinic, other, sequence=2))
    assert outcomes(again) == [Outcome.FORK]
    assert len(clinic.hashes()) == 4


async def test_a_revision_that_comes_before_its_parent_waits_whole(places):
    clinic, tablet, _ = places
    first = small_exam("one")
    second = revision_of(tablet, first, remark="second")
    third = revision_of(tablet, second, 2, remark="third")
    sealed = tablet.seal_exams(clinic, third, second, sequence=2)
    early = clinic.receive(sealed)
    assert outcomes(early) == [Outcome.QUARANTINED] * 2
    assert early.receipt_code == ""
    assert clinic.hashes() == []
    assert len(Exchange(clinic.vault).quarantine.held()) == 2
    late = clinic.receive(tablet.seal_exams(clinic, first))
    assert outcomes(late) == [Outcome.STORED]
    assert len(clinic.hashes()) == 3
    assert Exchange(clinic.vault).quarantine.held() == []
    assert read_kept(clinic.vault, first.exam_id).exam == third
    again = clinic.receive(sealed)
    assert outcomes(again) == [Outcome.HAD_ALREADY] * 2
    assert again.receipt_code
    assert again.was_known


@pytest.mark.parametrize(
    ("claim", "expected"),
    [
        ({"revision": 0, "parent_hash": "cd" * 32}, Outcome.REFUSED),
        ({"revision": 3, "parent_hash": ""}, Outcome.REFUSED),
        ({"revision": 10_001}, Outcome.REFUSED),
        ({"revision": 2**62}, Outcome.REFUSED),
        ({"revision": 1, "parent_hash": "cd" * 32}, Outcome.QUARANTINED),
    ],
)
async def test_a_revision_that_claims_what_cannot_be_is_not_kept(
    places, claim, expected
):
    clinic, tablet, _ = places
    first = small_exam("one")
    forged = replace(revision_of(tablet, first), **claim)
    received = clinic.receive(tablet.seal_exams(clinic, first, forged))
    assert outcomes(received) == [Outcome.STORED, expected]
    assert received.receipt_code == ""
    assert read_kept(clinic.vault, first.exam_id).exam == first


async def test_a_revision_not_higher_than_its_parent_is_refused(places):
    clinic, tablet, _ = places
    first = small_exam("one")
    second = revision_of(tablet, first, 5)
    third = revision_of(tablet, second, 5)
    received = clinic.receive(tablet.seal_exams(clinic, first, second, third))
    assert outcomes(received)[-1] is Outcome.REFUSED


async def test_another_device_cannot_revise_and_does_not_replace(places):
    clinic, tablet, other = places
    first = small_exam("one")
    clinic.receive(tablet.seal_exams(clinic, first))
    forged = revision_of(tablet, first, remark="never said")
    received = clinic.receive(other.seal_exams(clinic, forged))
    assert outcomes(received) == [Outcome.QUARANTINED]
    assert read_kept(clinic.vault, first.exam_id).exam == first
    assert len(clinic.hashes()) == 1


async def test_another_role_cannot_revise(places):
    clinic, tablet, _ = places
    first = small_exam("one")
    by_other = small_exam("one", closer=VETERINARIAN)
    assert TECHNICIAN.role is Role.TECHNICIAN
    forged = replace(
        by_other, revision=1, parent_hash=door.sha256(tablet.sign(first)).hex()
    )
    received = clinic.receive(tablet.seal_exams(clinic, first, forged))
    assert outcomes(received) == [Outcome.STORED, Outcome.QUARANTINED]


async def test_forged_records_inside_a_valid_bundle_are_refused_alone(places):
    clinic, tablet, other = places
    good = tablet.sign(small_exam("good"))
    flipped = bytearray(tablet.sign(small_exam("flipped")))
    flipped[len(flipped) // 2] ^= 1
    forged = (
        bytes(flipped),
        other.sign(small_exam("of another device")),
        tablet.sign_note("a note as an exam", named_id("x")),
        b"\xd2\x84nothing",
        b"",
        tablet.sign(replace(small_exam("no demo"), is_demo=False)),
    )
    contents = Contents((good, *forged))
    received = clinic.receive(tablet.seal(clinic, contents))
    assert outcomes(received) == [Outcome.STORED] + [Outcome.REFUSED] * len(forged)
    assert received.receipt_code == ""
    assert clinic.hashes() == [door.sha256(good).hex()]
    held = Exchange(clinic.vault).quarantine.held()
    assert len(held) == len(forged)
    assert all(row.reason for row in held)


async def test_notes_are_kept_once_and_never_take_a_revision_number(places):
    clinic, tablet, other = places
    exam = small_exam("one")
    first = tablet.sign_note("n1", exam.exam_id)
    changed = tablet.sign_note("n1", exam.exam_id, text="changed afterwards")
    foreign = other.sign_note("n2", exam.exam_id)
    contents = Contents((tablet.sign(exam),), (first, first, changed, foreign))
    received = clinic.receive(tablet.seal(clinic, contents))
    assert outcomes(received) == [
        Outcome.STORED,
        Outcome.STORED,
        Outcome.STORED,
        Outcome.QUARANTINED,
        Outcome.REFUSED,
    ]
    assert clinic.vault.notes.for_exam(exam.exam_id) == [first]
    assert clinic.vault.closed.revisions(exam.exam_id)[0].revision == 0


async def test_owner_details_are_kept_only_where_they_are_the_signed_ones(places):
    clinic, tablet, _ = places
    owner, salt = Owner("Ada Invented", "555 0199"), named_bytes("salt")
    good, bad = small_exam("one"), small_exam("two")
    records = [tablet.sign(exam, owner, salt) for exam in (good, bad)]
    hashes = [door.sha256(record).hex() for record in records]
    parts = (
        OwnerPart(hashes[0], salt, owner_block(owner)),
        OwnerPart(hashes[1], salt, owner_block(Owner("Somebody Else"))),
    )
    received = clinic.receive(tablet.seal(clinic, Contents(tuple(records), (), parts)))
    assert outcomes(received) == [Outcome.STORED] * 2
    assert [exam.reason for exam in received.exams] == ["", OWNER_FAULT]
    kept = clinic.vault.owners.get(good.exam_id)
    assert kept[0] == salt
    assert kept[1]["name"] == "Ada Invented"
    assert clinic.vault.owners.get(bad.exam_id) is None


async def test_demo_records_never_come_to_a_real_clinic(places, tmp_path):
    clinic, tablet, _ = places
    real = await new_place(tmp_path / "real", "Real", "clinic", is_demo=False)
    real_tablet = await new_place(tmp_path / "rt", "Real tablet", "field", False)
    try:
        pair(real, tablet)
        pair(clinic, real_tablet)
        with pytest.raises(DemoRefusedError):
            real.receive(tablet.seal_exams(real, small_exam("one")))
        truth = small_exam("two", of=animal(is_demo=False))
        with pytest.raises(DemoRefusedError):
            clinic.receive(real_tablet.seal_exams(clinic, truth))
        disguised = tablet.seal_exams(real, small_exam("one"), is_demo=False)
        assert outcomes(real.receive(disguised)) == [Outcome.REFUSED]
        assert real.hashes() == clinic.hashes() == []
    finally:
        real.vault.close()
        real_tablet.vault.close()


async def test_a_bundle_for_another_clinic_is_not_read(places, tmp_path):
    clinic, tablet, _ = places
    other = await new_place(tmp_path / "other", "Other", "clinic")
    try:
        with pytest.raises(WrongRecipientError):
            clinic.receive(tablet.seal_exams(other, small_exam("one")))
    finally:
        other.vault.close()
    assert Exchange(clinic.vault).quarantine.all() == []


async def test_an_unknown_device_is_refused_and_its_bundle_kept_whole(places, tmp_path):
    clinic = places[0]
    stranger = await new_place(tmp_path / "stranger", "Stranger", "field")
    try:
        sealed = stranger.seal_exams(clinic, small_exam("one"))
        for _ in range(2):
            with pytest.raises(UnknownDeviceError):
                clinic.receive(sealed)
        (held,) = Exchange(clinic.vault).quarantine.held()
        assert Exchange(clinic.vault).quarantine.content(held.key) == sealed
        assert clinic.hashes() == []
        pair(clinic, stranger)
        received = admit(held.key, clinic.exchange, LATER, "Dr Mar Ondine")
    finally:
        stranger.vault.close()
    assert outcomes(received) == [Outcome.STORED]
    assert Exchange(clinic.vault).quarantine.held() == []


async def test_strangers_cannot_fill_the_clinics_disk(places, tmp_path):
    clinic = places[0]
    stranger = await new_place(tmp_path / "stranger", "Stranger", "field")
    for number in range(60):
        with pytest.raises(UnknownDeviceError):
            clinic.receive(stranger.seal(clinic, Contents(), number + 1))
    stranger.vault.close()
    assert len(Exchange(clinic.vault).quarantine.held()) == 50


async def test_later_bundles_of_a_revoked_device_go_to_quarantine(places):
    clinic, tablet, _ = places
    exams = [small_exam(f"exam {n}") for n in range(5)]
    sealed = [
        tablet.seal_exams(clinic, exam, sequence=n + 1) for n, exam in enumerate(exams)
    ]
    clinic.receive(sealed[1])
    Exchange(clinic.vault).pairing.revoke_device(tablet.device_id, 2, 0, "Dr Ondine")
    clinic.receive(sealed[0])
    for late in sealed[2:4]:
        with pytest.raises(RevokedDeviceError):
            clinic.receive(late)
    reused = tablet.seal_exams(clinic, exams[4], sequence=2)
    with pytest.raises(RevokedDeviceError):
        clinic.receive(reused)
    assert len(clinic.hashes()) == 2
    held = Exchange(clinic.vault).quarantine.held()
    assert [row.sequence for row in held] == [3, 4, 2]
    received = admit(held[0].key, clinic.exchange, LATER, "Dr Ondine")
    assert outcomes(received) == [Outcome.STORED]
    Exchange(clinic.vault).quarantine.decide(held[1].key, "dropped", "Dr Ondine", 1)
    assert len(clinic.hashes()) == 3
    assert len(Exchange(clinic.vault).quarantine.held()) == 1
    with pytest.raises(NotABundleError):
        admit(held[1].key, clinic.exchange, LATER, "Dr Ondine")


async def test_nobody_admits_without_a_name(places):
    clinic, tablet, _ = places
    Exchange(clinic.vault).pairing.revoke_device(tablet.device_id, 0, 0, "Dr Ondine")
    with pytest.raises(RevokedDeviceError):
        clinic.receive(tablet.seal_exams(clinic, small_exam("one")))
    (held,) = Exchange(clinic.vault).quarantine.held()
    with pytest.raises(NotABundleError):
        admit(held.key, clinic.exchange, LATER, "")


async def test_a_device_nobody_confirmed_is_unknown(places):
    clinic, tablet, _ = places
    pair(clinic, tablet, state="words shown")
    with pytest.raises(UnknownDeviceError):
        clinic.receive(tablet.seal_exams(clinic, small_exam("one")))


async def test_a_restored_device_goes_on_and_revises_what_it_closed_before(places):
    clinic, tablet, _ = places
    first = small_exam("one")
    old = tablet.seal_exams(clinic, first)
    old_record, revised = tablet.sign(small_exam("unsent")), revision_of(tablet, first)
    become_new_device(tablet.vault.settings, lambda: named_id("restored"))
    pair(clinic, tablet)
    contents = Contents((old_record, tablet.sign(revised)))
    assert outcomes(clinic.receive(old)) == [Outcome.STORED]
    received = clinic.receive(tablet.seal(clinic, contents))
    assert outcomes(received) == [Outcome.STORED, Outcome.REVISION]
    assert read_kept(clinic.vault, small_exam("unsent").exam_id) is not None


async def test_a_key_that_nobody_vouches_for_is_no_former_key(places):
    clinic, tablet, other = places
    own = Exchange(other.vault).own_device()
    vouched = named_bytes("no signature", 32) * 2
    theirs = FormerKey(own.device_id, own.signing_key, vouched, own.agreement_key)
    Exchange(clinic.vault).pairing.put_device(replace(own, state="words shown"))
    pair(clinic, tablet, former=(theirs,))
    record = other.sign(small_exam("one"))
    received = clinic.receive(tablet.seal(clinic, Contents((record,))))
    assert outcomes(received) == [Outcome.REFUSED]


async def test_a_sender_that_claims_another_devices_name_is_refused(places):
    clinic, tablet, other = places
    sealed = tablet.seal_exams(clinic, small_exam("one"), sender_id=other.device_id)
    with pytest.raises(BadManifestError):
        clinic.receive(sealed)


async def test_missing_numbers_are_listed_until_they_come_or_are_given_up(places):
    clinic, tablet, _ = places
    for number in (2, 5, 900_000):
        sealed = tablet.seal_exams(clinic, small_exam(f"{number}"), sequence=number)
        received = clinic.receive(sealed)
    assert received.missing_sequences[:4] == (1, 3, 4, 6)
    assert len(received.missing_sequences) == 1_000
    Exchange(clinic.vault).incoming.give_up(tablet.device_id, 1, "Dr Ondine", 0)
    received = clinic.receive(tablet.seal_exams(clinic, small_exam("3"), sequence=3))
    assert received.missing_sequences[:2] == (4, 6)


async def test_a_number_used_twice_is_said(places):
    clinic, tablet, _ = places
    assert not clinic.receive(
        tablet.seal_exams(clinic, small_exam("1"))
    ).is_number_reused
    assert clinic.receive(tablet.seal_exams(clinic, small_exam("2"))).is_number_reused


async def test_how_far_the_devices_clock_is_off_is_kept(places):
    clinic, tablet, _ = places
    ahead = replace(NOW, utc_ms=LATER.utc_ms + 120_000)
    received = clinic.receive(tablet.seal_exams(clinic, small_exam("1"), made=ahead))
    assert received.skew_ms == 120_000
    (row,) = Exchange(clinic.vault).incoming.latest(1)
    assert row.skew_ms == 120_000


@pytest.mark.exhaustive
async def test_no_flipped_bit_or_truncation_of_a_bundle_is_imported(places):
    clinic, tablet, _ = places
    sealed = tablet.seal_exams(clinic, small_exam("one"))
    tried = 0
    for place in range(len(sealed)):
        for bit in range(8):
            flipped = bytearray(sealed)
            flipped[place] ^= 1 << bit
            with pytest.raises(SyncError):
                clinic.receive(bytes(flipped))
            tried += 1
        with pytest.raises(SyncError):
            clinic.receive(sealed[:place])
        tried += 1
    assert clinic.hashes() == []
    assert Exchange(clinic.vault).quarantine.all() == []
    print(f"{tried} changed bundles, 0 imported")


async def test_a_sample_of_flipped_bits_and_truncations_is_not_imported(places):
    clinic, tablet, _ = places
    sealed = tablet.seal_exams(clinic, small_exam("one"))
    for place in range(0, len(sealed), 23):
        flipped = bytearray(sealed)
        flipped[place] ^= 1 << place % 8
        for changed in (bytes(flipped), sealed[:place]):
            with pytest.raises(SyncError):
                clinic.receive(changed)
    assert clinic.hashes() == []


async def test_a_protocol_with_faults_is_not_kept_and_harms_nothing(places):
    clinic, tablet, _ = places
    record = tablet.sign(small_exam("one"))
    contents = Contents((record,), (), (), (b"no protocol at all",))
    assert outcomes(clinic.receive(tablet.seal(clinic, contents))) == [Outcome.STORED]
    assert clinic.vault.protocols.get(door.sha256(b"no protocol at all").hex()) is None


async def test_a_record_whose_protocol_is_missing_waits_for_it(places):
    clinic, tablet, _ = places
    own = own_protocol()
    exam = replace(small_exam("one"), protocol_hash=own.content_hash)
    record = close_and_sign(exam, own.protocol, tablet.seed, None, bytes(32)).signed
    first = clinic.receive(tablet.seal(clinic, Contents((record,))))
    assert outcomes(first) == [Outcome.QUARANTINED]
    contents = Contents((), (), (), (own.content,))
    clinic.receive(tablet.seal(clinic, contents, sequence=2))
    assert clinic.hashes() == [door.sha256(record).hex()]
    assert clinic.vault.protocols.get(own.content_hash) == own.content
    assert read_kept(clinic.vault, exam.exam_id).exam == exam


def own_protocol():
    """The dog's protocol as a practice might have changed it: another label."""
    changed = DOG.content.replace(b'"label":"Dog"', b'"label":"Dog of ours"', 1)
    assert changed != DOG.content
    return load_content(changed)


async def test_erased_owner_details_do_not_come_back_and_go_with_their_forks(places):
    clinic, tablet, _ = places
    owner, salt = Owner("Ada Invented", "555 0199"), named_bytes("salt")
    first = small_exam("one")
    fork = replace(first, remark="another first record")
    records = tuple(tablet.sign(exam, owner, salt) for exam in (first, fork))
    parts = tuple(
        OwnerPart(door.sha256(record).hex(), salt, owner_block(owner))
        for record in records
    )
    contents = Contents(records, (), parts)
    clinic.receive(tablet.seal(clinic, contents))
    forked = f"{first.exam_id}:{door.sha256(records[1]).hex()}"
    assert clinic.vault.owners.get(forked) is not None
    clinic.vault.owners.erase(first.exam_id)
    clinic.receive(tablet.seal(clinic, contents, sequence=2))
    assert clinic.vault.owners.get(first.exam_id) is None
    assert clinic.vault.owners.get(forked) is None


@pytest.mark.parametrize("number", [0, 10**9 + 1])
async def test_a_number_no_device_reaches_is_refused(places, number):
    clinic, tablet, _ = places
    with pytest.raises(SyncError):
        clinic.receive(tablet.seal_exams(clinic, small_exam("1"), sequence=number))
    assert clinic.hashes() == []


async def test_a_device_cannot_send_a_day_pack_to_the_clinic(places):
    clinic, tablet, _ = places
    sealed = seal_bundle(
        BundleKind.DAY_PACK,
        Contents((tablet.sign(small_exam("one")),)),
        sequence=1,
        made=NOW,
        sender_id=tablet.device_id,
        seed=tablet.seed,
        recipient_key=agreement_key(clinic.vault),
        is_demo=True,
        random=door.random_bytes,
    ).sealed
    with pytest.raises(NotABundleError):
        clinic.receive(sealed)
    assert clinic.hashes() == []

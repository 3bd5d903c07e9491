"""A bundle is packed closer only for somebody who is known to read that."""

import pytest

from exam_app.app.exam_sessions import open_exam
from exam_app.app.queries.kept_records import read_kept
from exam_app.crypto import door
from exam_app.exchange.day_pack import take_day_pack
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outbox import take_receipt
from exam_app.exchange.returns import make_day_pack
from exam_app.record.ids_within import is_id_within
from sync.bundle.packing import NEWEST_PACKING
from sync.bundle.sealing import unseal
from sync.errors import NotABundleError
from sync.receipts import sign_receipt
from sync.trust.cards import read_clinic_card
from tests.clinic_and_device import opened_both, prepare_both, sealed_by
from tests.handover_places import LATER, paired_places, small_exam
from tests.sync_tiny import NOW, VECTORS

OLD_DICTIONARIES, NEW_DICTIONARIES = (0, 1, 2), (3,)


@pytest.fixture
async def places(tmp_path, each_store):
    """A clinic and a device that were paired by an earlier version."""
    async with paired_places(tmp_path, register=each_store) as opened:
        yield opened


def first_byte(sealed, place):
    return unseal(sealed, place.vault.settings.get("agreement_key")).plain[0]


def handed_over(device, clinic, name):
    exam_id = device.close_exam(small_exam(name))
    (sealed,) = device.hand_over(exam_id)
    return sealed.sealed, first_byte(sealed.sealed, clinic)


def test_clinic_of_which_nothing_is_known_is_sent_the_oldest_packing(places):
    clinic, device = places
    assert device.exchange.pairing.clinic().packing is None
    sealed, first = handed_over(device, clinic, "one")
    assert first in OLD_DICTIONARIES
    assert clinic.receive(sealed).receipt_code


def test_receipt_says_what_the_clinic_reads_and_the_next_bundle_is_packed_so(places):
    clinic, device = places
    sealed, _ = handed_over(device, clinic, "one")
    received = clinic.receive(sealed)
    assert take_receipt(device.exchange, received.receipt).packing == NEWEST_PACKING
    assert device.exchange.pairing.clinic().packing == NEWEST_PACKING
    sealed, first = handed_over(device, clinic, "two")
    assert first in NEW_DICTIONARIES
    assert clinic.receive(sealed).receipt_code


def test_receipt_of_an_earlier_version_changes_nothing(places):
    clinic, device = places
    sealed, _ = handed_over(device, clinic, "one")
    view = clinic.receive(sealed).receipt_view
    assert view.packing == NEWEST_PACKING
    older = type(view)(
        **{name: getattr(view, name) for name in view.__slots__ if name != "packing"}
    )
    take_receipt(device.exchange, sign_receipt(older, clinic.seed))
    assert device.exchange.pairing.clinic().packing is None
    _, first = handed_over(device, clinic, "two")
    assert first in OLD_DICTIONARIES


def test_clinic_learns_from_a_bundle_what_the_device_reads(places):
    clinic, device = places
    pack = make_day_pack(
        clinic.exchange, device.device_id, (), LATER, door.random_bytes
    )
    assert first_byte(pack.sealed, device) in OLD_DICTIONARIES
    sealed, _ = handed_over(device, clinic, "one")
    clinic.receive(sealed)
    kept = clinic.exchange.pairing.device(device.device_id)
    assert kept.packing == NEWEST_PACKING
    pack = make_day_pack(
        clinic.exchange, device.device_id, (), LATER, door.random_bytes
    )
    assert first_byte(pack.sealed, device) in NEW_DICTIONARIES
    take_day_pack(device.exchange, pack.sealed, LATER)
    assert device.exchange.pairing.clinic().packing == NEWEST_PACKING


def test_device_learns_from_a_day_pack_what_the_clinic_reads(places):
    clinic, device = places
    pack = make_day_pack(
        clinic.exchange, device.device_id, (), LATER, door.random_bytes
    )
    take_day_pack(device.exchange, pack.sealed, LATER)
    _, first = handed_over(device, clinic, "one")
    assert first in NEW_DICTIONARIES


def test_refused_bundle_tells_nothing_of_its_sender(places):
    clinic, device = places
    sealed, _ = handed_over(device, clinic, "one")
    with pytest.raises(NotABundleError):
        clinic.receive(sealed[:-1] + bytes([sealed[-1] ^ 1]))
    assert clinic.exchange.pairing.device(device.device_id).packing is None


@pytest.mark.slow
async def test_both_learn_it_when_they_are_paired(tmp_path):
    await prepare_both(tmp_path / "prepared")
    async with opened_both(tmp_path / "prepared", tmp_path / "now") as (clinic, device):
        assert Exchange(device.vault).pairing.clinic().packing == NEWEST_PACKING
        (known,) = Exchange(clinic.vault).pairing.trusted()
        assert known.packing == NEWEST_PACKING
        private = clinic.vault.settings.get("agreement_key")
        for sealed in sealed_by(device.vault):
            assert unseal(sealed, private).plain[0] in NEW_DICTIONARIES


@pytest.mark.slow
async def test_app_makes_the_ids_inside_an_exam_within_it(tmp_path):
    await prepare_both(tmp_path / "prepared")
    async with opened_both(tmp_path / "prepared", tmp_path / "now") as (_, device):
        vault, count = device.vault, 0
        for row in vault.closed.everything():
            exam = read_kept(vault, row.exam_id).exam
            earlier = {one.finding_id for one in exam.earlier}
            found = [one for entry in exam.regions.values() for one in entry.findings]
            ids = [one.finding_id for one in found if one.finding_id not in earlier]
            exam_id = bytes.fromhex(exam.exam_id)
            assert all(is_id_within(exam_id, bytes.fromhex(one)) for one in ids)
            count += len(ids)
        assert count > 5
        row = vault.drafts.open()[0]
        editor = await open_exam(device, row.exam_id)
        made = bytes.fromhex(editor.new_id())
        assert is_id_within(bytes.fromhex(row.exam_id), made)


def test_card_of_an_earlier_version_says_the_oldest():
    spelled = (VECTORS / "good_clinic_card_2.hex").read_text("utf-8")
    card = bytes.fromhex(spelled.partition("\n\n")[2])
    assert read_clinic_card(card, NOW).packing == 1

"""What a device says while it is paired with its clinic, without a screen."""

from dataclasses import replace

from exam_app.app.handover import pairing_device as pairing
from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.record.lineage import OwnKeys
from exam_app.store.vault.restore import become_new_device
from exam_app.ui.widgets.code_in import texts_of
from sync.trust.cards import as_text
from sync.trust.pairing import accept, answer, offer, pairing_words
from tests.handover_places import CHEAP, NOW, named_bytes, named_id, paired_places

CLINIC = OwnKeys(
    named_id("clinic"),
    "Invented clinic",
    named_bytes("seed"),
    named_bytes("agreement"),
    is_demo=True,
    phone="555 0123",
)


def test_the_minutes_left_are_said_until_the_card_has_run_out():
    expires = NOW.utc_ms + 600_000
    assert "10 more min" in pairing.minutes_left(expires, NOW)
    last = Moment(expires - 1)
    assert "less than a minute" in pairing.minutes_left(expires, last)
    assert "has run out" in pairing.minutes_left(expires, Moment(expires))


def test_a_device_needs_a_name_that_the_clinic_can_call_it():
    assert pairing.name_problem("  ")
    assert not pairing.name_problem("Van 2")


async def test_both_sides_get_the_same_six_words_and_the_confirmed_clinic_is_kept(
    tmp_path,
):
    async with paired_places(tmp_path) as (_, tablet):
        offered = offer(CLINIC, NOW, door.random_bytes)
        keys = pairing.device_keys(tablet.vault, "Van 2")
        given = answer(offered.card, keys, NOW, door.random_bytes)
        opened = accept(given.sealed, offered, CLINIC.agreement_private, NOW)
        words = await pairing_words(given.cards, CHEAP)
        assert await pairing_words(opened.cards, CHEAP) == words
        assert len(set(words)) > 1
        kept = pairing.clinic_of(given.clinic)
        Exchange(tablet.vault).pairing.put_clinic(kept)
        said = pairing.clinic_words(tablet.vault)
        assert said.startswith("Invented clinic · 555 0123 · key ")


async def test_a_restored_device_names_the_keys_it_had(tmp_path):
    async with paired_places(tmp_path) as (_, tablet):
        before = Exchange(tablet.vault).own_device().signing_key
        become_new_device(tablet.vault.settings, lambda: named_id("new"))
        keys = pairing.device_keys(tablet.vault, "Van 2")
        assert [former.signing_key for former in keys.former] == [before]
        assert keys.own_id == named_id("new")


async def test_without_a_confirmed_clinic_nothing_is_said_of_one(tmp_path):
    async with paired_places(tmp_path) as (_, tablet):
        clinic = Exchange(tablet.vault).pairing.clinic()
        shown = replace(clinic, state="words shown")
        Exchange(tablet.vault).pairing.put_clinic(shown)
        assert pairing.clinic_words(tablet.vault) == ""


async def test_a_text_file_is_read_as_text_and_a_sealed_file_is_not():
    text = as_text(b"a card")
    assert await texts_of("card.txt", text.encode()) == (text,)
    assert await texts_of("device.exam-card", b"\xd2\x84\xff") == ()

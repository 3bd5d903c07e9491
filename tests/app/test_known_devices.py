"""A second pairing: what a card may claim of a device that is known already.

The attacker holds a card's worth of keys of its own, knows every id and public key,
and gets a person to compare six honest words.
"""

import itertools

import pytest

from exam_app.app.clinic import pairing as clinic_pairing
from exam_app.app.handover.pairing_device import (
    check_known_clinic,
    clinic_of,
    device_keys,
)
from exam_app.app.view import clinic_pairing_presenter as words_of
from exam_app.crypto import door
from exam_app.exchange.exchange import Exchange
from exam_app.record.lineage import SUCCESSOR, OwnKeys
from exam_app.store.vault.restore import become_new_device
from sync.errors import KnownDeviceKeyError, RevokedPairingError
from sync.trust.cards import DeviceCard, FormerKey, read_clinic_card
from sync.trust.pairing import answer, check_claims, offer
from tests.handover_places import (
    CHEAP,
    LATER,
    NOW,
    named_bytes,
    named_id,
    paired_places,
    small_exam,
)

BY = "Dr Ondine"


@pytest.fixture
async def places(tmp_path):
    async with paired_places(tmp_path) as opened:
        yield opened


def stranger(device_id, former=()):
    """Keys of the attacker's own under any id."""
    seed, private = named_bytes("stranger"), named_bytes("stranger agreement")
    return OwnKeys(device_id, "Tablet one", seed, private, True, former=former)


async def present(clinic, keys, at=NOW):
    """Give the answer of these keys to a fresh card of the clinic."""
    offered = clinic_pairing.new_offer(clinic.vault, at)
    given = answer(offered.card, keys, at, door.random_bytes)
    clinic_pairing.take_answer(clinic.vault, given.sealed, at)
    await clinic_pairing.find_words(clinic.vault, CHEAP)
    return clinic_pairing.waiting(clinic.vault)


def own_keys(place):
    return device_keys(place.vault, place.name)


def vouch(device_id, seed, private, for_keys):
    """A former key that vouches for the keys of a card."""
    signing = door.signing_public_key(for_keys.signing_seed)
    agreement = door.agreement_public_key(for_keys.agreement_private)
    return FormerKey(
        device_id,
        door.signing_public_key(seed),
        door.sign(seed, SUCCESSOR + signing + agreement),
        door.agreement_public_key(private),
    )


def kept_of(clinic, place):
    return Exchange(clinic.vault).pairing.device(place.device_id)


async def test_known_device_id_with_other_keys_is_refused_and_changes_nothing(places):
    clinic, tablet = places
    before = kept_of(clinic, tablet)
    with pytest.raises(KnownDeviceKeyError):
        await present(clinic, stranger(tablet.device_id))
    assert clinic_pairing.waiting(clinic.vault) is None
    assert clinic_pairing.trust(clinic.vault, NOW, BY) == ""
    assert kept_of(clinic, tablet) == before
    assert clinic_pairing.open_offer(clinic.vault, NOW) is None
    exam_id = tablet.close_exam(small_exam("one"))
    assert clinic.receive(tablet.hand_over(exam_id)[0].sealed).receipt_code


async def test_known_device_id_with_keys_its_former_key_vouches_for_is_paired(places):
    clinic, tablet = places
    fresh = stranger(tablet.device_id)
    private = tablet.vault.settings.get("agreement_key")
    former = vouch(tablet.device_id, tablet.seed, private, fresh)
    waiting = await present(clinic, stranger(tablet.device_id, (former,)))
    assert waiting.is_known
    clinic_pairing.trust(clinic.vault, NOW, BY)
    kept = kept_of(clinic, tablet)
    assert kept.former[0].signing_key == former.signing_key


async def test_former_key_that_borrows_a_known_id_is_refused(places):
    # Its own former key vouches for it, under the id of somebody else's device: the
    # clinic would take its bundles as that device's, and use up that device's numbers.
    clinic, tablet = places
    new = stranger(named_id("new"))
    seed, private = named_bytes("older stranger"), named_bytes("older agreement")
    borrowed = vouch(tablet.device_id, seed, private, new)
    with pytest.raises(KnownDeviceKeyError):
        await present(clinic, stranger(named_id("new"), (borrowed,)))


async def test_revoked_device_is_not_paired_under_another_id_with_its_key(places):
    clinic, tablet = places
    Exchange(clinic.vault).pairing.revoke_device(tablet.device_id, 0, 1, BY)
    keys = own_keys(tablet)
    for other_id in (named_id("another"), clinic.device_id):
        renamed = OwnKeys(
            other_id, "Tablet two", keys.signing_seed, keys.agreement_private, True
        )
        with pytest.raises(KnownDeviceKeyError):
            await present(clinic, renamed)


async def test_restored_device_is_paired_and_so_is_a_second_one_from_that_backup(
    places,
):
    clinic, tablet = places
    backup = {
        name: tablet.vault.settings.get(name)
        for name in ("device_id", "signing_key", "agreement_key")
    }
    for turn in ("first", "second"):
        for name, value in backup.items():
            tablet.vault.settings.put(name, value)
        tablet.vault.settings.put("former_keys", [])
        become_new_device(tablet.vault.settings, lambda turn=turn: named_id(turn))
        assert (await present(clinic, own_keys(tablet))).is_known
        assert clinic_pairing.trust(clinic.vault, NOW, BY) == tablet.name
    assert len(Exchange(clinic.vault).pairing.trusted()) == 3


async def test_pairing_again_never_clears_a_revocation_unasked(places):
    clinic, tablet = places
    Exchange(clinic.vault).pairing.revoke_device(tablet.device_id, 5, NOW.utc_ms, BY)
    waiting = await present(clinic, own_keys(tablet))
    (revoked,) = waiting.revoked
    assert "trusted no more on 2026" in words_of.revoked_words(revoked)
    assert f"by {BY}; bundle 5 was its last good one" in words_of.revoked_words(revoked)
    with pytest.raises(RevokedPairingError):
        clinic_pairing.trust(clinic.vault, LATER, "Ilse")
    assert kept_of(clinic, tablet).state == "revoked"
    assert clinic_pairing.waiting(clinic.vault) == waiting
    clinic_pairing.distrust(clinic.vault)
    assert kept_of(clinic, tablet).revoked_after == 5


async def test_revocation_that_a_person_ended_stays_written_down(places):
    clinic, tablet = places
    pairing = Exchange(clinic.vault).pairing
    for turn in (1, 2):
        pairing.revoke_device(tablet.device_id, turn, NOW.utc_ms, f"Dr {turn}")
        await present(clinic, own_keys(tablet))
        clinic_pairing.trust(clinic.vault, LATER, "Ilse", again=True)
    kept = kept_of(clinic, tablet)
    assert kept.state == "paired"
    assert kept.revoked_after is None
    assert [past.revoked_by for past in kept.before] == ["Dr 1", "Dr 2"]
    told = "\n".join(words_of.device_details(kept))
    assert "trusted no more" in told
    assert "Paired again" in told
    assert "by Ilse" in told
    exam_id = tablet.close_exam(small_exam("one"))
    assert clinic.receive(tablet.hand_over(exam_id)[0].sealed).receipt_code


async def test_device_restored_from_a_revoked_one_is_asked_about_too(places):
    clinic, tablet = places
    before = tablet.device_id
    Exchange(clinic.vault).pairing.revoke_device(before, 0, NOW.utc_ms, BY)
    become_new_device(tablet.vault.settings, lambda: named_id("new"))
    assert [d.device_id for d in (await present(clinic, own_keys(tablet))).revoked] == [
        before
    ]
    with pytest.raises(RevokedPairingError):
        clinic_pairing.trust(clinic.vault, LATER, BY)
    clinic_pairing.trust(clinic.vault, LATER, BY, again=True)
    # The former device stays revoked: whoever has it signs with the former key.
    assert Exchange(clinic.vault).pairing.device(before).state == "revoked"


async def test_second_device_of_the_same_name_is_pointed_out(places):
    clinic, _ = places
    assert (await present(clinic, stranger(named_id("new")))).has_namesake
    quiet = OwnKeys(
        named_id("q"), "Van\u202e 9", named_bytes("q"), bytes(31) + b"\1", True
    )
    waiting = await present(clinic, quiet)
    assert (waiting.name, waiting.has_namesake) == ("Van\\u{202e} 9", False)


async def test_clinics_card_with_the_known_id_and_other_keys_is_refused(places):
    clinic, tablet = places
    own = Exchange(clinic.vault).own_identity()
    false_keys = (named_bytes("x"), named_bytes("y"))
    same_id = OwnKeys(own.own_id, own.name, *false_keys, True)
    same_key = OwnKeys(
        named_id("z"), own.name, own.signing_seed, own.agreement_private, True
    )
    other = OwnKeys(named_id("other"), own.name, *false_keys, True)
    for keys, is_refused in (
        (own, False),
        (other, False),
        (same_id, True),
        (same_key, True),
    ):
        card = read_clinic_card(offer(keys, NOW, door.random_bytes).card, NOW)
        if is_refused:
            with pytest.raises(KnownDeviceKeyError):
                check_known_clinic(tablet.vault, card)
        else:
            check_known_clinic(tablet.vault, card)
    kept = Exchange(tablet.vault).pairing.clinic()
    assert kept.signing_key == door.signing_public_key(own.signing_seed)
    assert clinic_of(card).state == "paired"


def card_of(claims):
    """A card whose former keys vouched: that is checked before claims are."""
    (own_id, own_key), *former = claims
    kept = tuple(FormerKey(device_id, key, b"") for device_id, key in former)
    return DeviceCard(own_id, "", own_key, bytes(32), b"", b"", b"", kept, True)


def test_card_of_two_claims_passes_only_when_it_borrows_neither_id_nor_key():
    ids, keys = ("1" * 32, "2" * 32), (b"1" * 32, b"2" * 32)
    pairs = list(itertools.product(ids, keys))
    cards = [(one,) for one in pairs] + list(itertools.product(pairs, pairs))
    tries = got_in = 0
    for known, claims in itertools.product(pairs, cards):
        is_own = known in claims
        borrows_id = not is_own and any(i == known[0] for i, _ in claims)
        borrows_key = any(i != known[0] and k == known[1] for i, k in claims)
        tries += 1
        try:
            check_claims(card_of(claims), [known])
        except KnownDeviceKeyError:
            assert borrows_id or borrows_key
        else:
            assert (borrows_id, borrows_key) == (False, False)
            got_in += 1
    # For each known pair the eight cards that name it, or nothing of it.
    assert (tries, got_in) == (80, 32)

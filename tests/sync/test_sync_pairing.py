"""Pairing: what is shown, what is answered, and what a person in the middle can do."""

import random
from dataclasses import replace

import pytest

from exam_app.crypto import door
from exam_app.crypto.door import KeyDerivation
from exam_app.domain.moments import Moment
from exam_app.record.cbor_form import decode, encode
from exam_app.record.cose import Kind, open_record, sign_record
from exam_app.record.lineage import SUCCESSOR, OwnKeys
from sync.bundle.sealing import unseal
from sync.errors import (
    BundleNotMadeError,
    BundleTooNewError,
    CardError,
    CardExpiredError,
    CardSubstitutedError,
    DemoRefusedError,
    NotACardError,
    OlderCardError,
    WrongRecipientError,
)
from sync.trust.cards import (
    FormerKey,
    as_text,
    from_text,
    read_clinic_card,
    read_device_card,
    seal_device_card,
    write_clinic_card,
    write_device_card,
)
from sync.trust.pairing import accept, answer, offer, pairing_words
from sync.trust.words import (
    WORD_COUNT,
    WORDS,
    WORDS_DERIVATION,
    slow_words_of,
    words_of,
)

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
NOW = Moment(1_764_061_200_000, 120)
CLINIC = OwnKeys(
    "c1" * 16, "Demo Clinic", b"\x11" * 32, b"\x12" * 32, True, "+00 000 0001"
)
OTHER_CLINIC = OwnKeys("c2" * 16, "Demo Clinic", b"\x21" * 32, b"\x22" * 32, True)
DEVICE = OwnKeys("d1" * 16, "Demo tablet 1", b"\x31" * 32, b"\x32" * 32, True)


def stream(seed=1):
    return random.Random(seed).randbytes


def after(minutes):
    return Moment(NOW.utc_ms + minutes * 60_000, NOW.offset_min)


@pytest.fixture
def offered():
    return offer(CLINIC, NOW, stream(1))


@pytest.fixture
def answered(offered):
    return answer(offered.card, DEVICE, after(1), stream(2))


async def words(cards):
    """The six words, for next to nothing."""
    return await pairing_words(cards, CHEAP)


def accepted(sealed, offered, minutes=2):
    return accept(sealed, offered, CLINIC.agreement_private, after(minutes))


async def test_both_screens_show_the_same_six_words_and_know_each_other(
    offered, answered
):
    opened = accepted(answered.sealed, offered)
    assert opened.cards == answered.cards
    assert len(await words(opened.cards)) == WORD_COUNT == 6
    assert opened.device.device_id == DEVICE.own_id
    assert opened.device.signing_key == door.signing_public_key(DEVICE.signing_seed)
    assert answered.clinic == offered.view
    assert answered.clinic.phone == "+00 000 0001"


def test_cards_fit_one_code_each(offered, answered):
    # A version 20 code of level M holds 970 alphanumeric characters (ISO/IEC 18004,
    # table 7, from memory).
    assert len(as_text(offered.card)) < 970
    assert len(as_text(answered.sealed)) < 970


def test_words_come_from_a_list_that_can_be_told_apart_when_read_aloud():
    assert len(WORDS) == 2048 == len({word[:4] for word in WORDS})
    assert list(WORDS) == sorted(WORDS)
    assert (WORDS[0], WORDS[2047]) == ("abandon", "zoo")


def test_words_of_older_cards_are_the_first_bits_of_the_hash_over_both_in_order():
    digest = door.sha256(
        b"exam-app pairing words v1" + door.sha256(b"a") + door.sha256(b"b")
    )
    bits = "".join(f"{byte:08b}" for byte in digest)
    expected = [WORDS[int(bits[place : place + 11], 2)] for place in range(0, 66, 11)]
    assert list(words_of(b"a", b"b")) == expected
    assert words_of(b"b", b"a") != words_of(b"a", b"b")


async def test_words_are_the_first_bits_of_a_slow_derivation_over_both_cards():
    salt = b"exam-app pairing words v2"
    both = door.sha256(b"a") + door.sha256(b"b")
    digest = await door.derive_key(both, salt, CHEAP)
    bits = "".join(f"{byte:08b}" for byte in digest)
    expected = [WORDS[int(bits[place : place + 11], 2)] for place in range(0, 66, 11)]
    assert list(await slow_words_of(b"a", b"b", CHEAP)) == expected
    assert await slow_words_of(b"b", b"a", CHEAP) != tuple(expected)


def test_words_cost_what_a_passphrase_costs():
    # RFC 9106's second recommended option: nobody tries many in ten minutes.
    costs = (WORDS_DERIVATION.memory_kib, WORDS_DERIVATION.passes)
    assert costs == (65_536, 3)
    assert pairing_words.__defaults__ == (WORDS_DERIVATION,)


async def test_two_answers_to_one_card_show_other_words(offered, answered):
    again = answer(offered.card, DEVICE, after(1), stream(3))
    assert await words(again.cards) != await words(answered.cards)


def test_card_that_asks_for_words_of_an_older_version_is_not_answered(offered):
    # Somebody in the middle leaves the mark out of a card of his own, so that both
    # screens find words that cost one hash a try.
    older = write_clinic_card(replace(offered.view, words_version=1), b"\x51" * 32)
    with pytest.raises(NotACardError):
        answer(older, DEVICE, after(1), stream())
    seed = b"\x51" * 32
    own = replace(
        offered.view, words_version=1, signing_key=door.signing_public_key(seed)
    )
    with pytest.raises(OlderCardError):
        answer(write_clinic_card(own, seed), DEVICE, after(1), stream())


def test_answer_with_words_of_an_older_version_is_refused(offered, answered):
    inside = read_device_card(answered.cards.device)
    older = write_device_card(replace(inside, words_version=1), DEVICE.signing_seed)
    with pytest.raises(OlderCardError):
        accepted(seal_device_card(older, offered.view, stream(7)), offered)


def test_card_with_words_of_a_later_version_is_refused_whole(offered):
    later = replace(offered.view, words_version=3)
    with pytest.raises(BundleTooNewError):
        answer(write_clinic_card(later, CLINIC.signing_seed), DEVICE, NOW, stream())


def test_two_cards_of_one_clinic_never_repeat_token_or_nonce():
    first, second = offer(CLINIC, NOW, stream(1)), offer(CLINIC, NOW, stream(2))
    assert first.view.token != second.view.token
    assert first.view.nonce != second.view.nonce


def test_device_draws_its_nonce_only_after_it_read_the_card(offered):
    drawn = []

    def watched(count):
        drawn.append(count)
        return bytes(count)

    with pytest.raises(NotACardError):
        answer(offered.card[:-1], DEVICE, after(1), watched)
    assert drawn == []


async def test_substituted_clinic_card_shows_other_words_and_is_refused(offered):
    # Somebody shows a card of their own under the clinic's name, opens the answer, and
    # answers the clinic's card with a device card of their own.
    forged = offer(replace(OTHER_CLINIC, name=CLINIC.name), NOW, stream(5))
    victim = answer(forged.card, DEVICE, after(1), stream(6))
    relayed = unseal(victim.sealed, OTHER_CLINIC.agreement_private).plain
    with pytest.raises(NotACardError):
        accepted(victim.sealed, offered)
    passed_on = seal_device_card(relayed, offered.view, stream(7))
    with pytest.raises(CardSubstitutedError):
        accepted(passed_on, offered)
    intruder = replace(DEVICE, signing_seed=b"\x41" * 32)
    own = answer(offered.card, intruder, after(1), stream(8))
    assert await words(accepted(own.sealed, offered).cards) != await words(victim.cards)


@pytest.mark.parametrize("change", ["token", "clinic_card_hash"])
def test_answer_needs_both_the_token_and_the_hash_of_the_card(
    offered, answered, change
):
    inside = read_device_card(unseal(answered.sealed, CLINIC.agreement_private).plain)
    wrong = replace(inside, **{change: bytes(len(getattr(inside, change)))})
    signed = write_device_card(wrong, DEVICE.signing_seed)
    with pytest.raises(CardSubstitutedError):
        accepted(seal_device_card(signed, offered.view, stream(7)), offered)


async def test_same_keys_on_a_card_with_another_nonce_show_other_words(
    offered, answered
):
    twin = offer(CLINIC, NOW, stream(9))
    other = answer(twin.card, DEVICE, after(1), stream(2))
    assert await words(other.cards) != await words(answered.cards)
    with pytest.raises(CardSubstitutedError):
        accepted(other.sealed, offered)


def test_card_is_good_for_ten_minutes_on_both_sides(offered, answered):
    read_clinic_card(offered.card, after(10))
    with pytest.raises(CardExpiredError):
        read_clinic_card(offered.card, Moment(NOW.utc_ms + 600_001))
    with pytest.raises(CardExpiredError):
        accepted(answered.sealed, offered, minutes=11)


def test_demo_and_real_places_are_never_paired(offered):
    with pytest.raises(DemoRefusedError):
        answer(offered.card, replace(DEVICE, is_demo=False), after(1), stream())


def test_answer_for_another_clinic_is_not_opened(answered):
    with pytest.raises(WrongRecipientError):
        unseal(answered.sealed, OTHER_CLINIC.agreement_private)


def test_name_longer_than_a_card_holds_is_refused():
    with pytest.raises(BundleNotMadeError):
        offer(replace(CLINIC, name="x" * 81), NOW, stream())


def test_clinic_card_and_device_card_never_stand_for_each_other(offered, answered):
    inside = unseal(answered.sealed, CLINIC.agreement_private).plain
    with pytest.raises(NotACardError):
        read_clinic_card(inside, NOW)
    with pytest.raises(NotACardError):
        answer(inside, DEVICE, NOW, stream())


def test_card_with_every_field_of_a_clinic_but_another_role_is_none(offered):
    public = door.signing_public_key(CLINIC.signing_seed)
    body = decode(open_record(offered.card, [public]).body)
    for role in (0, 2, 3):
        fields = body[1] | {1: role}
        other = sign_record(Kind.CARD, encode([1, fields]), CLINIC.signing_seed)
        with pytest.raises(NotACardError):
            read_clinic_card(other, NOW)


def test_text_of_a_card_survives_case_spaces_and_lines(offered):
    text = as_text(offered.card)
    broken = "\n".join(text[i : i + 60] for i in range(0, len(text), 60)).lower()
    assert from_text("  " + broken + "\r\n") == offered.card
    for wrong in (
        text[:-1],
        text.replace(text[40], "A" if text[40] != "A" else "B", 1),
    ):
        with pytest.raises(NotACardError):
            from_text(wrong)


def former_chain(length):
    """Keys of a device that was restored so many times, and its present keys."""
    keys = [(bytes([i]) * 32, bytes([i + 100]) * 32) for i in range(1, length + 2)]
    public = [
        (door.signing_public_key(signing), door.agreement_public_key(agreement))
        for signing, agreement in keys
    ]
    former = tuple(
        FormerKey(
            f"{i:032x}",
            public[i][0],
            door.sign(keys[i][0], SUCCESSOR + public[i + 1][0] + public[i + 1][1]),
            public[i][1],
        )
        for i in range(length)
    )
    return former, keys[-1]


@pytest.mark.parametrize("length", [1, 2, 8])
def test_former_keys_that_vouch_for_the_next_are_followed(offered, length):
    former, (signing, agreement) = former_chain(length)
    device = replace(
        DEVICE, signing_seed=signing, agreement_private=agreement, former=former
    )
    made = answer(offered.card, device, after(1), stream())
    assert accepted(made.sealed, offered).device.former == former


def test_former_key_that_vouches_for_somebody_else_is_refused(offered):
    former, _ = former_chain(2)
    for wrong in (former, former[::-1], former[:1]):
        made = answer(offered.card, replace(DEVICE, former=wrong), after(1), stream())
        with pytest.raises(NotACardError):
            accepted(made.sealed, offered)


def test_sampled_bit_flips_of_both_cards_are_refused(offered, answered):
    chance = random.Random(9180)
    for _ in range(150):
        place, bit = chance.randrange(len(answered.sealed)), 1 << chance.randrange(8)
        broken = bytearray(answered.sealed)
        broken[place] ^= bit
        with pytest.raises((CardError, BundleTooNewError)):
            accepted(bytes(broken), offered)
    for _ in range(150):
        broken = bytearray(offered.card)
        broken[chance.randrange(len(broken))] ^= 1 << chance.randrange(8)
        with pytest.raises(NotACardError):
            read_clinic_card(bytes(broken), NOW)


@pytest.mark.exhaustive
def test_every_bit_flip_and_cut_of_both_cards_is_refused(offered, answered):
    counts = {"flips": 0, "cuts": 0}
    for whole, read in (
        (answered.sealed, lambda broken: accepted(broken, offered)),
        (offered.card, lambda broken: read_clinic_card(broken, NOW)),
    ):
        for place in range(len(whole) * 8):
            broken = bytearray(whole)
            broken[place // 8] ^= 1 << place % 8
            with pytest.raises((CardError, BundleTooNewError)):
                read(bytes(broken))
            counts["flips"] += 1
        for length in range(len(whole)):
            with pytest.raises(CardError):
                read(whole[:length])
            counts["cuts"] += 1
    print(f"{counts} of both cards refused")


def substitutes(offered):
    """Cards that somebody in the middle could show in the place of the true one."""
    chance = random.Random(2048)
    for number in range(2_000):
        seed, private = chance.randbytes(32), chance.randbytes(32)
        yield (
            private,
            replace(
                offered.view,
                signing_key=door.signing_public_key(seed),
                agreement_key=door.agreement_public_key(private),
                nonce=chance.randbytes(32) if number % 2 else offered.view.nonce,
            ),
            seed,
        )


@pytest.mark.exhaustive
async def test_no_substituted_card_gives_the_true_words_or_is_taken(offered):
    true_words, same, refused = set(), 0, 0
    for private, card, seed in substitutes(offered):
        shown = write_clinic_card(card, seed)
        victim = answer(shown, DEVICE, after(1), stream(6))
        inside = unseal(victim.sealed, private).plain
        passed_on = seal_device_card(inside, offered.view, stream(7))
        with pytest.raises(CardSubstitutedError):
            accepted(passed_on, offered)
        refused += 1
        own = answer(offered.card, DEVICE, after(1), stream(refused))
        true_words.add(await words(own.cards))
        same += await words(victim.cards) in true_words
    print(f"{refused} substituted cards refused, {same} with true words")
    assert same == 0

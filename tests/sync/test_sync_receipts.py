"""Receipts: the code that is typed, and the one that is signed."""

import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.record.cose import Kind, sign_record
from sync.errors import (
    BundleTooNewError,
    MistypedReceiptCodeError,
    NotAReceiptError,
    ReceiptError,
    ReceiptForgedError,
    WrongReceiptCodeError,
)
from sync.receipts import (
    ALPHABET,
    Outcome,
    Receipt,
    ReceiptLine,
    check_character,
    check_code,
    normalise_code,
    read_receipt,
    receipt_code,
    sign_receipt,
)

SEED = b"\x11" * 32
CLINIC_KEY = door.signing_public_key(SEED)
SECRET = b"\x51" * 32
BUNDLE = "ab" * 32
HASHES = tuple(f"{i:02x}" * 32 for i in range(25))
RECEIPT = Receipt(
    "c1" * 16,
    "d1" * 16,
    BUNDLE,
    17,
    Moment(1_764_090_000_000, 120),
    tuple(ReceiptLine(record_hash, Outcome.STORED) for record_hash in HASHES),
    is_demo=True,
)


def known(bundle_hash):
    return HASHES if bundle_hash == BUNDLE else None


def read(signed):
    return read_receipt(signed, CLINIC_KEY, known)


def with_outcomes(*outcomes):
    lines = list(RECEIPT.lines)
    for place, outcome in outcomes:
        lines[place] = replace(lines[place], outcome=outcome)
    return replace(RECEIPT, lines=tuple(lines))


def test_code_is_eight_characters_that_only_the_opener_can_tell():
    code = receipt_code(SECRET, BUNDLE)
    assert len(code) == 9
    assert code[4] == "-"
    assert set(code) <= {*ALPHABET, "-"}
    assert code != receipt_code(b"\x52" * 32, BUNDLE)
    assert code != receipt_code(SECRET, "ac" * 32)


def test_code_is_an_hmac_through_hkdf_computed_apart():
    # RFC 5869 with an empty salt, written out with the standard library alone.
    import hmac

    key = hmac.digest(bytes(32), SECRET, "sha256")
    label = b"exam-app receipt code v1" + bytes.fromhex(BUNDLE)
    drawn = hmac.digest(key, label + b"\x01", "sha256")[:5]
    bits = f"{int.from_bytes(drawn, 'big'):040b}"
    letters = "".join(ALPHABET[int(bits[i : i + 5], 2)] for i in range(0, 35, 5))
    assert receipt_code(SECRET, BUNDLE).replace("-", "")[:7] == letters


def test_code_is_read_however_it_is_typed():
    code = receipt_code(SECRET, BUNDLE)
    slurred = code.lower().replace("0", "o").replace("1", "l").replace("-", "  ")
    assert normalise_code(slurred) == code
    assert normalise_code("\n" + code.replace("1", "I") + " ") == code


def test_zero_and_one_are_read_from_the_letters_that_look_like_them():
    letters = "01AB01C"
    code = letters + check_character(letters)
    assert normalise_code("OLab" + "oI" + code[6:]) == normalise_code(code)


def is_code(letters):
    try:
        normalise_code(letters)
    except MistypedReceiptCodeError:
        return False
    return True


def codes(count):
    chance = random.Random(32)
    for _ in range(count):
        letters = "".join(chance.choices(ALPHABET, k=7))
        yield letters + check_character(letters)


def slips(code):
    for place in range(8):
        for letter in ALPHABET:
            if letter != code[place]:
                yield code[:place] + letter + code[place + 1 :]
    for place in range(7):
        swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
        if swapped != code:
            yield swapped


def check_every_slip(count):
    seen = 0
    for code in codes(count):
        assert is_code(code)
        for slip in slips(code):
            assert not is_code(slip), (code, slip)
            seen += 1
    return seen


def test_every_wrong_character_and_every_swap_of_neighbours_is_noticed():
    assert check_every_slip(10) > 2_400


@pytest.mark.exhaustive
def test_every_slip_in_many_codes_is_noticed():
    seen = check_every_slip(1_000)
    print(f"{seen} wrong characters and swaps noticed, 0 missed")


def test_check_is_linear_so_that_all_slips_reduce_to_these():
    # The check of a sum is the sum of the checks, so a slip goes unnoticed only if its
    # difference alone has a zero check: all of them are tried.
    def check_of(values):
        return ALPHABET.index(check_character("".join(ALPHABET[v] for v in values)))

    chance = random.Random(5)
    for _ in range(200):
        a, b = ([chance.randrange(32) for _ in range(7)] for _ in range(2))
        both = [x ^ y for x, y in zip(a, b, strict=True)]
        assert check_of(both) == check_of(a) ^ check_of(b)
    for difference in range(1, 32):
        for place in range(7):
            wrong = [0] * 7
            wrong[place] = difference
            assert check_of(wrong) != 0
            if place < 6:
                wrong[place + 1] = difference
                assert check_of(wrong) != 0
        # The last letter swapped with the check itself.
        assert check_of([0] * 6 + [difference]) != difference


@pytest.mark.parametrize("typed", ["", "ABCD-EFG", "ABCD-EFGHJ", "ABCU-EFGH", "ßßßß"])
def test_what_cannot_be_a_code_costs_no_try(typed):
    with pytest.raises(MistypedReceiptCodeError) as refusal:
        check_code(typed, receipt_code(SECRET, BUNDLE), 2)
    assert refusal.value.tries_left == 3


def test_five_wrong_codes_and_no_more():
    right = receipt_code(SECRET, BUNDLE)
    wrong = next(code for code in codes(2) if code != right)
    for used in range(5):
        with pytest.raises(WrongReceiptCodeError) as refusal:
            check_code(wrong, right, used)
        assert refusal.value.tries_left == 4 - used
        assert not isinstance(refusal.value, MistypedReceiptCodeError)
        check_code(right.lower(), right, used)
    with pytest.raises(WrongReceiptCodeError):
        check_code(right, right, 5)


def test_signed_receipt_says_what_became_of_each_record():
    receipt = with_outcomes((3, Outcome.FORK), (24, Outcome.QUARANTINED))
    assert read(sign_receipt(receipt, SEED)) == receipt
    assert read(sign_receipt(RECEIPT, SEED)) == RECEIPT


@given(st.lists(st.sampled_from(Outcome), min_size=25, max_size=25))
def test_any_outcomes_read_back(outcomes):
    receipt = with_outcomes(*enumerate(outcomes))
    assert read(sign_receipt(receipt, SEED)) == receipt


def test_receipt_of_a_day_is_one_code():
    # Whatever the number of records, since the bundle's hash and the order name them.
    assert len(sign_receipt(RECEIPT, SEED)) <= 225
    assert len(sign_receipt(with_outcomes((3, Outcome.FORK)), SEED)) <= 230


def test_outcomes_keep_their_places_on_the_wire():
    words = ["stored", "had already", "revision", "fork", "quarantined", "refused"]
    assert [outcome.value for outcome in Outcome] == words


def test_receipt_of_another_clinic_is_forged():
    with pytest.raises(ReceiptForgedError):
        read(sign_receipt(RECEIPT, b"\x12" * 32))


def test_receipt_of_another_clinic_under_the_paired_one_s_key_id_is_forged():
    theirs, ours = sign_receipt(RECEIPT, b"\x12" * 32), sign_receipt(RECEIPT, SEED)
    with pytest.raises(ReceiptForgedError):
        read(ours[:-64] + theirs[-64:])


def test_other_signed_things_are_no_receipts():
    for kind in Kind:
        if kind is not Kind.RECEIPT:
            with pytest.raises(NotAReceiptError):
                read(sign_record(kind, b"\x82\x01\xa0", SEED))


def test_receipt_for_a_bundle_that_is_not_known_here_changes_nothing():
    for unknown in (
        replace(RECEIPT, bundle_hash="cd" * 32),
        replace(RECEIPT, lines=RECEIPT.lines[1:]),
    ):
        with pytest.raises(NotAReceiptError):
            read(sign_receipt(unknown, SEED))


@pytest.mark.parametrize(
    ("fields", "error"),
    [
        (b"\x82\x02\xa0", BundleTooNewError),
        (b"\x82\x00\xa0", NotAReceiptError),
        (b"\x82\x01\xa0", NotAReceiptError),
        (b"\x82\x01\x80", NotAReceiptError),
        (b"\x81\x01", NotAReceiptError),
        (b"", NotAReceiptError),
        (b"\xf6", NotAReceiptError),
    ],
)
def test_receipt_of_another_form_is_refused(fields, error):
    with pytest.raises(error):
        read(sign_record(Kind.RECEIPT, fields, SEED))


def test_signed_nonsense_never_escapes_as_another_error():
    from exam_app.record.cose import open_record

    signed = sign_receipt(with_outcomes((3, Outcome.FORK)), SEED)
    body = open_record(signed, [CLINIC_KEY]).body
    chance, refused = random.Random(8949), 0
    for _ in range(250):
        place = chance.randrange(len(body))
        changed = body[:place] + bytes([chance.randrange(256)]) + body[place + 1 :]
        try:
            read(sign_record(Kind.RECEIPT, changed, SEED))
        except (ReceiptError, BundleTooNewError):
            refused += 1
    assert refused > 50


def forgeries(signed):
    for place in range(len(signed) * 8):
        broken = bytearray(signed)
        broken[place // 8] ^= 1 << place % 8
        yield bytes(broken)
    for length in range(len(signed)):
        yield signed[:length]
        yield signed + signed[: length + 1]


def test_sampled_changes_of_a_signed_receipt_are_refused():
    for broken in random.Random(9052).sample(
        list(forgeries(sign_receipt(RECEIPT, SEED))), 300
    ):
        with pytest.raises(ReceiptError):
            read(broken)


@pytest.mark.exhaustive
def test_every_bit_flip_and_cut_of_a_signed_receipt_is_refused():
    count = 0
    for broken in forgeries(sign_receipt(RECEIPT, SEED)):
        with pytest.raises(ReceiptError):
            read(broken)
        count += 1
    print(f"{count} changed receipts refused")

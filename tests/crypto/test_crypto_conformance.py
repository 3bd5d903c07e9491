"""The door against published vectors; any implementation behind it must pass.

Where a vector was written down from memory it matched the implementation on the
first run, so memory and implementation agree; the source named is the publication.
"""

import hashlib

import pytest

from exam_app.crypto import door
from exam_app.crypto.curve_points import (
    FIELD_PRIME,
    GROUP_ORDER,
    SMALL_ORDER_U,
    SMALL_ORDER_Y,
)
from exam_app.crypto.door import (
    PRODUCTION_BOUNDS,
    DerivationBounds,
    KeyDerivation,
    check_bounds,
)
from exam_app.crypto.errors import BadKeyError, BadParametersError, WrongKeyError

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)


def h(text: str) -> bytes:
    return bytes.fromhex(text.replace(" ", ""))


# RFC 8032, section 7.1, tests 1 to 3: seed, public key, message, signature.
ED25519 = {
    "empty message": (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
        "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    "one byte": (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    "two bytes": (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
        "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
}


@pytest.mark.reference
@pytest.mark.parametrize("case", ED25519)
def test_signatures_are_those_of_rfc_8032(case):
    seed, public, message, signature = map(h, ED25519[case])
    assert door.signing_public_key(seed) == public
    assert door.sign(seed, message) == signature
    assert door.verify(public, signature, message)


def test_every_flipped_bit_of_a_signature_is_refused():
    _, public, message, signature = map(h, ED25519["two bytes"])
    for bit in range(512):
        changed = bytearray(signature)
        changed[bit // 8] ^= 1 << bit % 8
        assert not door.verify(public, bytes(changed), message)


def test_signature_of_another_message_or_length_is_refused():
    _, public, message, signature = map(h, ED25519["two bytes"])
    assert not door.verify(public, signature, message + b"\0")
    for wrong in (b"", signature[:63], signature + b"\0"):
        assert not door.verify(public, wrong, message)


def test_signature_with_the_group_order_added_is_refused():
    _, public, message, signature = map(h, ED25519["one byte"])
    scalar = int.from_bytes(signature[32:], "little") + GROUP_ORDER
    malleable = signature[:32] + scalar.to_bytes(32, "little")
    assert not door.verify(public, malleable, message)


def _edwards_add(p, q):
    d = -121665 * pow(121666, -1, FIELD_PRIME)
    x1, y1 = p
    x2, y2 = q
    product = d * x1 * x2 * y1 * y2
    x = (x1 * y2 + x2 * y1) * pow(1 + product, -1, FIELD_PRIME)
    y = (y1 * y2 + x1 * x2) * pow(1 - product, -1, FIELD_PRIME)
    return x % FIELD_PRIME, y % FIELD_PRIME


def _x_of(y):
    """The x coordinates on the curve for one y, by RFC 8032 section 5.1.3."""
    d = -121665 * pow(121666, -1, FIELD_PRIME)
    square = (y * y - 1) * pow(d * y * y + 1, -1, FIELD_PRIME) % FIELD_PRIME
    x = pow(square, (FIELD_PRIME + 3) // 8, FIELD_PRIME)
    if (x * x - square) % FIELD_PRIME:
        x = x * pow(2, (FIELD_PRIME - 1) // 4, FIELD_PRIME) % FIELD_PRIME
    assert (x * x - square) % FIELD_PRIME == 0
    return {x, -x % FIELD_PRIME}


def test_the_list_of_small_order_points_is_all_eight_of_them():
    # The curve's cofactor is eight (RFC 8032, section 5.1): eight points times
    # eight give the neutral point, and there are no others.
    points = {(x, y) for y in SMALL_ORDER_Y for x in _x_of(y)}
    assert len(points) == 8
    for point in points:
        doubled = point
        for _ in range(3):
            doubled = _edwards_add(doubled, doubled)
        assert doubled == (0, 1)
    montgomery = {
        (1 + y) * pow(1 - y, -1, FIELD_PRIME) % FIELD_PRIME
        for y in SMALL_ORDER_Y
        if y != 1
    }
    # u = -1 lies on the twist of the Montgomery curve and has order four there.
    assert montgomery | {FIELD_PRIME - 1} == set(SMALL_ORDER_U)
    for u in SMALL_ORDER_U:
        with pytest.raises(BadKeyError):
            door.primitives.agree(h(ALICE[0]), u.to_bytes(32, "little"))


@pytest.mark.parametrize("y", sorted(SMALL_ORDER_Y))
@pytest.mark.parametrize("sign_bit", [0, 1])
def test_signing_keys_of_small_order_are_refused(y, sign_bit):
    public = (y | sign_bit << 255).to_bytes(32, "little")
    with pytest.raises(BadKeyError):
        door.verify(public, bytes(64), b"any message")


@pytest.mark.parametrize("excess", range(19))
@pytest.mark.parametrize("sign_bit", [0, 1])
def test_signing_keys_above_the_prime_are_refused(excess, sign_bit):
    public = (FIELD_PRIME + excess | sign_bit << 255).to_bytes(32, "little")
    with pytest.raises(BadKeyError):
        door.verify(public, bytes(64), b"")


def test_signing_keys_that_name_no_point_are_refused():
    refused = 0
    for y in range(2, 42):
        try:
            door.verify(y.to_bytes(32, "little"), bytes(64), b"")
        except BadKeyError:
            refused += 1
            with pytest.raises(AssertionError):
                _x_of(y)
        else:
            assert _x_of(y)
    assert 10 < refused < 30


@pytest.mark.parametrize("length", [0, 31, 33])
def test_keys_of_another_length_are_refused(length):
    key = bytes(length)
    for refused in (
        lambda: door.verify(key, bytes(64), b""),
        lambda: door.sign(key, b""),
        lambda: door.signing_public_key(key),
        lambda: door.agreement_public_key(key),
        lambda: door.agree(key, h(ALICE[1])),
        lambda: door.agree(h(ALICE[0]), key),
    ):
        with pytest.raises(BadKeyError):
            refused()


# RFC 7748, section 6.1: private and public keys, and the secret they agree on.
ALICE = (
    "77076d0a7318a57d3c16c17251b26645df4c2f87ebc0992ab177fba51db92c2a",
    "8520f0098930a754748b7ddcb43ef75a0dbf3a0d26381af4eba4a98eaa9b4e6a",
)
BOB = (
    "5dab087e624a8a4b79e17f8b83800ee66f3bb1292618b6fd1c2f8b27ff88e0eb",
    "de9edb7d7b7dc1b4d35b61c2ece435373f8343c85b78674dadfc7e146f882b4f",
)
SHARED = "4a5d9d5ba4ce2de1728e3bf480350f25e07e21c947d19e3376f09b3c1e161742"


@pytest.mark.reference
def test_agreement_is_that_of_rfc_7748():
    assert door.agreement_public_key(h(ALICE[0])) == h(ALICE[1])
    assert door.agreement_public_key(h(BOB[0])) == h(BOB[1])
    assert door.agree(h(ALICE[0]), h(BOB[1])) == h(SHARED)
    assert door.agree(h(BOB[0]), h(ALICE[1])) == h(SHARED)


@pytest.mark.reference
def test_agreement_iterated_a_thousand_times_is_that_of_rfc_7748():
    # Section 5.2, iterated vector.
    private = public = (9).to_bytes(32, "little")
    for turn in range(1000):
        private, public = door.agree(private, public), private
        public = (int.from_bytes(public, "little") & (2**255 - 1)).to_bytes(
            32, "little"
        )
        if turn == 0:
            assert private == h(
                "422c8e7a6227d7bca1350b3e2bb7279f7897b87bb6854b783c60e80311ae3079"
            )
    assert private == h(
        "684cf59ba83309552800ef566f2f4d3c1c3887c49360e3875f2eb94d99532c51"
    )


@pytest.mark.reference
def test_agreement_key_with_its_top_bit_set_is_refused_though_rfc_7748_masks_it():
    # Section 5.2, second vector: the primitive masks, the door does not accept.
    private = h("4b66e9d4d1b4673c5ad22691957d6af5c11b6421e0ea01d42ca4169e7918ba0d")
    public = h("e5210f12786811d3f4b7959d0538ae2c31dbe7106fc03c3efc4cd549c715a493")
    expected = h("95cbde9476e8907d7aade45cb4b873f88b595a68799fa152e6f8f7647aac7957")
    assert door.primitives.agree(private, public) == expected
    with pytest.raises(BadKeyError):
        door.agree(private, public)
    masked = public[:31] + bytes([public[31] & 0x7F])
    assert door.agree(private, masked) == expected


@pytest.mark.parametrize("u", sorted(SMALL_ORDER_U))
def test_agreement_keys_of_small_order_are_refused(u):
    with pytest.raises(BadKeyError):
        door.agree(h(ALICE[0]), u.to_bytes(32, "little"))


@pytest.mark.parametrize("excess", range(19))
def test_agreement_keys_above_the_prime_are_refused(excess):
    with pytest.raises(BadKeyError):
        door.agree(h(ALICE[0]), (FIELD_PRIME + excess).to_bytes(32, "little"))


def test_an_implementation_that_returns_an_all_zero_secret_is_refused(monkeypatch):
    monkeypatch.setattr(door.primitives, "agree", lambda *_: bytes(32))
    with pytest.raises(BadKeyError):
        door.agree(h(ALICE[0]), h(BOB[1]))


# RFC 5869, appendix A.1 to A.3: secret, salt, info, output.
HKDF = {
    "basic": (
        "0b" * 22,
        "000102030405060708090a0b0c",
        "f0f1f2f3f4f5f6f7f8f9",
        "3cb25f25faacd57a90434f64d0362f2a2d2d0a90cf1a5a4c5db02d56ecc4c5bf"
        "34007208d5b887185865",
    ),
    "longer": (
        bytes(range(0x50)).hex(),
        bytes(range(0x60, 0xB0)).hex(),
        bytes(range(0xB0, 0x100)).hex(),
        "b11e398dc80327a1c8e7f78c596a49344f012eda2d4efad8a050cc4c19afa97c"
        "59045a99cac7827271cb41c65e590e09da3275600c2f09b8367793a9aca3db71"
        "cc30c58179ec3e87c14c01d5c1f3434f1d87",
    ),
    "no salt, no info": (
        "0b" * 22,
        "",
        "",
        "8da4e775a563c18f715f802a063c5a31b8a11f5c5ee1879ec3454e5f3c738d2d"
        "9d201395faa4b61a96c8",
    ),
}


@pytest.mark.reference
@pytest.mark.parametrize("case", HKDF)
def test_derived_bytes_are_those_of_rfc_5869(case):
    secret, salt, info, expected = map(h, HKDF[case])
    assert door.hkdf_sha256(secret, salt, info, len(expected)) == expected


@pytest.mark.parametrize("length", [0, -1, 8161])
def test_hkdf_refuses_lengths_it_cannot_give(length):
    with pytest.raises(BadParametersError):
        door.hkdf_sha256(b"secret", b"", b"", length)
    assert len(door.hkdf_sha256(b"secret", b"", b"", 8160)) == 8160


_KEY = "feffe9928665731c6d6a8f9467308308" * 2
_NONCE = "cafebabefacedbaddecaf888"
_PLAIN = (
    "d9313225f88406e5a55909c5aff5269a86a7a9531534f7da2e4c303d8a318a72"
    "1c3c0c95956809532fcf0e2449a6b525b16aedf5aa0de657ba637b391aafd255"
)
_CIPHER = (
    "522dc1f099567d07f47f37a32a84427d643a8cdcbfe5c0c97598a2bd2555d1aa"
    "8cb08e48590dbb3da7b08b1056828838c5f61e6393ba7a0abcc9f662898015ad"
)
# McGrew and Viega, The Galois/Counter Mode of Operation, appendix B, cases 13 to 16
# (also in NIST's submission): key, nonce, plain, associated, sealed.
GCM = {
    "13, all empty": (
        "00" * 32,
        "00" * 12,
        "",
        "",
        "530f8afbc74536b9a963b4f1c4cb738b",
    ),
    "14, one block": (
        "00" * 32,
        "00" * 12,
        "00" * 16,
        "",
        "cea7403d4d606b6e074ec5d3baf39d18d0d1c8a799996bf0265b98b5d48ab919",
    ),
    "15, four blocks": (
        _KEY,
        _NONCE,
        _PLAIN,
        "",
        _CIPHER + "b094dac5d93471bdec1a502270e3cc6c",
    ),
    "16, associated bytes": (
        _KEY,
        _NONCE,
        _PLAIN[:120],
        "feedfacedeadbeeffeedfacedeadbeefabaddad2",
        _CIPHER[:120] + "76fc6ece0f4e1768cddf8853bb2d551b",
    ),
}


@pytest.mark.reference
@pytest.mark.parametrize("case", GCM)
def test_sealed_bytes_are_those_of_the_gcm_paper(case):
    key, nonce, plain, associated, sealed = map(h, GCM[case])
    assert door.seal(key, nonce, plain, associated) == sealed
    assert door.unseal(key, nonce, sealed, associated) == plain


def test_every_flipped_bit_of_sealed_bytes_is_refused():
    key, nonce, _, associated, sealed = map(h, GCM["16, associated bytes"])
    for bit in range(8 * len(sealed)):
        changed = bytearray(sealed)
        changed[bit // 8] ^= 1 << bit % 8
        with pytest.raises(WrongKeyError):
            door.unseal(key, nonce, bytes(changed), associated)


def test_sealed_bytes_shorter_than_a_tag_are_refused_as_not_authentic():
    for length in range(16):
        with pytest.raises(WrongKeyError):
            door.unseal(bytes(32), bytes(12), bytes(length), b"")


@pytest.mark.parametrize(("key", "nonce"), [(16, 12), (31, 12), (32, 11), (32, 16)])
def test_sealing_refuses_other_lengths_of_key_and_nonce(key, nonce):
    with pytest.raises(BadParametersError):
        door.seal(bytes(key), bytes(nonce), b"", b"")
    with pytest.raises(BadParametersError):
        door.unseal(bytes(key), bytes(nonce), bytes(16), b"")


# phc-winner-argon2, src/test.c, Argon2id version 0x13: passes, log2 of KiB, output.
ARGON2ID = {
    "64 MiB": (
        2,
        65536,
        "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7",
    ),
    "256 KiB": (
        2,
        256,
        "9dfeb910e80bad0311fee20f9c0e2b12c17987b4cac90c2ef54d5b3021c68bfe",
    ),
}


@pytest.mark.reference
@pytest.mark.parametrize("case", ARGON2ID)
async def test_derived_keys_are_those_of_the_argon2_reference(case):
    passes, memory, expected = ARGON2ID[case]
    costs = KeyDerivation(memory_kib=memory, passes=passes, lanes=1)
    assert await door.derive_key(b"password", b"somesalt", costs) == h(expected)


@pytest.mark.reference
def test_the_argon2id_behind_the_door_is_that_of_rfc_9106():
    # Section 5.3 uses a secret and associated bytes, which the door does not offer.
    argon2 = pytest.importorskip("cryptography.hazmat.primitives.kdf.argon2")
    derivation = argon2.Argon2id(
        salt=b"\2" * 16,
        length=32,
        iterations=3,
        lanes=4,
        memory_cost=32,
        ad=b"\4" * 12,
        secret=b"\3" * 8,
    )
    assert derivation.derive(b"\1" * 32) == h(
        "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
    )


async def test_another_salt_or_another_cost_gives_another_key():
    keys = {
        await door.derive_key(b"p", b"s" * 16, CHEAP),
        await door.derive_key(b"p", b"t" * 16, CHEAP),
        await door.derive_key(b"q", b"s" * 16, CHEAP),
        await door.derive_key(b"p", b"s" * 16, KeyDerivation(64, 2, 1)),
        await door.derive_key(b"p", b"s" * 16, KeyDerivation(72, 1, 1)),
        await door.derive_key(b"", b"s" * 16, CHEAP),
    }
    assert len(keys) == 6


async def test_derivation_refuses_short_salts_and_impossible_costs():
    with pytest.raises(BadParametersError):
        await door.derive_key(b"p", b"7 bytes", CHEAP)
    for costs in (
        KeyDerivation(7, 1, 1),
        KeyDerivation(64, 0, 1),
        KeyDerivation(64, 1, 0),
        KeyDerivation(16, 1, 4),
        KeyDerivation(2**31, 1, 1),
    ):
        with pytest.raises(BadParametersError):
            await door.derive_key(b"p", b"s" * 16, costs)


def test_production_bounds_hold_the_default_and_refuse_anything_outside():
    check_bounds(KeyDerivation())
    check_bounds(PRODUCTION_BOUNDS.cheapest)
    check_bounds(PRODUCTION_BOUNDS.dearest)
    for costs in (
        CHEAP,
        KeyDerivation(19455, 2, 1),
        KeyDerivation(19456, 1, 1),
        KeyDerivation(262145, 3, 1),
        KeyDerivation(65536, 11, 1),
        KeyDerivation(65536, 3, 5),
    ):
        with pytest.raises(BadParametersError):
            check_bounds(costs)
    check_bounds(CHEAP, DerivationBounds(CHEAP, KeyDerivation()))


@pytest.mark.reference
def test_sha256_is_that_of_fips_180():
    # FIPS 180-2, appendix B.1, and the hash of nothing.
    assert door.sha256(b"abc") == h(
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
    assert door.sha256(b"") == hashlib.sha256(b"").digest()
    assert door.sha256_of([b"a", b"", b"bc"]) == door.sha256(b"abc")
    assert door.sha256_of([]) == door.sha256(b"")


def test_random_bytes_have_the_asked_length_and_do_not_repeat():
    assert [len(door.random_bytes(count)) for count in (0, 1, 17)] == [0, 1, 17]
    assert len({door.random_bytes(16) for _ in range(100)}) == 100
    assert len({door.new_signing_key(), door.new_agreement_key()}) == 2


def test_every_refusal_of_the_door_carries_advice():
    for error in (BadKeyError, BadParametersError, WrongKeyError):
        assert error.advice.count(".") >= 2

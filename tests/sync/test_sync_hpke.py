"""Sealing against the published vectors, and both ways against another library."""

import pytest
from cryptography.hazmat.primitives import hpke as theirs
from cryptography.hazmat.primitives.asymmetric.x25519 import (
    X25519PrivateKey,
    X25519PublicKey,
)
from hypothesis import given
from hypothesis import strategies as st

from exam_app.crypto import door
from exam_app.crypto.errors import BadKeyError, WrongKeyError
from sync.bundle import sealing

# The entry mode 0, kem 0x0020, kdf 0x0001, aead 0x0002 of test-vectors.json in
# github.com/cfrg/draft-irtf-cfrg-hpke, which RFC 9180, appendix A, points to; read in
# copies that three unrelated projects keep of it.
INFO = bytes.fromhex("4f6465206f6e2061204772656369616e2055726e")
RECIPIENT = bytes.fromhex(
    "497b4502664cfea5d5af0b39934dac72242a74f8480451e1aee7d6a53320333d"
)
RECIPIENT_PUBLIC = "430f4b9859665145a6b1ba274024487bd66f03a2dd577d7753c68d7d7d00c00c"
EPHEMERAL = bytes.fromhex(
    "179d4b53b6365c45b600c4163b61d95cbc2f4d9e36f1695558dce265ab8bab11"
)
ENCAPSULATED = "6c93e09869df3402d7bf231bf540fadd35cd56be14f97178f0954db94b7fc256"
KEY = "f50b0609186798729ed0564b36ef2ef8044f1f9d05636874d1f46c819c7a669f"
BASE_NONCE = "151d9929e2449747889bc923"
ASSOCIATED = bytes.fromhex("436f756e742d30")
PLAIN = bytes.fromhex("4265617574792069732074727574682c20747275746820626561757479")
SEALED = (
    "e5d84cd531cfb583096e7cfa9641bd3079cf3a91cda813c52deb5f512be9931980a41de125a925cd"
    "ad859d5b7a"
)
EXPORTS = {
    "": "ded6cffafaea6b812cbf3e241e88332adbc077aca81512914213810ee291770a",
    "00": "04d3cb6cc116b28ffd22ad5bc276c60d31fec71ceb87ae24db811c64b7507339",
    "54657374436f6e74657874": (
        "7c5ded445732c14fe09727d29b4251c0fd38455fe8440571e687f0886aac94d2"
    ),
}


def their_suite():
    return theirs.Suite(
        theirs.KEM.X25519, theirs.KDF.HKDF_SHA256, theirs.AEAD.AES_256_GCM
    )


def keys_of(context):
    return context.key, context.nonce


@pytest.mark.reference
def test_published_vector_is_sealed_byte_for_byte():
    public = bytes.fromhex(RECIPIENT_PUBLIC)
    encapsulated, context = sealing.sender_context(public, INFO, lambda _: EPHEMERAL)
    assert encapsulated.hex() == ENCAPSULATED
    assert [key.hex() for key in keys_of(context)] == [KEY, BASE_NONCE]
    assert door.seal(*keys_of(context), PLAIN, ASSOCIATED).hex() == SEALED


@pytest.mark.reference
def test_published_vector_opens():
    assert door.agreement_public_key(RECIPIENT).hex() == RECIPIENT_PUBLIC
    context = sealing.recipient_context(bytes.fromhex(ENCAPSULATED), RECIPIENT, INFO)
    assert door.unseal(*keys_of(context), bytes.fromhex(SEALED), ASSOCIATED) == PLAIN


@pytest.mark.reference
@pytest.mark.parametrize("label", EXPORTS)
def test_published_exports_come_out_on_both_sides(label):
    public = bytes.fromhex(RECIPIENT_PUBLIC)
    encapsulated, sending = sealing.sender_context(public, INFO, lambda _: EPHEMERAL)
    receiving = sealing.recipient_context(encapsulated, RECIPIENT, INFO)
    for context in (sending, receiving):
        assert sealing.export(context, bytes.fromhex(label)).hex() == EXPORTS[label]


@given(
    st.binary(max_size=200), st.binary(max_size=60), st.binary(min_size=32, max_size=32)
)
def test_other_library_opens_what_we_seal(plain, info, ephemeral):
    public = bytes.fromhex(RECIPIENT_PUBLIC)
    encapsulated, context = sealing.sender_context(public, info, lambda _: ephemeral)
    sealed = encapsulated + door.seal(*keys_of(context), plain, b"")
    key = X25519PrivateKey.from_private_bytes(RECIPIENT)
    assert their_suite().decrypt(sealed, key, info) == plain


@given(st.binary(max_size=200), st.binary(max_size=60))
def test_we_open_what_the_other_library_seals(plain, info):
    key = X25519PublicKey.from_public_bytes(bytes.fromhex(RECIPIENT_PUBLIC))
    sealed = their_suite().encrypt(plain, key, info)
    context = sealing.recipient_context(sealed[:32], RECIPIENT, info)
    assert door.unseal(*keys_of(context), sealed[32:], b"") == plain


def test_other_info_opens_nothing():
    context = sealing.recipient_context(
        bytes.fromhex(ENCAPSULATED), RECIPIENT, b"other"
    )
    with pytest.raises(WrongKeyError):
        door.unseal(*keys_of(context), bytes.fromhex(SEALED), ASSOCIATED)


@pytest.mark.parametrize("point", [bytes(32), b"\x01" + bytes(31), b"short"])
def test_keys_that_no_honest_side_makes_are_refused_both_ways(point):
    with pytest.raises(BadKeyError):
        sealing.recipient_context(point, RECIPIENT, INFO)
    with pytest.raises(BadKeyError):
        sealing.sender_context(point, INFO, lambda _: EPHEMERAL)

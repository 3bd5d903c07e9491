"""Signing and opening, against the COSE working group's example and another library."""

import json
from dataclasses import replace

import cbor2
import pytest
from cwt import COSE, COSEKey
from hypothesis import given
from hypothesis import strategies as st

from exam_app.crypto import door
from exam_app.record.cose import (
    ED25519,
    LARGEST_SIGNED,
    Kind,
    key_id_of,
    open_record,
    sign_record,
    signature_input,
)
from exam_app.record.errors import (
    BadSignatureError,
    NotARecordError,
    RecordTooLargeError,
    UnknownDeviceKeyError,
    WrongKindError,
)
from exam_app.record.records import close_and_sign, read_exam, read_note, sign_note
from tests.record_tiny import (
    EXAM,
    OTHER_PUBLIC_KEY,
    OWNER,
    PUBLIC_KEY,
    SALT,
    SEED,
    TINY,
    VECTORS,
    keep,
    note_about,
)


@pytest.fixture(scope="module")
def example():
    text = (VECTORS / "cose_wg_eddsa_sig_01.json").read_text("utf-8")
    return json.loads(text)


def other_library_key(*, is_private):
    key = {1: 1, 3: ED25519, -1: 6, -2: PUBLIC_KEY, 2: key_id_of(PUBLIC_KEY)}
    return COSEKey.new(key | ({-4: SEED} if is_private else {}))


@pytest.mark.reference
def test_working_group_signature_fits_what_we_say_is_signed(example):
    protected, _, body, signature = cbor2.loads(bytes.fromhex(example["cbor"])).value
    assert body == example["plaintext"].encode()
    signed = signature_input(protected, body)
    public = bytes.fromhex(example["public_key"])
    assert door.verify(public, signature, signed)
    assert door.sign(bytes.fromhex(example["seed"]), signed) == signature
    assert not door.verify(public, signature, signature_input(protected, body + b" "))


@pytest.mark.reference
def test_working_group_object_is_refused_as_a_record(example):
    with pytest.raises(NotARecordError):
        open_record(
            bytes.fromhex(example["cbor"]), [bytes.fromhex(example["public_key"])]
        )


@given(st.binary(max_size=400))
def test_other_library_opens_what_we_sign(body):
    signed = sign_record(Kind.EXAM, body, SEED)
    assert COSE.new().decode(signed, other_library_key(is_private=False)) == body


@given(st.binary(max_size=400))
def test_other_library_signs_the_same_bytes(body):
    header = {1: ED25519, 3: Kind.NOTE.value, 4: key_id_of(PUBLIC_KEY)}
    theirs = COSE.new().encode(
        body, other_library_key(is_private=True), protected=header
    )
    assert theirs == sign_record(Kind.NOTE, body, SEED)
    opened = open_record(theirs, [OTHER_PUBLIC_KEY, PUBLIC_KEY])
    assert (opened.kind, opened.body) == (Kind.NOTE, body)


@pytest.mark.reference
def test_rfc_8032_test_1_key_signs_the_same_through_the_door():
    # RFC 8032, section 7.1, TEST 1 (from memory): the empty message.
    seed = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
    signature = (
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bac"
        "c61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"
    )
    assert door.sign(bytes.fromhex(seed), b"").hex() == signature


def test_key_id_is_the_start_of_the_hash_of_the_public_key():
    assert key_id_of(PUBLIC_KEY) == door.sha256(PUBLIC_KEY)[:16]


def test_unknown_device_is_named_by_its_key_id():
    signed = sign_record(Kind.EXAM, b"", SEED)
    with pytest.raises(UnknownDeviceKeyError) as refusal:
        open_record(signed, [OTHER_PUBLIC_KEY])
    assert refusal.value.key_id == key_id_of(PUBLIC_KEY)


def test_record_of_another_device_under_our_key_id_is_refused():
    theirs = cbor2.loads(sign_record(Kind.EXAM, b"body", bytes(32))).value
    ours = cbor2.loads(sign_record(Kind.EXAM, b"body", SEED)).value
    forged = cbor2.dumps(cbor2.CBORTag(18, [ours[0], {}, theirs[2], theirs[3]]))
    with pytest.raises(BadSignatureError):
        open_record(forged, [PUBLIC_KEY, OTHER_PUBLIC_KEY])


def test_exam_and_note_never_stand_for_each_other():
    exam = close_and_sign(EXAM, TINY, SEED, OWNER, SALT)
    note = sign_note(note_about(exam.exam_hash), SEED)
    with pytest.raises(WrongKindError):
        read_exam(note, [PUBLIC_KEY], keep)
    with pytest.raises(WrongKindError):
        read_note(exam.signed, [PUBLIC_KEY])


def test_record_of_more_than_the_limit_is_neither_signed_nor_opened():
    with pytest.raises(RecordTooLargeError):
        sign_record(Kind.EXAM, bytes(LARGEST_SIGNED), SEED)
    with pytest.raises(RecordTooLargeError):
        open_record(bytes(LARGEST_SIGNED + 1), [PUBLIC_KEY])
    with pytest.raises(RecordTooLargeError):
        close_and_sign(replace(EXAM, remark="x" * 70_000), TINY, SEED, None, SALT)

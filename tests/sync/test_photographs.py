"""A photograph sealed to the clinic, and the clinic's list: right and hostile."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exam_app.crypto import door
from exam_app.record.cbor_form import encode
from exam_app.record.cose import Kind
from exam_app.record.errors import NotAPhotographError
from exam_app.record.jpeg import LARGEST_PICTURE
from sync.bundle.sealing import LARGEST_SEALED, SealedKind, read_kind
from sync.errors import (
    BadManifestError,
    BundleNotMadeError,
    BundleTooLargeError,
    NotABundleError,
    NotAReceiptError,
    ReceiptForgedError,
    SyncError,
    UnknownDeviceError,
    WrongRecipientError,
)
from sync.photographs import (
    MOST_NAMED,
    PhotographLabel,
    PhotographList,
    is_list,
    is_photograph,
    open_photograph,
    read_list,
    seal_photograph,
    sign_list,
)
from sync.receipts import read_receipt
from sync.transport.folder import Ending, FolderWriter
from sync.transport.folder_reading import FolderReader, WaitingReason
from sync.trust.signed_fields import sign_fields
from tests.pictures import HEIGHT, WIDTH, picture
from tests.samples import examples
from tests.sync_tiny import (
    CLINIC_AGREEMENT,
    CLINIC_ID,
    CLINIC_KEY,
    CLINIC_PRIVATE,
    CLINIC_SEED,
    DEVICE_ID,
    DEVICE_SEED,
    EVENING,
    KNOWN,
    NOW,
    OTHER_AGREEMENT,
    OTHER_PRIVATE,
    OTHER_SEED,
    opened,
    sealed,
    sealed_plain,
)

PICTURE = picture(1, 2_000)
LABEL = PhotographLabel(
    DEVICE_ID,
    CLINIC_AGREEMENT,
    door.sha256(PICTURE).hex(),
    len(PICTURE),
    "e1" * 16,
    is_demo=True,
)
SEALED = seal_photograph(LABEL, PICTURE, DEVICE_SEED)
TOO_LONG, NO_LABEL = encode(b"l" * 2_000) + PICTURE, encode(b"label") + PICTURE
LIST = PhotographList(
    CLINIC_ID, DEVICE_ID, EVENING, ("a1" * 32, "a2" * 32), ("a3" * 32,), is_demo=True
)


def open_it(content, private=CLINIC_PRIVATE, known=KNOWN):
    return open_photograph(content, private, known)


def test_a_photograph_comes_out_as_it_went_in():
    got = open_it(SEALED)
    assert (got.label, got.picture) == (LABEL, PICTURE)
    assert (got.pixels.width, got.pixels.height) == (WIDTH, HEIGHT)
    assert got.sealed_hash == door.sha256(SEALED).hex()
    assert PICTURE[30:90] not in SEALED


def test_the_same_photograph_gives_the_same_file_and_any_other_another_key():
    assert seal_photograph(LABEL, PICTURE, DEVICE_SEED) == SEALED
    other = picture(2, 2_000)
    labels = [
        (LABEL, PICTURE, OTHER_SEED),
        (replace(LABEL, recipient_key=OTHER_AGREEMENT), PICTURE, DEVICE_SEED),
        (replace(LABEL, exam_id="e2" * 16), PICTURE, DEVICE_SEED),
        (replace(LABEL, is_demo=False), PICTURE, DEVICE_SEED),
        (replace(LABEL, sha256=door.sha256(other).hex()), other, DEVICE_SEED),
    ]
    keys = {seal_photograph(*one)[8:40] for one in labels} | {SEALED[8:40]}
    assert len(keys) == 6


def test_a_label_of_another_picture_is_not_signed():
    with pytest.raises(BundleNotMadeError):
        seal_photograph(LABEL, picture(2, 2_000), DEVICE_SEED)
    with pytest.raises(NotAPhotographError):
        seal_photograph(LABEL, PICTURE + b"place", DEVICE_SEED)


def test_the_largest_picture_fits_what_a_folder_gives():
    large = picture(3, LARGEST_PICTURE - 70)
    label = replace(LABEL, sha256=door.sha256(large).hex(), size=len(large))
    content = seal_photograph(label, large, DEVICE_SEED)
    assert len(content) < LARGEST_SEALED
    assert open_it(content).picture == large


def test_cut_flipped_and_longer_photographs_are_refused():
    for length in range(0, len(SEALED), 7):
        with pytest.raises(NotABundleError):
            open_it(SEALED[:length])
    for at in range(0, len(SEALED), 5):
        changed = bytearray(SEALED)
        changed[at] ^= 1
        with pytest.raises(SyncError):
            open_it(bytes(changed))
    with pytest.raises(NotABundleError):
        open_it(SEALED + b"x")
    with pytest.raises(BundleTooLargeError):
        open_it(SEALED + bytes(LARGEST_SEALED))


def relabelled(picture_, seed=DEVICE_SEED, kind=Kind.PHOTOGRAPH, **fields):
    """Seal what no honest device would; ``fields`` by their numbers."""
    said = {
        1: bytes.fromhex(DEVICE_ID),
        2: CLINIC_AGREEMENT,
        3: door.sha256(picture_),
        4: len(picture_),
        5: bytes.fromhex("e1" * 16),
        9: True,
    } | {int(key[1:]): value for key, value in fields.items()}
    said = {key: value for key, value in said.items() if value is not None}
    signed = sign_fields(kind, said, seed)
    return sealed_plain(encode(signed) + picture_, SealedKind.PHOTOGRAPH)


@pytest.mark.parametrize(
    ("content", "refusal"),
    [
        (relabelled(PICTURE, OTHER_SEED), UnknownDeviceError),
        (relabelled(PICTURE, kind=Kind.MANIFEST), BadManifestError),
        (relabelled(PICTURE, _2=OTHER_AGREEMENT), WrongRecipientError),
        (relabelled(PICTURE, _3=bytes(32)), BadManifestError),
        (relabelled(PICTURE, _4=len(PICTURE) - 1), BadManifestError),
        (relabelled(PICTURE, _4=None), BadManifestError),
        (relabelled(PICTURE, _5=bytes(15)), BadManifestError),
        (relabelled(PICTURE, _9=False), BadManifestError),
        (relabelled(b"<svg onload='x'/>"), BadManifestError),
        (relabelled(PICTURE + b"behind"), BadManifestError),
        (relabelled(PICTURE[:-2]), BadManifestError),
        (relabelled(b""), NotABundleError),
        (relabelled(bytes(LARGEST_PICTURE + 1)), NotABundleError),
        (sealed_plain(b"", SealedKind.PHOTOGRAPH), NotABundleError),
        (sealed_plain(b"\x1b" + b"\xff" * 40, SealedKind.PHOTOGRAPH), NotABundleError),
        (sealed_plain(TOO_LONG, SealedKind.PHOTOGRAPH), NotABundleError),
        (sealed_plain(NO_LABEL, SealedKind.PHOTOGRAPH), NotABundleError),
        (sealed().sealed, NotABundleError),
    ],
    ids=range(18),
)
def test_what_no_honest_device_seals_is_refused(content, refusal):
    with pytest.raises(refusal):
        open_it(content)


def test_a_photograph_for_another_clinic_is_not_read():
    with pytest.raises(WrongRecipientError):
        open_it(SEALED, OTHER_PRIVATE)


def test_no_photograph_passes_for_a_bundle_and_no_bundle_for_a_photograph():
    assert read_kind(SEALED) is SealedKind.PHOTOGRAPH
    assert is_photograph(SEALED)
    with pytest.raises(NotABundleError):
        opened(SEALED)
    for other in (sealed().sealed, b"", b"XH", PICTURE, SEALED[:40]):
        assert not is_photograph(other)


@settings(max_examples=examples(200))
@given(st.binary(max_size=300))
def test_any_bytes_are_refused_as_a_photograph_and_as_a_list(content):
    for plain in (content, b"\x40" + content, b"\x58\x20" + content):
        with pytest.raises(SyncError):
            open_it(sealed_plain(plain, SealedKind.PHOTOGRAPH))
    with pytest.raises(SyncError):
        open_it(content)
    with pytest.raises(SyncError):
        read_list(content, CLINIC_KEY)
    assert not is_list(content)


def test_a_list_says_what_the_clinic_signed():
    signed = sign_list(LIST, CLINIC_SEED)
    assert is_list(signed)
    assert read_list(signed, CLINIC_KEY) == LIST
    empty = replace(LIST, held=(), wanted=())
    assert read_list(sign_list(empty, CLINIC_SEED), CLINIC_KEY) == empty


def test_a_forged_cut_or_other_list_is_refused():
    signed = sign_list(LIST, CLINIC_SEED)
    with pytest.raises(ReceiptForgedError):
        read_list(sign_list(LIST, OTHER_SEED), CLINIC_KEY)
    for at in range(len(signed)):
        changed = bytearray(signed)
        changed[at] ^= 1
        for content in (bytes(changed), signed[:at]):
            with pytest.raises((ReceiptForgedError, NotAReceiptError)):
                read_list(content, CLINIC_KEY)
    said = {1: bytes(16), 2: bytes(16), 3: [0, 0]}
    for more in ({4: [bytes(31)]}, {4: [1]}, {5: [bytes(32)] * (MOST_NAMED + 1)}):
        wrong = sign_fields(Kind.PHOTOGRAPHS, said | more, CLINIC_SEED)
        with pytest.raises(NotAReceiptError):
            read_list(wrong, CLINIC_KEY)
    with pytest.raises(NotAReceiptError):
        read_list(sign_fields(Kind.RECEIPT, said, CLINIC_SEED), CLINIC_KEY)
    with pytest.raises(NotAReceiptError):
        read_receipt(signed, CLINIC_KEY, lambda _: ())
    with pytest.raises(BundleNotMadeError):
        sign_list(replace(LIST, held=("a1" * 32,) * (MOST_NAMED + 1)), CLINIC_SEED)


def test_the_fullest_list_can_be_written_and_read():
    hashes = tuple(f"{n:064x}" for n in range(MOST_NAMED))
    full = replace(LIST, held=hashes, wanted=hashes)
    assert read_list(sign_list(full, CLINIC_SEED), CLINIC_KEY) == full


def test_a_folder_gives_photographs_and_lists_and_reads_a_taken_one_no_more(tmp_path):
    writer = FolderWriter(tmp_path / "device-d1")
    name = writer.put(SEALED, Ending.PHOTOGRAPH)
    writer.put(sign_list(LIST, CLINIC_SEED), Ending.PHOTOGRAPHS)
    reader = FolderReader(tmp_path)
    found = reader.look((), NOW).ready
    assert {one.content for one in found} == {SEALED, sign_list(LIST, CLINIC_SEED)}
    assert all(one.name_fits for one in found)
    # By its name alone: what stands in it now is not read.
    (tmp_path / "device-d1" / name).write_bytes(b"")
    taken = {one.sha256 for one in found}
    assert reader.look(taken, NOW).waiting == ()
    (waiting,) = reader.look((), NOW).waiting
    assert waiting.reason is WaitingReason.INCOMPLETE

"""Fixed keys and a small bundle, for vectors and hostile tests.

Invented clinic and device, marked demo; every random byte comes from a fixed stream.
"""

import random
from pathlib import Path

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.record.records import close_and_sign, sign_note
from exam_app.record.salted_blocks import owner_block
from sync.bundle.bundle import BundleKind, open_bundle, seal_bundle
from sync.bundle.contents import Contents, OwnerPart
from sync.bundle.packing import inflate
from sync.bundle.sealing import SealedKind, seal_to
from tests.record_tiny import EXAM, OWNER, SALT, SEED, TINY, note_about

VECTORS = Path(__file__).parent / "vectors" / "sync"
CLINIC_ID, OTHER_CLINIC_ID, DEVICE_ID = "c1" * 16, "c2" * 16, "d1" * 16
CLINIC_SEED, CLINIC_PRIVATE = b"\x11" * 32, b"\x12" * 32
OTHER_SEED, OTHER_PRIVATE = b"\x21" * 32, b"\x22" * 32
DEVICE_PRIVATE = b"\x32" * 32
DEVICE_SEED = SEED
DEVICE_KEY = door.signing_public_key(DEVICE_SEED)
CLINIC_KEY = door.signing_public_key(CLINIC_SEED)
CLINIC_AGREEMENT = door.agreement_public_key(CLINIC_PRIVATE)
OTHER_AGREEMENT = door.agreement_public_key(OTHER_PRIVATE)
DEVICE_AGREEMENT = door.agreement_public_key(DEVICE_PRIVATE)
NOW = Moment(1_764_061_200_000, 120)
EVENING = Moment(1_764_090_000_000, 120)
SIGNED = close_and_sign(EXAM, TINY, SEED, OWNER, SALT)
NOTE = sign_note(note_about(SIGNED.exam_hash), SEED)
OWNER_PART = OwnerPart(SIGNED.exam_hash, SALT, owner_block(OWNER))
ANIMAL = {"animal_id": "a1" * 16, "name": "Bruno", "age_days": 37, "is_demo": True}
CONTENTS = Contents(
    records=(SIGNED.signed,), notes=(NOTE,), owners=(OWNER_PART,), animals=(ANIMAL,)
)


def stream(seed=1):
    """Random bytes that are the same in every run."""
    return random.Random(seed).randbytes


def key_of(known):
    """A lookup of public keys by key id."""
    by_id = {door.sha256(key)[:16]: key for key in known}
    return by_id.get


KNOWN = key_of([CLINIC_KEY, DEVICE_KEY])


def sealed(contents=CONTENTS, kind=BundleKind.EXAMS, **other):
    """The bundle of the device to the clinic, or back for a day pack."""
    is_back = kind is BundleKind.DAY_PACK
    given = {
        "sequence": 17,
        "made": EVENING,
        "sender_id": CLINIC_ID if is_back else DEVICE_ID,
        "seed": CLINIC_SEED if is_back else DEVICE_SEED,
        "recipient_key": DEVICE_AGREEMENT if is_back else CLINIC_AGREEMENT,
        "is_demo": True,
        "random": stream(17),
    }
    return seal_bundle(kind, contents, **(given | other))


def opened(content, private=CLINIC_PRIVATE, known=KNOWN):
    return open_bundle(content, private, known)


def sealed_plain(plain, kind=SealedKind.EXAMS, key=CLINIC_AGREEMENT):
    """Any bytes, sealed as a stranger could: base mode says nothing of the sender."""
    return seal_to(kind, key, plain, stream(3))[0]


def noisy_columns(plain, chance):
    """Give the columns of a message with one to three bytes of them changed."""
    columns = [bytearray(column) for column in inflate(plain)]
    for _ in range(chance.randrange(1, 4)):
        column = chance.choice(columns)
        if column:
            column[chance.randrange(len(column))] = chance.randrange(256)
    return columns

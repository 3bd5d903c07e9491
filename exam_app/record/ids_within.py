"""Ids of what stands inside one exam: five drawn bytes, the rest follows from both.

Such an id is as good as a random one within its exam and between exams, and whoever has
the exam's id needs only its first five bytes to tell all of it: a hand-over carries no
more. It is a UUID of version 8 (RFC 9562, section 5.8). Records that hold other ids are
read as ever; nothing asks whether an id was made here.
"""

from exam_app.crypto import door

DRAWN_LENGTH = 5
ID_LENGTH = 16
_LABEL = b"exam-app id within v1"
_VERSION_PLACE, _VARIANT_PLACE = 6, 8


def id_within(exam_id: bytes, drawn: bytes) -> bytes:
    """Return the id, 16 bytes, of something inside an exam.

    Args:
        exam_id: 16 bytes.
        drawn: 5 bytes, another five for each id of one exam.
    """
    made = bytearray(drawn + door.sha256(_LABEL + exam_id + drawn))[:ID_LENGTH]
    made[_VERSION_PLACE] = 0x80 | made[_VERSION_PLACE] & 0x0F
    made[_VARIANT_PLACE] = 0x80 | made[_VARIANT_PLACE] & 0x3F
    return bytes(made)


def is_id_within(exam_id: bytes, candidate: bytes) -> bool:
    """Say whether an id was made for this exam: its first bytes tell all of it."""
    return id_within(exam_id, candidate[:DRAWN_LENGTH]) == candidate


def draw_id_within(exam_id: str) -> str:
    """Draw an id for something inside an exam; both as 32 hexadecimal digits."""
    drawn = door.random_bytes(DRAWN_LENGTH)
    return id_within(bytes.fromhex(exam_id), drawn).hex()

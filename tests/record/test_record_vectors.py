"""Stored records, and what becomes of a record when any byte of it is changed.

A vector is a file of three lines (what is expected, what to open it as, what it is),
an empty line and the record in hexadecimal. The one key known is that of ``SEED``.
"""

import re
from datetime import date
from pathlib import Path
from random import Random

import pytest

import exam_app.record
from exam_app.domain.animal.ages import age_line
from exam_app.domain.wording.written_record import write_record
from exam_app.record import errors
from exam_app.record.cbor_form import decode
from exam_app.record.cose import open_record
from exam_app.record.records import close_and_sign, read_exam, read_note, sign_note
from exam_app.record.salted_blocks import block_matches, read_private
from tests.record_tiny import (
    AGE_TOLD,
    BITTEN_BLOCKS,
    CORRECTED,
    COUNTED_ANEW,
    EXAM,
    FELT_FOR,
    MARKED,
    MARKED_CLOSER,
    OTHER_PUBLIC_KEY,
    OWNER,
    PHOTOGRAPHED,
    PRIVATE_SALT,
    PUBLIC_KEY,
    SALT,
    SEED,
    TINY,
    TOLD_PRIVATELY,
    TWO_BITTEN,
    VECTORS,
    correcting_note,
    erasure_of,
    keep,
    note_about,
)

# Written down in FORMAT.md.
PRIVATE_BLOCK = bytes.fromhex(
    "81a2017818726f7065206d61726b20726f756e6420746865206e65636b02a101199c40"
)
KEYS = [OTHER_PUBLIC_KEY, PUBLIC_KEY]
FILES = sorted(VECTORS.glob("*.hex"))
FORMAT = (Path(exam_app.record.__path__[0]) / "FORMAT.md").read_text("utf-8")


def load(path):
    head, _, spelled = path.read_text("utf-8").partition("\n\n")
    lines = dict(line.split(": ", 1) for line in head.splitlines())
    return lines["expect"], lines["open as"], bytes.fromhex(spelled)


def open_as(kind, signed):
    if kind == "exam":
        return read_exam(signed, KEYS, keep)
    return read_note(signed, KEYS)


@pytest.mark.vector
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_stored_record_is_read_or_refused_as_written_down(path):
    expect, kind, signed = load(path)
    if expect == "good":
        open_as(kind, signed)
        return
    with pytest.raises(errors.RecordError) as refusal:
        open_as(kind, signed)
    assert type(refusal.value).__name__ == expect


def test_no_stored_record_went_missing():
    assert len(FILES) == 88
    assert sum(load(path)[0] == "good" for path in FILES) == 18


@pytest.mark.vector
def test_good_exam_is_byte_for_byte_what_is_signed_today():
    signed = close_and_sign(EXAM, TINY, SEED, OWNER, SALT).signed
    assert load(VECTORS / "good_exam.hex")[2] == signed


@pytest.mark.vector
@pytest.mark.parametrize("name", ["good_exam", "good_exam_spelled_out"])
def test_stored_exam_says_what_was_signed(name):
    read = open_as("exam", load(VECTORS / f"{name}.hex")[2])
    assert read.exam == EXAM


@pytest.mark.vector
def test_stored_age_reads_in_the_number_and_unit_it_was_told_in():
    read = open_as("exam", load(VECTORS / "good_exam_age_as_told.hex")[2])
    assert read.exam == AGE_TOLD
    assert age_line(read.exam.animal, date(2025, 11, 25)) == "9 years (as told)"


@pytest.mark.vector
def test_stored_exams_give_the_private_note_beside_them_and_inside_older_ones():
    inside = open_as("exam", load(VECTORS / "good_exam_private_inside.hex")[2])
    assert inside.exam == TOLD_PRIVATELY
    signed = load(VECTORS / "good_exam_private_beside.hex")[2]
    beside = open_as("exam", signed)
    assert beside.exam == EXAM
    assert b"rope" not in signed
    assert block_matches(beside.private_hash, PRIVATE_SALT, PRIVATE_BLOCK)
    assert read_private(PRIVATE_BLOCK, beside.exam) == TOLD_PRIVATELY.private_notes
    made = close_and_sign(TOLD_PRIVATELY, TINY, SEED, OWNER, SALT, PRIVATE_SALT)
    assert (made.signed, made.private_block) == (signed, PRIVATE_BLOCK)


@pytest.mark.vector
def test_stored_result_in_place_of_a_claim_reads_as_it_was_said():
    read = open_as("exam", load(VECTORS / "good_exam_felt_for.hex")[2])
    assert read.exam == FELT_FOR
    text = write_record(read.exam, TINY).as_text()
    assert "OTHER RESULTS\n- Nose: looked for, not seen" in text
    assert "no discharge" not in text


@pytest.mark.vector
def test_stored_bites_of_two_persons_read_as_two_blocks():
    read = open_as("exam", load(VECTORS / "good_exam_two_bitten.hex")[2])
    assert read.exam == TWO_BITTEN
    text = write_record(read.exam, TINY).as_text()
    assert "the owner, at noon, first aid as they tell it: not washed yet" in text
    assert "Tana Demo, left thumb, 2025-11-25 09:00" in text
    assert "first aid by the examiner: washed at once" in text


@pytest.mark.vector
def test_stored_bites_of_three_persons_read_as_three_blocks():
    read = open_as("exam", load(VECTORS / "good_exam_bitten_blocks.hex")[2])
    assert read.exam == BITTEN_BLOCKS
    text = write_record(read.exam, TINY).as_text()
    assert "the owner, 2025-11-24 18:00, first aid as they tell it: washed" in text
    assert "a child, 2025-11-25, time not known, told of it: nobody yet" in text
    assert "Tana Demo, left thumb, 2025-11-25 09:00, told of it: the health" in text


def signed_so_today(name, exam):
    """Write a stored exam, which reads as this one and is signed to the same bytes."""
    stored = load(VECTORS / f"good_exam_{name}.hex")[2]
    read = open_as("exam", stored)
    assert read.exam == exam
    assert not read.unknown
    assert close_and_sign(exam, TINY, SEED, OWNER, SALT).signed == stored
    return write_record(read.exam, TINY).as_text()


@pytest.mark.vector
def test_stored_marks_read_as_they_were_placed_and_are_signed_so_today():
    text = signed_so_today("marked", MARKED)
    assert "Eyes, left: redness, mark 3, left view" in text
    assert "Mark 3: left view, 166 of 1000 across, 208 of 1000 down" in text
    assert "Mark 2, of 2025-01-02: left view of the head, 0 of 1000 across" in text
    assert "Mark 1, of 2025-01-02: top view, 500 of 1000 across, 20 of" in text
    assert "12 mm (calliper, along the body, Kim Demo) on 2025-01-02; now 14 mm" in text
    assert "measured again, see the findings" in text


@pytest.mark.vector
def test_stored_marks_on_closer_drawings_read_as_placed_and_are_signed_so_today():
    text = signed_so_today("marked_closer", MARKED_CLOSER)
    said = "outer side of the left fore foot, closer drawing"
    assert f"Eyes, left: redness, mark 3, {said}" in text
    assert (
        f"Mark 3: {said}, 310 of 1000 across, 1000 of 1000 down; "
        "left view, 166 of 1000 across, 208 of 1000 down: Eyes, left: redness" in text
    )
    assert (
        "Mark 2, of 2025-01-02: open mouth, closer drawing, 0 of 1000 across, "
        "20 of 1000 down; right view of the head, 0 of 1000 across" in text
    )


@pytest.mark.vector
def test_stored_photographs_read_as_they_were_named_and_are_signed_so_today():
    text = signed_so_today("photographed", PHOTOGRAPHED)
    assert (
        "- Eyes, left: redness of the lower lid, head held to the light, shows redness"
        ", mark 3, left view (taken 2025-11-25 11:01 by Tana Demo (technician)"
        ", added 2025-11-25 11:16, 1600 by 1200 pixels, 312456 bytes, "
        "SHA-256 a5a5a5a5a5a5)\n"
    ) in text
    assert "nose from the front, shows what was found on 2025-01-02: wound" in text
    assert "- the whole animal, standing (SHA-256 a7a7a7a7a7a7)\n" in text


@pytest.mark.vector
def test_stored_flag_of_several_lines_and_earlier_estimate_read_as_they_were_shown():
    read = open_as("exam", load(VECTORS / "good_exam_counted_anew.hex")[2])
    assert read.exam == COUNTED_ANEW
    text = write_record(read.exam, TINY).as_text()
    assert "first about 150/min alert" in text
    assert "Above the published range. Above 60–120/min (Invented limits" in text


@pytest.mark.vector
def test_stored_revision_says_what_it_changed():
    read = open_as("exam", load(VECTORS / "good_exam_corrected.hex")[2])
    assert read.exam == CORRECTED
    text = write_record(read.exam, TINY).as_text()
    assert "Gum colour: pink; before: not done: refused" in text


@pytest.mark.vector
def test_stored_note_says_what_should_read_otherwise():
    note = open_as("note", load(VECTORS / "good_note_correcting.hex")[2]).note
    assert note == correcting_note(note.exam_hash)


@pytest.mark.vector
def test_stored_note_says_what_was_signed():
    exam = open_as("exam", load(VECTORS / "good_exam.hex")[2])
    note = open_as("note", load(VECTORS / "good_note.hex")[2])
    assert note.note == note_about(exam.exam_hash)
    erasure = load(VECTORS / "good_note_erased.hex")[2]
    assert open_as("note", erasure).note == erasure_of(exam.exam_hash)
    assert sign_note(erasure_of(exam.exam_hash), SEED) == erasure


@pytest.mark.vector
def test_unknown_fields_of_the_same_version_are_kept_and_hinder_nothing():
    read = open_as("exam", load(VECTORS / "good_exam_unknown_fields.hex")[2])
    assert read.exam == EXAM
    assert read.unknown == {"/90": ["later", 1], "/animal/91": "x", "//9": True}


def worked_example():
    block = re.search(r"```hex\n(.*?)```", FORMAT, re.DOTALL)[1]
    return bytes.fromhex(re.sub(r"#.*", "", block))


def test_worked_example_of_the_format_opens_and_is_the_stored_one():
    read = open_as("exam", worked_example())
    assert read.exam == EXAM
    assert read.exam_hash in FORMAT
    assert read.owner_hash in FORMAT
    assert read.key_id.hex() in FORMAT
    assert worked_example() == load(VECTORS / "good_exam.hex")[2]


def test_every_error_and_every_limit_stands_in_the_format():
    for name, value in vars(errors).items():
        if isinstance(value, type) and issubclass(value, errors.RecordError):
            assert name in FORMAT or name == "RecordError", name
    for limit in ("262 144", "50 000", "65 535", "16 levels"):
        assert limit in FORMAT


def refused(signed):
    with pytest.raises(errors.RecordError):
        open_record(signed, KEYS)


def flips(signed):
    for place in range(len(signed)):
        for bit in range(8):
            yield (
                signed[:place] + bytes([signed[place] ^ 1 << bit]) + signed[place + 1 :]
            )


def cuts(signed):
    for length in range(len(signed)):
        yield signed[:length]
        yield signed[length:] if length else signed + signed[:1]


def test_sampled_bit_flips_and_cuts_are_refused():
    signed = worked_example()
    chance = Random(8949)
    for broken in chance.sample(list(flips(signed)), 800):
        refused(broken)
    for broken in chance.sample(list(cuts(signed)), 300):
        refused(broken)


@pytest.mark.exhaustive
def test_every_bit_flip_and_every_cut_is_refused():
    signed = worked_example()
    flipped, cut = list(flips(signed)), list(cuts(signed))
    for broken in flipped + cut:
        refused(broken)
    print(f"{len(flipped)} flips and {len(cut)} cuts refused")
    assert len(flipped) == len(signed) * 8


@pytest.mark.exhaustive
def test_every_byte_replaced_by_every_other_is_refused():
    signed = worked_example()
    count = 0
    for place in range(len(signed)):
        for other in set(range(256)) - {signed[place]}:
            refused(signed[:place] + bytes([other]) + signed[place + 1 :])
            count += 1
    print(f"{count} replaced bytes refused")


def test_no_byte_of_the_body_is_parsed_before_its_signature(monkeypatch):
    # A body that cannot be parsed at all still ends in a bad signature.
    signed = bytearray(worked_example())
    start = len(signed) - 66 - 100
    signed[start : start + 50] = b"\xff" * 50
    with pytest.raises(errors.BadSignatureError):
        read_exam(bytes(signed), KEYS, keep)


def test_signed_nonsense_never_escapes_as_another_error():
    # The signer is trusted, its software may be broken: every changed item of a signed
    # body is read or refused by one of our errors.
    from exam_app.record.cose import Kind, sign_record

    body = open_record(worked_example(), KEYS).body
    chance = Random(9052)
    outcomes = {"read": 0, "refused": 0}
    for _ in range(800):
        place = chance.randrange(len(body))
        changed = body[:place] + bytes([chance.randrange(256)]) + body[place + 1 :]
        try:
            read_exam(sign_record(Kind.EXAM, changed, SEED), KEYS, keep)
            outcomes["read"] += 1
        except errors.RecordError:
            outcomes["refused"] += 1
    assert outcomes["read"] > 100
    assert outcomes["refused"] > 100


def test_body_of_the_example_is_in_the_one_spelling():
    assert decode(open_record(worked_example(), KEYS).body)[0] == 1

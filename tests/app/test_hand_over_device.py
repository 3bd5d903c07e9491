"""The device's hand-over over a real store: lists, arrivals, deletion, requests."""

import struct

import pytest

from exam_app.app.exam_words import answered_line
from exam_app.app.handover import arrivals
from exam_app.app.handover.outbox import bundles, deletable, rows_of, to_show
from exam_app.app.handover.player import LONGEST_STRIP, TYPING, CodeRun
from exam_app.crypto import door
from exam_app.exchange.exchange import delete_exams
from exam_app.exchange.outbox import enter_code, mark_shown
from exam_app.exchange.returns import make_day_pack
from exam_app.record.notes import NoteKind
from exam_app.store.errors import ExamStillNeededError
from sync.errors import BundleTooLargeError
from sync.transport.collector import Collector
from sync.transport.folder import Ending, FolderWriter, clinic_folder, device_folder
from sync.transport.frames import DotSize
from sync.trust.cards import as_text, from_text
from tests.exam_samples import VETERINARIAN
from tests.handover_places import (
    LATER,
    named_id,
    paired_places,
    small_exam,
)


@pytest.fixture
async def places(tmp_path):
    async with paired_places(tmp_path) as opened:
        yield opened


def handed_over(clinic, tablet, *names):
    """Close exams, show them, and let the clinic store them."""
    exam_ids = [tablet.close_exam(small_exam(name)) for name in names]
    (bundle,) = tablet.hand_over(*exam_ids)
    mark_shown(tablet.exchange, bundle.bundle_hash)
    return exam_ids, bundle, clinic.receive(bundle.sealed)


async def test_what_was_sealed_is_listed_with_its_animals_and_can_be_shown(places):
    clinic, tablet = places
    exam_ids, bundle, _ = handed_over(clinic, tablet, "one", "two")
    (listed,) = bundles(tablet.vault)
    assert (listed.sequence, listed.state) == (1, "shown")
    assert [row.exam_id for row in rows_of(tablet.vault, listed)] == exam_ids
    (shown,) = to_show(tablet.vault, [1])
    assert shown.sealed == bundle.sealed
    assert to_show(tablet.vault, [2]) == ()


async def test_a_receipt_is_known_by_its_content_and_ends_the_showing(places):
    clinic, tablet = places
    exam_ids, _, received = handed_over(clinic, tablet, "one")
    arrived = arrivals.take(tablet.vault, received.receipt)
    assert arrived.is_taken
    assert arrived.words == "Signed receipt for hand-over 1."
    assert to_show(tablet.vault, [1]) == ()
    (listed,) = bundles(tablet.vault)
    assert list(listed.outcomes.values()) == ["stored"]
    assert deletable(tablet.vault, listed) == tuple(exam_ids)


async def test_a_code_alone_permits_no_deletion(places):
    clinic, tablet = places
    exam_ids, bundle, received = handed_over(clinic, tablet, "one")
    enter_code(tablet.exchange, bundle.bundle_hash, received.receipt_code)
    (listed,) = bundles(tablet.vault)
    assert deletable(tablet.vault, listed) == ()
    with pytest.raises(ExamStillNeededError):
        delete_exams(tablet.vault, exam_ids)
    assert tablet.vault.closed.get(exam_ids[0]) is not None


async def test_deleted_exams_leave_nothing_but_what_the_clinic_said(places):
    clinic, tablet = places
    exam_ids, _, received = handed_over(clinic, tablet, "one", "two")
    kept = tablet.close_exam(small_exam("three"))
    arrivals.take(tablet.vault, received.receipt)
    delete_exams(tablet.vault, exam_ids)
    assert [tablet.vault.closed.get(key) for key in exam_ids] == [None, None]
    assert tablet.vault.closed.get(kept) is not None
    assert [row.exam_id for row in tablet.vault.closed.latest(9)] == [kept]
    (listed,) = bundles(tablet.vault)
    assert (len(listed.exam_ids), rows_of(tablet.vault, listed)) == (2, [])
    assert deletable(tablet.vault, listed) == ()


async def test_one_exam_without_signature_keeps_all_from_deletion(places):
    clinic, tablet = places
    exam_ids, _, received = handed_over(clinic, tablet, "one")
    arrivals.take(tablet.vault, received.receipt)
    fresh = tablet.close_exam(small_exam("two"))
    with pytest.raises(ExamStillNeededError):
        delete_exams(tablet.vault, [*exam_ids, fresh])
    assert tablet.vault.closed.get(exam_ids[0]) is not None


async def test_a_folder_brings_receipt_and_day_pack_once(places, tmp_path):
    clinic, tablet = places
    root = tmp_path / "between"
    root.mkdir()
    _, _, received = handed_over(clinic, tablet, "one")
    place = clinic_folder(root, clinic.device_id, tablet.device_id)
    FolderWriter(place).put(received.receipt, Ending.RECEIPT)
    pack = make_day_pack(
        clinic.exchange, tablet.device_id, (), LATER, door.random_bytes
    )
    FolderWriter(place).put(pack.sealed, Ending.DAY_PACK)
    arrivals.look(tablet.vault, root)
    said = " ".join(arrivals.arrival_words(tablet.vault))
    assert "Signed receipt for hand-over 1." in said
    assert "Day pack 1: 1 receipt." in said
    arrivals.look(tablet.vault, root)
    (said,) = arrivals.arrival_words(tablet.vault)
    assert said.endswith(arrivals.NOTHING_NEW)


async def test_a_day_pack_tells_the_lists_who_acknowledged_which_record(places):
    clinic, tablet = places
    (exam_id,), _, _ = handed_over(clinic, tablet, "one")
    (row,) = clinic.vault.closed.revisions(exam_id)
    signed = clinic.sign_note(
        "ack", exam_id, kind=NoteKind.ACKNOWLEDGEMENT, exam_hash=row.record_hash
    )
    clinic.vault.notes.put(named_id("ack"), exam_id, signed)
    pack = make_day_pack(
        clinic.exchange, tablet.device_id, (), LATER, door.random_bytes
    )
    assert arrivals.take(tablet.vault, pack.sealed).is_taken
    (row,) = tablet.vault.closed.latest(1)
    assert row.acknowledged_by == VETERINARIAN.name
    assert f"acknowledged by {VETERINARIAN.name}" in answered_line(row)


async def test_what_is_neither_receipt_nor_day_pack_waits_and_says_so(places, tmp_path):
    clinic, tablet = places
    root = tmp_path / "between"
    place = clinic_folder(root, clinic.device_id, tablet.device_id)
    FolderWriter(place).put(b"half a file", Ending.RECEIPT)
    arrivals.look(tablet.vault, root)
    (said,) = arrivals.arrival_words(tablet.vault)
    assert "no receipt" in said
    FolderWriter(place).put(b"half a file", Ending.RECEIPT)
    arrivals.look(tablet.vault, root)
    assert arrivals.NOTHING_NEW in arrivals.arrival_words(tablet.vault)[0]


async def test_bundles_go_into_the_device_own_part_of_the_folder(places, tmp_path):
    clinic, tablet = places
    _, bundle, _ = handed_over(clinic, tablet, "one")
    arrivals.put_bundles(tablet.vault, tmp_path, to_show(tablet.vault, [1]))
    (file,) = device_folder(tmp_path, tablet.device_id).iterdir()
    assert file.name == f"{bundle.bundle_hash}.exam-bundle"
    assert file.read_bytes() == bundle.sealed


@pytest.mark.parametrize("dots", [size.value for size in DotSize])
async def test_the_codes_of_every_dot_size_rebuild_the_bundle(places, dots):
    # The pictures themselves are read back by zxing-cpp in the browser's tests.
    clinic, tablet = places
    _, bundle, _ = handed_over(clinic, tablet, "one", "two")
    run, collector = CodeRun([bundle.sealed], dots), Collector()
    for frame_id in range(run.count):
        collector.add(run._frames[0].text(frame_id))
    assert collector.finished() == [bundle.sealed]
    assert [run.next_strip().count for _ in range(2)] == [1, 1]
    for _ in range(2 * LONGEST_STRIP):
        run.prepare()
    strip = run.next_strip()
    assert strip.count == LONGEST_STRIP
    size = struct.pack(">II", strip.modules, LONGEST_STRIP * strip.modules)
    assert strip.png[16:24] == size


def test_codes_for_a_scanner_that_types_wait_for_the_person():
    assert CodeRun([b"x" * 900], TYPING).is_still
    assert not CodeRun([b"x" * 900], DotSize.NORMAL.value).is_still


def test_too_large_a_bundle_for_bigger_dots_is_refused():
    with pytest.raises(BundleTooLargeError):
        CodeRun([b"x" * 30_000], DotSize.BIGGER.value)
    assert CodeRun([b"x" * 30_000], DotSize.DENSE.value).count > 1


def test_a_pasted_receipt_survives_spaces_case_and_line_breaks():
    text = as_text(b"some signed bytes")
    spoiled = "\n".join([text[:10].lower(), f" {text[10:]} "])
    assert from_text(spoiled) == b"some signed bytes"

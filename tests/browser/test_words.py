"""An exam told in words: a whole dog, a line dictated with mistakes, what is kept."""

import time

import pytest

from tests.browser.driver import Driver
from tests.browser.exam_drafts import BRAMBLE, EXAM_ID, begun, prepare_exam
from tests.browser.prepared import PIN, prepare_folder, unlock
from tests.browser.test_round import begin_group
from tests.browser.whole_exam import (
    PROTOCOL,
    Hand,
    answer_row,
    rows_of,
    take_vitals,
)

VITALS = (
    "distance normal, wt 10 kg, R 20 at rest, HR 90 at rest, T 38.4 C, mm pink, "
    "CRT 1-2 s, BAR, pain 0/10, BCS 5/9, MCS normal; hydration gums moist, skin "
    "returns at once, eyes not sunken"
)


@pytest.fixture
def exam(tmp_path, run_app):
    """An app over one open technician exam of a dog."""
    return run_app(folder=prepare_exam(tmp_path / "exams"))


def parts_line() -> str:
    names = []
    for region_id, keys in rows_of(begun(BRAMBLE)[0]):
        name = PROTOCOL.region(region_id).label.split(",")[0].lower()
        is_one = len(keys) > 1 and not name.endswith("s")
        names.append(f"both {name}s" if is_one else name)
    return f"{', '.join(names)} normal"


def sign(hand: Hand) -> None:
    """Close what has nothing open, and sign it."""
    hand.driver.wait_text("review-status", "Nothing is open")
    hand.tap("review-close")
    hand.driver.wait("close-sign")
    hand.pad(PIN)
    hand.tap("close-sign")
    hand.driver.wait("record-signed")


def record_line(hand: Hand, line: str) -> None:
    hand.type("words-line", line)
    hand.driver.wait("words-understood")
    hand.tap("words-record")
    hand.driver.wait("words-recorded")
    hand.driver.wait_text("words-record", "Type or dictate a line")


def by_words(driver: Driver) -> tuple[Hand, float]:
    hand, begun_at = Hand(driver), time.perf_counter()
    hand.tap("exam-words")
    driver.wait("words-line")
    record_line(hand, VITALS)
    driver.shot("words-recorded-phone")
    record_line(hand, parts_line())
    driver.go(f"/exam/{EXAM_ID}/review")
    hand.taps.append("the way to the review")
    sign(hand)
    return hand, time.perf_counter() - begun_at


def by_buttons(driver: Driver) -> tuple[Hand, float]:
    hand, begun_at = Hand(driver), time.perf_counter()
    take_vitals(hand)
    for region_id, _ in rows_of(begun(BRAMBLE)[0]):
        answer_row(hand, region_id)
    hand.tap("exam-onward")
    sign(hand)
    return hand, time.perf_counter() - begun_at


def test_a_dog_by_shorthand_alone_is_signed_with_fewer_taps_than_by_buttons(
    phone, tmp_path, run_app
):
    told = []
    for name, way in (("words", by_words), ("buttons", by_buttons)):
        unlock(phone, run_app(folder=prepare_exam(tmp_path / name)))
        phone.go(f"/exam/{EXAM_ID}")
        phone.wait("exam-progress")
        hand, seconds = way(phone)
        told.append((len(hand.taps), seconds))
        print(
            f"a whole dog by {name}: {len(hand.taps)} taps, {hand.signs} signs typed, "
            f"{seconds:.1f} s of the driver"
        )
    # Times depend on the machine and on who types: they are only printed.
    (words, _), (buttons, _) = told
    assert words < buttons / 3


def test_a_line_dictated_with_mistakes_asks_and_records_only_what_is_settled(
    phone, exam
):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}")
    phone.click("exam-words")
    phone.type(
        "words-line",
        "left ear red. temperature thirty eight point six. left eye clear no "
        "discharge. heart rate 120 no wait 102. dischrage nose",
    )
    phone.wait_text("words-understood", "Ears, left")
    phone.wait_text("words-question-0", "in which unit?")
    phone.scroll_to("words-sentence-1")
    phone.wait_text("words-sentence-1", "✓ no discharge seen (said)")
    phone.wait_text("words-sentence-1", "✓ cornea clear in this light (said)")
    phone.wait_text("words-sentence-1", "– pupil round, narrows to light")
    phone.scroll_to("words-unread-0")
    phone.wait_text("words-unread-0", "no wait")
    phone.scroll_to("words-unread-2")
    phone.wait_text("words-unread-2", "dischrage")
    phone.shot("words-asked-phone")
    phone.scroll_to("words-answer-0-0")
    phone.click("words-answer-0-0")
    phone.wait_text("words-record", "Record 2 entries")
    phone.click("words-record")
    phone.gone("words-understood")
    phone.scroll_to("words-recorded")
    phone.wait_text("words-recorded", "38.6 °C")
    phone.go(f"/exam/{EXAM_ID}")
    phone.wait_text("vital-temperature", "38.6 °C")


def test_what_was_typed_survives_a_lock(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/words")
    phone.type("words-line", "T 38.5, blimp")
    phone.wait("words-answer-0-0")
    phone.click("words-answer-0-0")
    phone.wait_text("words-question-0", "38.5 °C")
    phone.click("examiner")
    phone.click("lock-now")
    phone.type("lock-pin", PIN)
    phone.click("lock-open")
    phone.wait_text("words-question-0", "38.5 °C")
    assert phone.value("words-line") == "T 38.5, blimp"


def test_words_not_understood_go_into_a_remark_or_away(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/words")
    phone.type("words-line", "wagged happily")
    phone.click("words-remark-0")
    phone.click("words-part-nose")
    phone.gone("sheet")
    phone.wait_text("words-not-read", "happily")
    phone.click("words-dismiss-0")
    phone.gone("words-not-read")
    phone.go(f"/record/{EXAM_ID}/draft")
    phone.read_down_to("wagged")


def test_struck_entries_are_left_out(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/words")
    phone.type("words-line", "nose normal, tail normal")
    phone.wait_text("words-record", "Record 2 entries")
    phone.click("words-strike-1")
    phone.wait_text("words-record", "Record 1 entry")
    phone.click("words-record")
    phone.wait_text("words-recorded", "Nose")
    phone.go(f"/exam/{EXAM_ID}/region/tail")
    phone.wait("region-tail-normal")


def test_twenty_ewes_each_by_one_line_become_twenty_finished_rows(
    phone, tmp_path, run_app
):
    unlock(phone, run_app(folder=prepare_folder(tmp_path / "ewes")))
    begin_group(phone)
    phone.click("round-more")
    phone.click("round-words")
    hand = Hand(phone)
    for number in range(20):
        phone.wait("words-row-line")
        line = f"{4300 + number}: BCS 3/5, locomotion 0/3, from a distance normal"
        hand.type("words-row-line", line)
        phone.wait_text("words-row-record", f"{4300 + number}: record 3 entries")
        hand.tap("words-row-record")
        phone.wait_text("words-recorded", "Body condition")
        phone.wait_text("words-row-record", "Type or dictate a line")
    print(f"twenty ewes by lines: {len(hand.taps)} taps, {hand.signs} signs typed")
    phone.click("back")
    phone.wait_text("round-counts", "20 animals here")

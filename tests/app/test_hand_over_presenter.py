"""What the device says of exams that have to leave, without a screen."""

import io
from itertools import islice

import pytest
from PIL import Image

from exam_app.app.handover.outbox import (
    delete_question,
    is_deletable,
    outcome_lines,
    outcome_summary,
    wrong_code_words,
)
from exam_app.app.handover.player import (
    TYPING,
    fit,
    is_slow,
    next_due,
    progress,
    progress_words,
    turns,
)
from exam_app.app.view import hand_over_presenter as words
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.ui.widgets.code_out import NO_CODE, modules_of


def closed(exam_id, when, **more):
    return ClosedExam(exam_id=exam_id, name=exam_id.title(), closed=when, **more)


DAY = [
    closed("ash", "2026-11-25 10:00 +01:00"),
    closed("birch", "2026-11-24 17:10 +01:00", is_urgent=True),
    closed("cedar", "2026-11-25 11:00 +01:00"),
]


class CountedFrames:
    """Frames whose ids are simply counted."""

    def __init__(self, count):
        self.count = count

    def text(self, frame_id):
        return str(frame_id)

    def order(self):
        return iter(range(256))


def test_the_standing_count_names_how_many_and_since_when():
    assert words.standing_count(DAY) == (
        "3 exams are not handed over; the oldest closed 2026-11-24 17:10."
    )
    assert words.standing_count(DAY[:1]) == (
        "1 exam is not handed over; closed 2026-11-25 10:00."
    )


def test_nothing_is_said_once_everything_was_handed_over():
    assert words.standing_count([]) == ""


def test_an_urgent_record_that_did_not_reach_the_clinic_is_told_apart():
    assert [row.exam_id for row in words.urgent_first(DAY)] == ["birch"]


def test_shown_codes_do_not_count_as_handed_over():
    assert words.is_not_there(words.WAITING)
    assert words.is_not_there(words.SHOWN)
    assert not words.is_not_there(words.RECEIVED_BY_CODE)
    assert not words.is_not_there(words.RECEIVED)


def test_open_exams_nobody_decided_about_come_first_and_hold_the_hand_over():
    drafts = [OpenExam("one", changed="9"), OpenExam("two", changed="8")]
    left = words.leave({}, drafts, drafts[0], " tomorrow ", "Alex Rowan")
    lines = words.draft_lines(drafts, left)
    assert [row.exam_id for row, _ in lines] == ["two", "one"]
    assert lines[1][1] == "tomorrow (Alex Rowan)"
    assert words.undecided(lines) == 1
    assert words.drafts_first(1).startswith("1 exam still open")
    assert words.drafts_first(0) == ""


def test_a_reason_for_leaving_an_exam_is_gone_once_the_exam_is_changed():
    drafts = [OpenExam("one", changed="9")]
    left = words.leave({}, drafts, drafts[0], "tomorrow", "Alex Rowan")
    changed = [OpenExam("one", changed="10")]
    assert words.undecided(words.draft_lines(changed, left)) == 1


def test_reasons_of_exams_that_are_closed_by_now_are_dropped():
    drafts = [OpenExam("one", changed="9")]
    left = words.leave({}, drafts, drafts[0], "tomorrow", "Alex Rowan")
    later = [OpenExam("two", changed="11")]
    assert set(words.leave(left, later, later[0], "asleep", "Kim")) == {"two"}


def test_the_first_few_animals_of_a_hand_over_are_named():
    assert words.names_of(DAY) == "Ash, Birch, Cedar"
    assert words.names_of(DAY * 2) == "Ash, Birch, Cedar, Ash and 2 more"


def test_every_frame_of_every_bundle_is_shown_before_any_repair_frame():
    two = [CountedFrames(3), CountedFrames(2)]
    shown = list(islice(turns(two), 9))
    first, then = shown[:5], shown[5:]
    assert first == [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1)]
    assert then == [(0, 3), (1, 2), (0, 4), (1, 3)]


def test_a_code_is_drawn_in_whole_screen_pixels_per_module():
    # 77 modules: version 13 with its quiet zone (ISO/IEC 18004: 17 + 4 * 13 + 8).
    assert fit(390, 600, 77, 1) == fit(390, 390, 77, 1)
    assert fit(390, 600, 77, 1) == 5 * 77
    assert fit(390, 600, 77, 3) == 15 * 77 / 3
    assert fit(390, 600, 77, 1.5) == 7 * 77 / 1.5


def test_a_code_is_never_drawn_smaller_than_one_pixel_per_module():
    assert fit(10, 10, 77, 1) == 77
    assert fit(0, -5, 77, 0) == 77


def test_progress_never_says_that_everything_arrived():
    before, after = progress_words(42, 43), progress_words(43, 43)
    assert before == "Code 42 of 43, for the first time."
    assert "were shown once; repair codes follow" in after
    assert "The clinic's screen says when it has everything" in after
    assert "clinic's screen says" in progress_words(5, 1)
    assert progress_words(43, 43, is_paused=True).startswith("Paused.")
    slow = progress_words(150, 43, is_slow=True)
    assert "were shown once; repair codes follow. Slow at the clinic?" in slow
    assert len(slow) <= len(after)
    assert progress(43, 43) == progress(80, 43) == 1.0
    assert progress(0, 43) == 0.0


def test_bigger_dots_are_proposed_after_three_rounds_and_ten_seconds():
    assert is_slow(129, 43, "normal")
    assert not is_slow(128, 43, "normal")
    assert is_slow(80, 3, "dense")
    assert not is_slow(79, 3, "dense")
    assert not is_slow(900, 43, "bigger")
    assert not is_slow(900, 43, TYPING)


def test_a_busy_computer_makes_good_what_is_late_by_less_than_half_a_code():
    assert next_due(10.0, 10.05) == 10.125
    assert next_due(10.0, 10.18) == 10.125
    assert next_due(10.0, 11.0) == 11.0 - 0.0625


def test_what_did_not_arrive_is_named_first():
    rows = {"aa": DAY[0], "bb": DAY[1]}
    outcomes = [("aa", "stored"), ("bb", "refused"), ("cc", "stored")]
    lines = outcome_lines(outcomes, rows)
    assert [line.name for line in lines] == ["Birch", "Ash", "A note"]
    assert [line.has_arrived for line in lines] == [False, True, True]
    assert outcome_summary(lines).startswith("2 arrived, 1 did not.")
    assert outcome_summary(lines[1:]) == "All 2 arrived."


@pytest.mark.parametrize("outcome", ["stored", "had already", "revision", "fork"])
def test_only_a_signed_receipt_permits_deletion(outcome):
    assert is_deletable(words.RECEIVED, outcome)
    for state in (words.WAITING, words.SHOWN, words.RECEIVED_BY_CODE):
        assert not is_deletable(state, outcome)


@pytest.mark.parametrize("outcome", ["quarantined", "refused"])
def test_what_the_clinic_did_not_keep_is_never_deletable(outcome):
    assert not is_deletable(words.RECEIVED, outcome)


def test_the_question_before_deleting_says_what_is_lost():
    assert "cannot be read again" in delete_question(2)


def test_the_tries_left_are_counted_down_in_words():
    assert "4 tries are left" in wrong_code_words(4)
    assert "One try is left" in wrong_code_words(1)
    assert "Only the clinic's signed receipt" in wrong_code_words(0)


def test_before_the_first_code_there_is_one_white_pixel_and_no_missing_picture():
    picture = Image.open(io.BytesIO(NO_CODE)).convert("L")
    assert (picture.size, modules_of(NO_CODE)) == ((1, 1), 1)
    assert picture.getpixel((0, 0)) == 255

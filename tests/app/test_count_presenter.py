"""What the count timer shows at each moment, and what a run of taps says."""

from hypothesis import given
from hypothesis import strategies as st

from exam_app.app.view import count_presenter as counts
from exam_app.app.view.count_presenter import CountPhase, frame_at
from exam_app.domain.measure.counting import CountAlong, CountKind
from tests.exam_samples import PROTOCOL, new_exam


def test_the_lead_in_shows_three_two_one_before_anything_is_counted():
    shown = [frame_at(ms, 15, CountKind.HEART).big for ms in (0, 999, 1000, 2999)]
    assert shown == ["3", "3", "2", "1"]
    assert frame_at(2999, 15, CountKind.HEART).phase is CountPhase.LEAD_IN


def test_the_window_opens_with_a_flash_and_then_counts_down():
    start = frame_at(3000, 15, CountKind.BREATH)
    assert (start.phase, start.big, start.is_flash) == (
        CountPhase.COUNTING,
        "COUNT",
        True,
    )
    after = frame_at(3700, 15, CountKind.BREATH)
    assert (after.big, after.is_flash) == ("15", False)
    assert "breaths" in after.caption


def test_the_window_is_exactly_as_long_as_chosen():
    last, over = 3000 + 15_000 - 1, 3000 + 15_000
    assert frame_at(last, 15, CountKind.HEART).phase is CountPhase.COUNTING
    assert frame_at(over, 15, CountKind.HEART).phase is CountPhase.OVER
    assert frame_at(over, 15, CountKind.HEART).is_flash


@given(st.integers(0, 400_000), st.sampled_from((10, 15, 20, 30, 60, 120, 300)))
def test_a_frame_stands_until_the_next_one_differs_and_never_longer_than_a_second(
    elapsed_ms, seconds
):
    frame = frame_at(elapsed_ms, seconds, CountKind.HEART)
    assert 0 <= frame.until_next_ms <= 1000
    if frame.until_next_ms > 1:
        before_next = elapsed_ms + frame.until_next_ms - 1
        same = frame_at(before_next, seconds, CountKind.HEART)
        assert (same.big, same.is_flash) == (frame.big, frame.is_flash)


def test_digits_of_the_count_are_pressed_and_taken_back():
    assert counts.pad_digits(counts.pad_digits("", "3"), "1") == "31"
    assert counts.pad_digits("31", "erase") == "3"
    assert counts.pad_digits("0", "7") == "7"
    assert counts.pad_digits("123", "4") == "123"


def test_a_typed_count_shows_the_rate_and_how_it_was_reached():
    assert counts.counted("31", 15) == CountAlong(31, 15)
    assert counts.basis_text("31", 15) == "31 in 15 s × 4 = 124/min, ± 4"
    assert counts.basis_text("", 15) == ""


def test_a_count_of_zero_is_a_count_and_no_digit_is_none():
    assert counts.counted("0", 60) == CountAlong(0, 60)
    assert counts.counted("", 60) is None


def test_six_even_taps_half_a_second_apart_are_120_a_minute():
    run = ()
    for at_ms in range(1000, 4000, 500):
        run = counts.tap(run, at_ms)
    found = counts.tap_summary(run)
    # Five intervals in 2.5 s: (taps - 1) / (last - first).
    assert found.big.startswith("120.0/min")
    assert found.is_enough
    assert "500–500 ms" in found.spread


def test_five_taps_are_too_few_and_the_screen_says_how_many_are_missing():
    run = (0, 500, 1000, 1500, 2000)
    found = counts.tap_summary(run)
    assert (found.is_enough, found.spread) == (False, "1 more to go")
    assert counts.tap_summary(run, CountKind.BREATH).big == "Tap each breath"


def test_one_touch_reported_twice_in_the_same_millisecond_is_one_tap():
    run = counts.tap(counts.tap((), 10), 10)
    assert len(run) == 1


def test_a_missed_tap_is_hinted_at_and_no_word_is_said_about_the_rhythm():
    run = (0, 500, 1000, 2000, 2500, 3000, 3500)
    found = counts.tap_summary(run)
    assert "may have been missed" in found.hint
    assert "regular" not in f"{found.big} {found.spread} {found.hint}"


def test_a_rate_above_one_hundred_is_offered_thirty_seconds_first():
    heart = PROTOCOL.vital("heart_rate")
    assert heart is not None
    # Hollerbach 1990: 15 s counts were unreliable above 100/min.
    assert counts.windows_for(new_exam(), PROTOCOL, heart)[0] == 30
    assert counts.count_kind(heart) is CountKind.HEART

"""Lumps: sizes as measured, and a difference stated only beyond the error."""

from dataclasses import fields, replace
from decimal import Decimal

import cattrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.domain.errors import LumpSizeError, UnitMismatchError
from exam_app.domain.lumps.lumps import (
    LUMP_LENGTH,
    Consistency,
    Lump,
    LumpDepth,
    LumpPain,
    LumpSize,
    LumpTool,
    Mobility,
    Surface,
    compare_lumps,
    longest_mm,
    require_lump_size,
    show_lump_size,
)
from exam_app.domain.measure.units import Reading, parse_reading


def size(*typed, tool=LumpTool.CALLIPER, direction="along the body", by="Kim"):
    readings = tuple(parse_reading(text, "mm", LUMP_LENGTH) for text in typed)
    return LumpSize(readings, tool, direction, by)


def lump(*typed, second=None, **how):
    return Lump(LumpDepth.UNDER_SKIN, size(*typed, **how), second)


def test_a_size_is_shown_as_measured_with_tool_direction_and_person():
    assert show_lump_size(size("12", "8")) == (
        "12 × 8 mm (calliper, along the body, Kim)"
    )
    assert show_lump_size(size("1.2 cm", "0.8 cm", "0.5 cm", direction="")) == (
        "1.2 × 0.8 × 0.5 cm (calliper, Kim)"
    )
    assert show_lump_size(size("0.5 in", tool=LumpTool.RULER)) == (
        "0.5 in (ruler, along the body, Kim)"
    )


def test_sizes_in_two_units_each_keep_their_own():
    assert show_lump_size(size("1.2 cm", "8 mm", tool=LumpTool.TAPE)) == (
        "1.2 cm × 8 mm (tape, along the body, Kim)"
    )


@pytest.mark.reference
def test_length_by_width_is_never_an_area():
    # Rogers 2010: length x width overstated the area of wounds by about 41 %.
    before, now = lump("12", "8"), lump("80", "60")
    said = show_lump_size(now.size) + compare_lumps(before, now)
    for product in ("4800", "96", "mm²", "cm²", "mm2", "area", "volume", "square"):
        assert product not in said
    names = {field.name for cls in (Lump, LumpSize) for field in fields(cls)}
    assert not {name for name in names if "area" in name or "volume" in name}


def test_the_longest_is_found_whatever_the_order_and_unit():
    assert longest_mm(lump("8", "1.2 cm")) == Decimal("12.0")
    assert longest_mm(lump("1 in")) == Decimal("25.4")


def test_two_measurings_count_as_their_mean():
    assert longest_mm(lump("12", second=size("15"))) == Decimal("13.5")


@pytest.mark.parametrize("typed", [(), ("1", "2", "3", "4"), ("0",), ("5", "0")])
def test_a_lump_without_a_length_above_zero_is_refused(typed):
    with pytest.raises(LumpSizeError) as refusal:
        require_lump_size(size(*typed))
    assert str(refusal.value)
    with pytest.raises(LumpSizeError):
        longest_mm(lump(*typed))


def test_a_weight_is_no_size():
    heavy = LumpSize((Reading("1 kg", "kg", Decimal(1)),), LumpTool.TAPE, "", "Kim")
    with pytest.raises(UnitMismatchError):
        require_lump_size(heavy)


LARGER = "Larger by more than the measuring error"
SMALLER = "Smaller by more than the measuring error"
NOT_CERTAIN = "not beyond the measuring error"
NOT_COMPARABLE = "judged by eye is not compared"


def trend_of(change):
    """Return which of the four things is said, and no other."""
    said = (LARGER, SMALLER, NOT_CERTAIN, NOT_COMPARABLE)
    (trend,) = (words for words in said if words in change)
    return trend


@pytest.mark.reference
@pytest.mark.parametrize(
    ("before", "now", "trend"),
    [
        # Ranganathan 2018, within one rater: limits of agreement up to 28.1 mm.
        ("20", "48.1", NOT_CERTAIN),
        ("20", "48.2", LARGER),
        ("48.1", "20", NOT_CERTAIN),
        ("48.2", "20", SMALLER),
        ("20", "20", NOT_CERTAIN),
    ],
)
def test_one_person_states_growth_only_beyond_28_mm(before, now, trend):
    change = compare_lumps(lump(before), lump(now))
    assert trend_of(change) == trend
    assert ("one person can differ by 11.9 to 28.1 mm" in change) is (
        trend == NOT_CERTAIN
    )


@pytest.mark.reference
@pytest.mark.parametrize(
    "other",
    [{"by": "Lee"}, {"tool": LumpTool.RULER}, {"direction": "across the body"}],
)
def test_two_people_tools_or_directions_state_growth_only_beyond_56_mm(other):
    # Ranganathan 2018, between raters: limits of agreement up to 55.6 mm.
    within = compare_lumps(lump("20"), lump("75.6", **other))
    beyond = compare_lumps(lump("20"), lump("75.7", **other))
    assert trend_of(within) == NOT_CERTAIN
    assert trend_of(beyond) == LARGER
    assert "can differ by 15.9 to 55.6 mm" in within


@pytest.mark.parametrize("unknown", [{"by": ""}, {"direction": ""}])
def test_an_unnamed_person_or_direction_is_not_taken_for_the_same(unknown):
    change = compare_lumps(lump("20", **unknown), lump("50", **unknown))
    assert "15.9 to 55.6 mm" in change


def test_a_second_measuring_by_someone_else_takes_the_wider_error():
    both = lump("50", second=size("50", by="Lee"))
    assert "15.9 to 55.6 mm" in compare_lumps(lump("20"), both)


def test_a_size_judged_by_eye_is_not_compared():
    change = compare_lumps(lump("20", tool=LumpTool.BY_EYE), lump("120"))
    assert trend_of(change) == NOT_COMPARABLE
    assert "20.0 mm before, 120.0 mm now" in change
    second = lump("20", second=size("20", tool=LumpTool.BY_EYE))
    assert trend_of(compare_lumps(lump("20"), second)) == NOT_COMPARABLE


def test_a_small_lump_that_doubled_is_shown_and_not_called_unchanged():
    change = compare_lumps(lump("10"), lump("20"))
    assert change == (
        "Longest 10.0 mm before, 20.0 mm now. The difference is not beyond the "
        "measuring error: one person can differ by 11.9 to 28.1 mm. "
        "This does not mean unchanged."
    )


def test_growth_beyond_the_error_is_said_plainly():
    change = compare_lumps(lump("20"), lump("60"))
    assert change == (
        "Longest 20.0 mm before, 60.0 mm now. Larger by more than the measuring error."
    )


lengths = st.integers(1, 3000).map(lambda tenths: f"{Decimal(tenths) / 10}")


@given(first=lengths, second=lengths)
def test_turning_the_comparison_round_turns_the_answer_round(first, second):
    opposite = {
        LARGER: SMALLER,
        SMALLER: LARGER,
        NOT_CERTAIN: NOT_CERTAIN,
    }
    there = trend_of(compare_lumps(lump(first), lump(second)))
    back = trend_of(compare_lumps(lump(second), lump(first)))
    assert back == opposite[there]


@given(first=lengths, second=lengths)
def test_whatever_two_people_may_state_one_person_may_state_too(first, second):
    alone = trend_of(compare_lumps(lump(first), lump(second)))
    apart = trend_of(compare_lumps(lump(first), lump(second, by="Lee")))
    assert apart in {alone, NOT_CERTAIN}


def test_a_lump_survives_being_stored():
    whole = replace(
        lump("12", "8", second=size("13", "8")),
        consistency=Consistency.FIRM,
        mobility=Mobility.MOVES_FREELY,
        surface=Surface.SMOOTH,
        pain=LumpPain.NONE_SHOWN,
    )
    converter = cattrs.Converter()
    converter.register_unstructure_hook(Decimal, str)
    converter.register_structure_hook(Decimal, lambda text, _: Decimal(text))
    for found in (whole, lump("12")):
        stored = converter.unstructure(found)
        assert converter.structure(stored, Lump) == found

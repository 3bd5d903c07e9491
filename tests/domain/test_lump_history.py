"""A lump over time: laid beside the earlier one, and larger only beyond error."""

from dataclasses import replace

import pytest

from exam_app.app.exam_start import open_findings
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.lumps.lump_history import earlier_lumps, lump_line
from exam_app.domain.lumps.lumps import LUMP_LENGTH, Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.measure.units import parse_reading
from exam_app.domain.wording.region_wording import finding_lines
from exam_app.record.plain_form import from_plain, to_plain
from tests.exam_samples import BY, PROTOCOL, new_exam

KEY = "nose"


def lump(*typed, by="Kim"):
    readings = tuple(parse_reading(text, "mm", LUMP_LENGTH) for text in typed)
    size = LumpSize(readings, LumpTool.CALLIPER, "along the body", by)
    return Lump(LumpDepth.UNDER_SKIN, size)


def found(number, *typed, place="", **how):
    return Finding(f"{number:032x}", "lump", BY, place=place, lump=lump(*typed, **how))


def earlier(*findings):
    """Open findings of an earlier record that holds these."""
    last = replace(new_exam(), regions={KEY: RegionEntry(findings=findings)})
    return open_findings(last, PROTOCOL)


def exam_with(before, *findings):
    regions = {KEY: RegionEntry(findings=findings)}
    return replace(new_exam(), regions=regions, earlier=before)


def test_earlier_lump_keeps_its_size_and_goes_on_to_the_exam_after_next():
    first = earlier(found(1, "22 mm", "18 mm"))
    assert first[0].lump == lump("22 mm", "18 mm")
    next_exam = replace(new_exam(), earlier=first)
    assert open_findings(next_exam, PROTOCOL)[0].lump == lump("22 mm", "18 mm")


def test_size_of_an_earlier_lump_survives_the_draft():
    exam = exam_with(earlier(found(1, "22 mm")))
    assert from_plain(Exam, to_plain(exam)) == exam


def test_two_people_within_the_error_are_not_called_unchanged():
    now = found(2, "40 mm", by="Alex")
    line = lump_line(exam_with(earlier(found(1, "22 mm")), now), KEY, now)
    assert "Longest 22.0 mm before, 40.0 mm now." in line
    assert "This does not mean unchanged." in line
    assert "if it is the same one" in line


@pytest.mark.reference
def test_larger_is_said_only_beyond_the_published_limit_of_one_person():
    # Ranganathan 2018: up to 28.1 mm between two measurings of one rater.
    before = earlier(found(1, "22 mm", "10 mm"))
    within, beyond = found(2, "50 mm", "10 mm"), found(2, "50.2 mm", "10 mm")
    assert "Larger" not in lump_line(exam_with(before, within), KEY, within)
    line = lump_line(exam_with(before, beyond), KEY, beyond)
    assert "Larger by more than the measuring error." in line
    assert "mm²" not in line


def test_among_several_lumps_only_the_same_place_is_laid_beside():
    there, elsewhere = found(1, "22 mm", place="left flank"), found(2, "9 mm")
    before = earlier(there, elsewhere)
    now = found(3, "24 mm", place="left flank")
    other = found(4, "9 mm", place="right flank")
    exam = exam_with(before, now, other)
    assert "22.0 mm before" in lump_line(exam, KEY, now)
    assert "at this place" in lump_line(exam, KEY, now)
    assert lump_line(exam, KEY, other) == ""


def test_lump_called_gone_or_of_another_region_is_not_laid_beside():
    before = earlier(found(1, "22 mm"))[0]
    now = found(2, "24 mm")
    gone = exam_with((replace(before, outcome=EarlierOutcome.GONE),), now)
    away = exam_with((replace(before, key="heart"),), now)
    assert lump_line(gone, KEY, now) == lump_line(away, KEY, now) == ""
    assert earlier_lumps(gone, KEY) == ()


def test_lump_that_was_not_measured_before_has_nothing_beside_it():
    words = EarlierFinding("e" * 32, "f" * 32, KEY, "2025-01-01", "lump")
    now = found(2, "24 mm")
    assert lump_line(exam_with((words,), now), KEY, now) == ""


def test_size_nobody_could_measure_leaves_the_record_readable():
    impossible = replace(lump("22 mm").size, dimensions=())
    before = replace(
        earlier(found(1, "22 mm"))[0], lump=replace(lump("22 mm"), size=impossible)
    )
    now = found(2, "24 mm")
    assert lump_line(exam_with((before,), now), KEY, now) == ""


def test_written_record_holds_the_line_right_after_the_lump():
    now = found(2, "24 mm")
    lines = finding_lines(exam_with(earlier(found(1, "22 mm")), now), PROTOCOL)
    place = next(i for i, line in enumerate(lines) if "24 mm" in line)
    assert "Longest 22.0 mm before, 24.0 mm now." in lines[place + 1]

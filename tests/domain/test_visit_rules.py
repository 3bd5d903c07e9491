"""What surrounds the exam: haste, continuations, kennel cards, private notes, bites."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.domain.errors import ExamClosedError, UnknownItemError
from exam_app.domain.exam.closing import close, continuation, stop_early
from exam_app.domain.exam.continued import combined
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import EarlierOutcome, Finding
from exam_app.domain.exam.people import Attribution, Role
from exam_app.domain.exam.region_states import Conclusion, RegionEntry
from exam_app.domain.exam.review import hasty_span
from exam_app.domain.exam.transitions import (
    answer_earlier,
    assert_no_abnormality,
    mark_not_examined,
)
from exam_app.domain.exam.visit import (
    BiteHistory,
    Care,
    ChipScan,
    Given,
    Intake,
    Plan,
    Presentation,
    PrivateNote,
    Procedure,
    Sample,
)
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.kennel_card import is_by_veterinarian, kennel_card
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import BY, NOW, PROTOCOL, TECHNICIAN, VETERINARIAN, new_exam

IDS = ("1" * 32,)


def at(ms):
    moment = Moment(NOW.utc_ms + ms, NOW.offset_min)
    who = TECHNICIAN.person_id
    return Attribution(who, who, moment, moment)


def tapped(times_ms):
    entries = {
        f"part{number}": RegionEntry(
            Conclusion.ASSERTED, asserted=("even",), attribution=at(ms)
        )
        for number, ms in enumerate(times_ms)
    }
    return new_exam(regions=entries)


def stopped_exam():
    exam = assert_no_abnormality(new_exam(), PROTOCOL, ("nose",), Role.TECHNICIAN, BY)
    exam = add_finding(exam, PROTOCOL, "eyes.left", Finding("f1", "wound", BY), "u")
    exam = mark_not_examined(exam, PROTOCOL, "eyes.left", "unsafe", BY)
    exam = stop_early(exam, PROTOCOL, StopReason.UNSAFE, "", BY)
    return close(exam, PROTOCOL, TECHNICIAN, NOW)


def test_twelve_parts_in_ten_seconds_are_asked_about():
    span = hasty_span(tapped(range(0, 12 * 900, 900)))
    assert span is not None
    assert (len(span.keys), span.seconds) == (12, 10)


def test_eleven_parts_in_ten_seconds_are_not_asked_about():
    assert hasty_span(tapped(range(0, 11 * 900, 900))) is None


def test_twelve_parts_in_eleven_seconds_are_not_asked_about():
    assert hasty_span(tapped(range(0, 12_001, 1000))) is None


@given(st.lists(st.integers(0, 60_000), max_size=40))
def test_haste_is_found_exactly_where_a_plain_count_finds_it(times):
    dense = max((sum(t <= u <= t + 10_000 for u in times) for t in times), default=0)
    span = hasty_span(tapped(times))
    assert (span is not None) == (dense >= 12)
    if span is not None:
        assert len(span.keys) == dense


def test_combined_view_closes_the_gaps_and_keeps_the_findings_of_both():
    first = stopped_exam()
    second = continuation(first, PROTOCOL, "d" * 32, VETERINARIAN, NOW)
    for key in ("eyes.right", "heart", "tail"):
        second = assert_no_abnormality(second, PROTOCOL, (key,), Role.TECHNICIAN, BY)
    found = Finding("f2", "scratch", BY, side="left")
    second = add_finding(second, PROTOCOL, "eyes.left", found, "u")
    reading = Reading("9.5", "kg", Decimal("9.5"))
    entry = VitalEntry(reading=reading)
    second = record_vital(second, PROTOCOL, "weight", entry, BY, IDS)
    refused = VitalEntry(reason="refused")
    second = record_vital(second, PROTOCOL, "temperature", refused, BY, IDS)
    for known in second.earlier:
        same = EarlierOutcome.SAME
        second = answer_earlier(second, PROTOCOL, known.finding_id, same)
    closed = close(second, PROTOCOL, VETERINARIAN, NOW)
    view = combined(first, (closed,), PROTOCOL)
    text = write_record(view, PROTOCOL).as_text()
    assert "Not done: temperature (refused)" in text
    assert "wound" in text
    assert "scratch" in text
    assert "Weight: 9.5 kg" in text
    assert VETERINARIAN in view.people


def test_continuation_never_replaces_an_answer():
    first = stopped_exam()
    second = continuation(first, PROTOCOL, "d" * 32, VETERINARIAN, NOW)
    other = RegionEntry(Conclusion.NOT_EXAMINED, reason="x", attribution=BY)
    second = replace(second, regions={"nose": other})
    entry = combined(first, (second,), PROTOCOL).entry("nose")
    assert replace(entry, remark="") == first.entry("nose")
    assert entry.remark == "in the continuation not examined: x"


@pytest.mark.parametrize("scope", [Scope.INTAKE, Scope.TECHNICIAN, Scope.VETERINARIAN])
def test_private_note_stands_in_the_veterinarians_form_only(scope):
    exam = record_visit(new_exam(scope), PrivateNote("rope mark, old", BY))
    everywhere = write_record(exam, PROTOCOL).as_text()
    card = str(kennel_card(exam, was_seen_by_veterinarian=False))
    assert "rope mark" not in everywhere
    assert "rope mark" not in card
    private = write_record(exam, PROTOCOL, for_veterinarian=True).as_text()
    assert "rope mark, old" in private


def test_bite_stands_in_the_headline_of_every_record():
    exam = record_visit(new_exam(), BiteHistory("bit a neighbour", "two days ago"))
    line = "BITE OR SCRATCH: bit a neighbour, two days ago"
    assert line in write_record(exam, PROTOCOL).headline


def test_kennel_card_warns_first_and_says_when_no_veterinarian_has_seen():
    exam = record_visit(new_exam(), Intake(kind="stray", hold_until="Friday"))
    exam = record_visit(exam, BiteHistory("bit a child"))
    exam = record_visit(exam, Care("kennel cough", "from midnight", "eye drops 18:00"))
    lines = kennel_card(exam, was_seen_by_veterinarian=False)
    assert [label for label, _ in lines[:4]] == [
        "BITE OR SCRATCH",
        "ISOLATION",
        "NOTHING BY MOUTH",
        "VETERINARIAN",
    ]
    assert ("Hold until", "Friday") in lines
    assert ("Medication due", "eye drops 18:00") in lines


def test_kennel_card_marks_an_estimated_weight_and_says_why_there_is_none():
    guess = VitalEntry(reading=Reading("10", "kg", Decimal(10)), is_estimate=True)
    exam = record_vital(new_exam(), PROTOCOL, "weight", guess, BY, IDS)
    assert ("Weight", "about 10 kg (estimate)") in kennel_card(
        exam, was_seen_by_veterinarian=True
    )
    none = VitalEntry(reason="no scale")
    exam = record_vital(new_exam(), PROTOCOL, "weight", none, BY, IDS)
    assert ("Weight", "not weighed: no scale") in kennel_card(
        exam, was_seen_by_veterinarian=True
    )


def test_intake_by_a_veterinarian_counts_as_not_yet_seen():
    people = {"people": (VETERINARIAN,), "started_by": VETERINARIAN.person_id}
    assert not is_by_veterinarian(new_exam(Scope.INTAKE, **people))
    assert is_by_veterinarian(new_exam(Scope.VETERINARIAN, **people))


def test_chip_scan_with_no_number_says_none_found_on_this_scan():
    exam = record_visit(new_exam(), ChipScan("intake", (), 3, "wand", BY))
    exam = record_visit(exam, Intake(kind="stray"))
    text = write_record(exam, PROTOCOL).as_text()
    assert "Chip scan: none found on this scan (intake, 3 passes, wand)" in text


def test_scan_that_was_not_made_claims_nothing():
    scan = ChipScan("intake", (), 0, "", BY, not_done="no reader")
    text = write_record(record_visit(new_exam(), scan), PROTOCOL).as_text()
    assert "intake: not scanned: no reader" in text
    assert "none found" not in text


def test_everything_around_the_exam_is_written():
    exam = record_visit(new_exam(), Presentation("a neighbour", "limps"))
    exam = record_visit(
        exam, Given("saline", BY, dose="5 mL", lot="L7", ordered_by="MO")
    )
    exam = record_visit(exam, Procedure("bandage", BY, "left fore"))
    exam = record_visit(exam, Sample("blood", BY, "tube 4", "cell count"))
    exam = record_visit(exam, Plan("see again", recheck="in a week", owner_told="rest"))
    text = write_record(exam, PROTOCOL).as_text()
    for words in (
        "Presented by: a neighbour",
        "Presenting complaint: limps",
        "saline, 5 mL, lot L7, given by Ines Corvo (technician), ordered by MO",
        "Does not replace the controlled-drug log.",
        "bandage, left fore",
        "blood, label tube 4, cell count",
        "Re-check: in a week",
        "Owner was told: rest",
    ):
        assert words in text


def test_closed_exam_refuses_what_surrounds_it_too():
    closed = stopped_exam()
    changes = [
        lambda: record_visit(closed, Presentation()),
        lambda: record_visit(closed, Intake()),
        lambda: record_visit(closed, ChipScan("intake", (), 1, "", BY)),
        lambda: record_visit(closed, BiteHistory()),
        lambda: record_visit(closed, Given("x", BY)),
        lambda: record_visit(closed, Procedure("x", BY)),
        lambda: record_visit(closed, Sample("x", BY)),
        lambda: record_visit(closed, Plan()),
        lambda: record_visit(closed, Care()),
        lambda: record_visit(closed, PrivateNote("x", BY)),
    ]
    for change in changes:
        with pytest.raises(ExamClosedError):
            change()


@pytest.mark.parametrize(
    "change",
    [
        lambda exam: record_visit(exam, Given(" ", BY)),
        lambda exam: record_visit(exam, Procedure("", BY)),
        lambda exam: record_visit(exam, Sample("", BY)),
        lambda exam: record_visit(exam, PrivateNote("", BY)),
    ],
)
def test_entry_without_words_is_refused(change):
    with pytest.raises(UnknownItemError):
        change(new_exam())

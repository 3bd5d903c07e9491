"""A correction stands beside what it corrects, in every form of the record."""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.app.exam_words import closed_line, draft_line
from exam_app.domain.exam.closing import close, continuation, stop_early
from exam_app.domain.exam.continued import answered_again, combined
from exam_app.domain.exam.corrections import (
    NothingCorrectedError,
    NotYoursToReviseError,
    begin_correction,
    close_correction,
    may_revise,
    said_of,
    statements,
)
from exam_app.domain.exam.exam import Correction, StopReason
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.transitions import assert_no_abnormality
from exam_app.domain.exam.visit import Given
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.wording.written_record import write_record
from exam_app.export.fhir import exam_bundle
from exam_app.export.tables import exam_rows
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from tests.exam_samples import (
    BY,
    HASH,
    NOW,
    PROTOCOL,
    TECHNICIAN,
    VETERINARIAN,
    new_exam,
)

LATER = Moment(NOW.utc_ms + 3_600_000, NOW.offset_min)
COLLEAGUE = Person("d" * 32, "Jo Wick", Role.TECHNICIAN, "JW")
BY_COLLEAGUE = Attribution(COLLEAGUE.person_id, COLLEAGUE.person_id, LATER, LATER)
KEYS = ("nose", "eyes.left", "eyes.right", "heart", "tail")
WHY = "two digits the wrong way round"


def weighed(exam, typed, by=BY):
    entry = VitalEntry(reading=Reading(typed, "kg", Decimal(typed)))
    return record_vital(exam, PROTOCOL, "weight", entry, by, ("0" * 32,) * 8)


def closed_record():
    exam = weighed(new_exam(), "42.6")
    warm = VitalEntry(reading=Reading("38.0", "degC", Decimal("38.0")), site="rectal")
    exam = record_vital(exam, PROTOCOL, "temperature", warm, BY, ("0" * 32,) * 8)
    for key in KEYS:
        exam = assert_no_abnormality(exam, PROTOCOL, (key,), Role.TECHNICIAN, BY)
    exam = record_visit(exam, Given("meloxicam", BY, "0.2 mg/kg"))
    return close(exam, PROTOCOL, TECHNICIAN, NOW)


def corrected(first, *changes, closer=COLLEAGUE):
    draft = begin_correction(first, HASH, WHY, BY_COLLEAGUE)
    draft = replace(draft, people=(*draft.people, COLLEAGUE))
    for change in changes:
        draft = change(draft)
    return close_correction(draft, first, PROTOCOL, closer, LATER)


def right_weight(exam):
    return weighed(exam, "24.6", BY_COLLEAGUE)


def wound(exam):
    found = Finding("1" * 32, "wound", BY_COLLEAGUE, term_id="nose_wound")
    return add_finding(exam, PROTOCOL, "nose", found, "2" * 32)


def other_drug(exam):
    return replace(exam, given=(replace(exam.given[0], dose="0.1 mg/kg"),))


def line_of(exam, start):
    """Return the last line that starts so: its own, after the list of corrections."""
    lines = write_record(exam, PROTOCOL).as_text().splitlines()
    return [line for line in lines if line.startswith(start)][-1]


def test_a_corrected_weight_stands_beside_the_one_before_in_the_text():
    exam = corrected(closed_record(), right_weight)
    assert (
        line_of(exam, "- Weight:") == "- Weight: 24.6 kg [CORRECTED, before: 42.6 kg]"
    )
    record = write_record(exam, PROTOCOL)
    told = next(s for s in record.sections if s.heading.startswith("Corrections"))
    assert told.lines == (
        "Weight: 24.6 kg; before: 42.6 kg. Corrected "
        f"{LATER.local():%Y-%m-%d %H:%M} by Jo Wick (technician): {WHY}",
    )
    assert "CORRECTED after closing: Weight" in record.headline
    assert record.title.startswith("Technician exam, correction 1:")


def test_a_corrected_weight_stands_beside_the_one_before_in_the_table():
    exam = corrected(closed_record(), right_weight)
    rows = exam_rows(exam, PROTOCOL)
    weights = [row for row in rows if row["item"] == "Weight"]
    weight = next(row for row in weights if row["kind"] == "vital")
    assert (weight["value"], weight["words"]) == (
        "24.6",
        "24.6 kg [CORRECTED, before: 42.6 kg]",
    )
    (row,) = [row for row in rows if row["kind"] == "correction"]
    assert "24.6 kg; before: 42.6 kg" in row["words"]


def test_a_corrected_weight_stands_beside_the_one_before_for_other_programs():
    bundle = exam_bundle(corrected(closed_record(), right_weight), PROTOCOL, "1" * 64)
    resources = [entry["resource"] for entry in bundle["entry"]]
    weight = next(
        one for one in resources if one.get("code", {}).get("text") == "Weight"
    )
    assert weight["valueQuantity"]["value"] == Decimal("24.6")
    assert weight["status"] == "amended"
    assert {"text": "CORRECTED, before: 42.6 kg"} in weight["note"]
    titles = [part["title"] for part in resources[0]["section"]]
    assert "Corrections after closing" in titles


def test_a_part_that_turns_out_not_to_be_free_of_abnormality_says_both():
    exam = corrected(closed_record(), wound)
    text = write_record(exam, PROTOCOL).as_text()
    assert "- Nose: wound [CORRECTED, before: no abnormality found: nose even" in text
    assert "CORRECTED after closing: Nose" in text


def test_what_was_given_is_corrected_line_beside_line():
    exam = corrected(closed_record(), other_drug)
    line = line_of(exam, "- Given: ")
    assert "meloxicam, 0.1 mg/kg" in line
    assert "before: meloxicam, 0.2 mg/kg" in line


def test_who_examined_and_when_stays_beside_a_corrected_answer():
    entry = corrected(closed_record(), right_weight).vital("weight")
    assert entry.attribution.examined_by == TECHNICIAN.person_id
    assert entry.attribution.observed == NOW
    assert entry.attribution.entered_by == COLLEAGUE.person_id
    assert entry.attribution.entered == LATER


def test_corrections_of_a_correction_all_stand():
    first = corrected(closed_record(), right_weight)
    second = corrected(first, lambda e: weighed(e, "24.8", BY_COLLEAGUE))
    line = line_of(second, "- Weight:")
    assert line == (
        "- Weight: 24.8 kg [CORRECTED, before: 42.6 kg; CORRECTED, before: 24.6 kg]"
    )
    assert second.revision == 2


def test_the_record_that_is_corrected_is_not_changed():
    first = closed_record()
    before = write_record(first, PROTOCOL).as_text()
    corrected(first, right_weight)
    assert write_record(first, PROTOCOL).as_text() == before
    assert "42.6 kg" in before


def test_another_role_writes_a_note_and_revises_nothing():
    first = closed_record()
    assert may_revise(first, COLLEAGUE)
    assert not may_revise(first, VETERINARIAN)
    with pytest.raises(NotYoursToReviseError):
        corrected(first, right_weight, closer=VETERINARIAN)


def test_a_correction_that_changes_nothing_is_refused():
    with pytest.raises(NothingCorrectedError):
        corrected(closed_record())
    with pytest.raises(NothingCorrectedError):
        corrected(closed_record(), lambda e: weighed(e, "42.6", BY_COLLEAGUE))


def test_a_note_says_beside_the_value_what_it_should_read():
    first = closed_record()
    beside = (Correction("Weight", "42.6 kg", "24.6 kg", "Dr Mar Ondine"),)
    text = write_record(first, PROTOCOL, beside=beside).as_text()
    assert "- Weight: 42.6 kg [A NOTE SAYS IT SHOULD READ: 24.6 kg]" in text
    assert "recorded 42.6 kg; a note says it should read: 24.6 kg" in text
    rows = exam_rows(first, PROTOCOL, (), beside)
    assert any("SHOULD READ: 24.6 kg" in row["words"] for row in rows)
    bundle = exam_bundle(first, PROTOCOL, "1" * 64, corrections=beside)
    assert "A NOTE SAYS IT SHOULD READ: 24.6 kg" in str(bundle)


def test_a_value_entered_again_in_a_continuation_stands_with_the_first_one():
    first = stop_early(
        weighed(new_exam(), "42.6"), PROTOCOL, StopReason.ESCAPED, "", BY
    )
    first = close(first, PROTOCOL, TECHNICIAN, NOW)
    second = weighed(new_exam(exam_id="f" * 32, continues=first.exam_id), "24.6")
    view = combined(first, (second,), PROTOCOL)
    line = line_of(view, "- Weight:")
    assert line == "- Weight: 24.6 kg [ANSWERED AGAIN, before: 42.6 kg]"
    refused = VitalEntry(reason="refused")
    third = replace(second, vitals={"weight": refused})
    assert line_of(combined(first, (third,), PROTOCOL), "- Weight:") == (
        "- Weight: 42.6 kg; in the continuation refused"
    )


def test_a_draft_of_a_correction_says_so_and_why():
    draft = begin_correction(closed_record(), HASH, WHY, BY_COLLEAGUE)
    record = write_record(draft, PROTOCOL)
    assert f"A CORRECTION of a closed record, not signed yet: {WHY}" in record.headline
    assert "Correction of a closed record" in draft_line(OpenExam("e1", revision=1))
    assert "Corrected" in closed_line(ClosedExam(exam_id="e1", revision=1))


def test_every_answer_is_a_statement_that_can_be_corrected():
    said = dict(statements(closed_record(), PROTOCOL))
    assert said["Weight"] == "42.6 kg"
    assert said["Nose"].startswith("no abnormality found: nose even")
    assert said["Given"].startswith("Does not replace") or "meloxicam" in said["Given"]
    assert "Animal" in said


def test_two_continuations_of_one_record_are_both_read_and_say_so():
    first = stop_early(new_exam(), PROTOCOL, StopReason.ESCAPED, "", BY)
    first = close(first, PROTOCOL, TECHNICIAN, NOW)
    one = continuation(first, PROTOCOL, "1" * 32, TECHNICIAN, NOW)
    one = assert_no_abnormality(one, PROTOCOL, ("nose",), Role.TECHNICIAN, BY)
    two = continuation(first, PROTOCOL, "2" * 32, COLLEAGUE, LATER)
    two = replace(wound(two), closing=first.closing)
    view = combined(first, (one, two), PROTOCOL)
    text = write_record(view, PROTOCOL).as_text()
    assert "ANSWERED AGAIN in a continuation, both stand: Nose" in text
    assert "- Nose: wound [ANSWERED AGAIN, before: no abnormality found" in text
    assert answered_again(one, two) == ("nose",)
    assert answered_again(first, one) == ()


def test_an_item_is_shown_without_its_section_and_loses_nothing_else():
    exam = corrected(closed_record(), wound)
    shown = [
        (item, said_of(words, exam, PROTOCOL))
        for item, words in statements(exam, PROTOCOL)
    ]
    assert ("Exam place", "clinic") in shown
    assert ("Weight", "42.6 kg") in shown
    assert ("Nose", "wound") in shown
    assert said_of("apart from that: no pain", exam, PROTOCOL) == (
        "apart from that: no pain"
    )

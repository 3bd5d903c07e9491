"""Records as a table: nothing is lost, converted, called normal, or run."""

import csv
import io
from dataclasses import replace

from exam_app.domain.exam.findings import Call, Finding
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.exam.visit import Photo, PrivateNote
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import parse_reading
from exam_app.export.tables import as_csv, exam_rows
from tests.exam_samples import BY, PROTOCOL, WEIGHT, new_exam


def sample(finding_words="wound"):
    found = Finding("f" * 32, finding_words, BY, call=Call.VETERINARIAN_TO_LOOK)
    return replace(
        new_exam(),
        vitals={
            "weight": VitalEntry(parse_reading("12.50 kg", "kg", WEIGHT)),
            "temperature": VitalEntry(reason="refused"),
        },
        regions={"nose": RegionEntry(findings=(found,), attribution=BY)},
        urgent=(UrgentEntry("a" * 32, "Bleeding", BY),),
    )


def read(content):
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def test_every_urgent_sign_vital_and_finding_is_one_row_and_values_are_as_typed():
    rows = read(as_csv(exam_rows(sample(), PROTOCOL)))
    assert [(row["kind"], row["item"]) for row in rows] == [
        ("urgent sign", "Bleeding"),
        ("vital", "Weight"),
        ("vital", "Temperature"),
        ("finding", "Nose"),
    ]
    assert rows[0]["call"] == "not told"
    assert (rows[1]["value"], rows[1]["unit"]) == ("12.50", "kg")
    assert rows[3]["call"] == "veterinarian to look"
    assert {row["is_demo"] for row in rows} == {"demo" if sample().is_demo else ""}


def test_what_was_not_done_is_a_row_with_its_reason_and_no_value():
    row = read(as_csv(exam_rows(sample(), PROTOCOL)))[2]
    assert (row["value"], row["words"]) == ("", "not done: refused")


def test_an_unanswered_vital_and_an_unexamined_part_are_in_no_row():
    assert exam_rows(new_exam(), PROTOCOL) == ()


def test_words_that_a_spreadsheet_would_run_are_disarmed_and_read_back():
    nasty = '=HYPERLINK("x"), "quoted"\nnext line'
    row = read(as_csv(exam_rows(sample(nasty), PROTOCOL)))[3]
    assert row["words"] == f"'{nasty}, veterinarian to look"


def test_a_negative_number_stays_a_number():
    exam = exam_rows(sample(), PROTOCOL)[1]
    (row,) = read(as_csv([{**exam, "value": "-1.5"}]))
    assert row["value"] == "-1.5"


def test_private_notes_and_owners_are_in_no_table():
    private = replace(sample(), private_notes=(PrivateNote("bruises, old", BY),))
    assert b"bruises" not in as_csv(exam_rows(private, PROTOCOL))


def test_a_photograph_is_a_row_with_its_hash_and_what_it_shows():
    shown = Photo("a1" * 32, "the crusts", "nose", attribution=BY)
    exam = replace(sample(), photos=(shown, Photo("a2" * 32, "=the whole animal")))
    rows = read(as_csv(exam_rows(exam, PROTOCOL)))[-2:]
    assert [row["kind"] for row in rows] == ["photograph", "photograph"]
    assert (rows[0]["item"], rows[0]["value"]) == ("Nose", "a1" * 32)
    assert rows[0]["words"].startswith("Nose: the crusts (added ")
    assert (rows[1]["item"], rows[1]["words"][:2]) == ("", "'=")

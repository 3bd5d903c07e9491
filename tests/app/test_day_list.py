"""What of a day comes first: tonight's urgent, re-checks, open exams by name."""

from exam_app.app.queries.day_list import open_lines, urgent_lines
from exam_app.store.repositories.rows import ClosedExam, OpenExam

TODAY = "2026-05-01"
NOT_TOLD = "URGENT, NOT YET TOLD: Pale gums"


def closed(exam_id, name, when, *headline):
    return ClosedExam(
        exam_id=exam_id, name=name, closed=when, headline=headline, is_urgent=True
    )


def lines_of(*rows, closed_at=lambda _: "", starter=lambda _: ""):
    return open_lines(rows, closed_at, starter, TODAY)


def test_tonights_urgent_record_stands_before_the_oldest():
    old = closed("e1", "Birch", "2026-04-02 18:30 +02:00", "URGENT: Cannot rise")
    new = closed("e2", "Wick", "2026-05-01 22:10 +02:00", "BITE: x", NOT_TOLD)
    calm = ClosedExam(exam_id="e3", name="Ash", closed="2026-05-01 23:00")
    first, second = urgent_lines([old, new, calm])
    assert first.title == "Urgent, not handed over: Wick"
    assert first.words == "Pale gums\nclosed 2026-05-01 22:10"
    assert first.address == "/record/e2"
    assert second.title == "Urgent, not handed over: Birch"


def test_an_open_exam_says_one_line_of_what_it_found():
    row = OpenExam("e1", name="Moss", scope="technician", found="Nose: redness")
    (line,) = lines_of(row)
    assert line.title == "Open: Moss"
    assert line.words.startswith("Nose: redness\nTechnician exam · 0 of 0 parts")
    assert line.address == "/exam/e1"


def test_a_continuation_names_the_record_that_it_continues():
    row = OpenExam("e2", name="Moss", scope="technician", continues="e1")
    (line,) = lines_of(row, closed_at={"e1": "2026-05-01 14:10 +02:00"}.get)
    assert line.title == "Continues Moss of 14:10"
    assert "Continuation" not in line.words
    (line,) = lines_of(row, closed_at={"e1": "2026-04-30 14:10 +02:00"}.get)
    assert line.title == "Continues Moss of 2026-04-30"
    (line,) = lines_of(row)
    assert line.title == "Continues Moss"


def test_a_correction_names_the_record_that_it_corrects():
    row = OpenExam("e1", name="Moss", scope="technician", revision=1)
    (line,) = lines_of(row, closed_at={"e1": "2026-05-01 14:10 +02:00"}.get)
    assert line.title == "Corrects Moss of 14:10"


def test_a_round_is_one_line_with_its_animals_counted():
    group = OpenExam("g", name="Ewes", scope="group", is_group=True)
    row = OpenExam("r", name="Ewe 12", group_exam="g")
    (line,) = lines_of(group, row)
    assert line.title == "Open round: Ewes"
    assert "round: 1 animal open" in line.words
    assert line.address == "/round/g"


def test_who_began_an_exam_of_somebody_else_is_named():
    row = OpenExam("e1", name="Moss", started="2026-05-01 09:00")
    (line,) = lines_of(row, starter=lambda _: "Uli Demo")
    assert line.words.endswith("started 2026-05-01 09:00 by Uli Demo")

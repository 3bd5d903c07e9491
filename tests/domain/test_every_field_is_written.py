"""Every field of the record is in the text that people read, or says why it is not.

Each field of an exam filled to the brim is given another value; the written record
must read otherwise, and must hold every text word for word. What is written in no way
stands below with its reason. The clinic reads this same text.
"""

from dataclasses import dataclass, fields, replace
from functools import cache

import pytest

from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.visit import Given
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import PROTOCOL
from tests.filled_exams import Filler, leaves, other

AN_ID = "an id: what it names is written"
A_HASH = "a hash: what was signed, not what was said"
LAID_BESIDE = "an earlier lump is laid beside by its size; its record described it"
STANDS = "a count that was repeated stands by its reading; the last one says how"
FLAG = "the flag's own lines name the ranges, the sources and what was recalled"
BY_VALUE = "a length is written by its value"
SAME_AS_ENTERED = "written with who entered it and when"
UNWRITTEN = {
    "exam_id": AN_ID,
    "animal.animal_id": AN_ID,
    "animal.species": "the protocol's own label names the species",
    "animal.absent": "each part that is gone is answered for under its name",
    "animal.is_demo": "the exam says that it is a demonstration",
    "people.licence": "a number that nobody checked; no text and no export names it",
    "people.initials": "beside the full name they say nothing",
    "regions.struck.clause_id": AN_ID,
    "regions.instead.clause_id": AN_ID,
    "regions.instead.text": "the result that stands in its place is written",
    "regions.findings.finding_id": AN_ID,
    "regions.findings.term_id": AN_ID,
    "regions.findings.lump.size.dimensions.typed": BY_VALUE,
    "regions.findings.lump.second_size.dimensions.typed": BY_VALUE,
    "regions.is_parked": "an open point; no closed exam has one",
    "vitals.values": AN_ID,
    "vitals.evidence.clock": "a rate is reckoned between taps, whatever began it",
    "vitals.earlier.evidence.count": STANDS,
    "vitals.earlier.evidence.seconds": STANDS,
    "vitals.earlier.evidence.offsets_ms": STANDS,
    "vitals.earlier.evidence.clock": STANDS,
    "vitals.earlier.attribution.examined_by": STANDS,
    "vitals.earlier.attribution.entered_by": STANDS,
    "vitals.earlier.attribution.observed": STANDS,
    "vitals.earlier.attribution.entered": STANDS,
    "vitals.flag.interval_ids": FLAG,
    "vitals.flag.source_ids": FLAG,
    "vitals.flag.unchecked": FLAG,
    "urgent.entry_id": AN_ID,
    "urgent.sign_id": AN_ID,
    "urgent.origin": "what it came from is written where it was found",
    "earlier.exam_id": AN_ID,
    "earlier.finding_id": AN_ID,
    "earlier.term_id": AN_ID,
    "earlier.lump.depth": LAID_BESIDE,
    "earlier.lump.size.dimensions.typed": BY_VALUE,
    "earlier.lump.second_size.dimensions.typed": BY_VALUE,
    "earlier.lump.consistency": LAID_BESIDE,
    "earlier.lump.mobility": LAID_BESIDE,
    "earlier.lump.surface": LAID_BESIDE,
    "earlier.lump.pain": LAID_BESIDE,
    "private_notes.attribution.observed": SAME_AS_ENTERED,
    "photos.finding_id": AN_ID,
    "parent_hash": A_HASH,
    "group_exam": AN_ID,
    "asked_vitals": "the vitals asked are written, or that they were not taken",
    "open_keys": "the parts that a continuation answers are written",
    "added_claims": "the sentences that make them are written",
    "instead_claims": "the results that stand in their place are written",
    "marks_before": "the numbers of the marks go on from it, and they are written",
    "corrections.attribution.examined_by": SAME_AS_ENTERED,
    "corrections.attribution.observed": SAME_AS_ENTERED,
}


def text_of(exam: Exam) -> str:
    return write_record(exam, PROTOCOL, for_veterinarian=True).as_text()


def unwritten(exams, but=frozenset(UNWRITTEN)) -> set[str]:
    """Return the fields that no exam's text shows; those of ``but`` are not tried."""
    seen, shown = set(), set()
    for exam in exams:
        before = text_of(exam)
        for number, (path, value, put) in enumerate(leaves(exam)):
            name = ".".join(path)
            seen.add(name)
            is_tried = name not in but and name not in shown
            if is_tried and _tells(before, put, other(value, number)):
                shown.add(name)
    return seen - shown


def _tells(before, put, new) -> bool:
    try:
        after = text_of(put(new))
    except ExamError:
        return False  # No exam could hold it; another place of the same field can.
    is_word = isinstance(new, str) and new.startswith("q")
    return new in after and new not in before if is_word else after != before


@cache
def exams():
    return [Filler(turn).exam() for turn in range(40)]


def test_every_field_of_the_record_is_in_the_text_that_is_read():
    assert unwritten(exams()) == set(UNWRITTEN)


@dataclass(frozen=True, slots=True)
class GivenByNeedle(Given):
    """What was given, with a field that no text knows."""

    needle: str = "21 gauge"


@dataclass(frozen=True, slots=True)
class TimedExam(Exam):
    """An exam with a number that no text knows."""

    minutes: int = 12


def as_kind(kind, value):
    return kind(**{field.name: getattr(value, field.name) for field in fields(value)})


def test_a_field_that_is_added_and_not_written_is_found():
    filled = exams()[0]
    known = {".".join(path) for path, *_ in leaves(filled)}
    with_needle = replace(filled, given=(as_kind(GivenByNeedle, filled.given[0]),))
    assert unwritten([with_needle], known) - known == {"given.needle"}
    assert unwritten([as_kind(TimedExam, filled)], known) - known == {"minutes"}


def test_the_filler_fills_a_field_that_is_added():
    filled = Filler(0).filled(GivenByNeedle)
    assert filled.needle.startswith("q")
    assert all(getattr(filled, field.name) for field in fields(filled))


@pytest.mark.parametrize("turn", range(4))
def test_private_notes_are_written_for_the_veterinarian_alone(turn):
    exam = exams()[turn]
    for note in exam.private_notes:
        assert note.text in text_of(exam)
        assert note.text not in write_record(exam, PROTOCOL).as_text()

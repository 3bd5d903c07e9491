"""Finds recorded with gloves are asked about again until one detail is given."""

from dataclasses import replace

import pytest

from exam_app.app.view.later_details import without_details
from exam_app.domain.exam.findings import Call, Finding, Severity
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.region_states import RegionEntry
from tests.small_dog import NINE_O_CLOCK, TECHNICIAN, new_exam

BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NINE_O_CLOCK, NINE_O_CLOCK)
FOUND = Finding("1" * 32, "redness", BY)


def exam_with(*findings):
    return replace(new_exam(), regions={"eyes.left": RegionEntry(findings=findings)})


def test_find_put_off_is_named_with_its_place():
    exam = exam_with(FOUND, Finding("2" * 32, "lump", BY))
    assert without_details(exam, ("1" * 32,)) == (("eyes.left", FOUND),)


@pytest.mark.parametrize(
    "detail",
    [
        {"severity": Severity.SLIGHT},
        {"note": "after rain"},
        {"place": "upper lid"},
        {"since": "today"},
        {"extent": "half"},
        {"qualities": ("serous",)},
    ],
)
def test_any_one_detail_is_enough(detail):
    assert not without_details(exam_with(replace(FOUND, **detail)), ("1" * 32,))


def test_call_alone_is_no_detail_and_a_find_taken_back_is_forgotten():
    called = replace(FOUND, call=Call.URGENT)
    assert without_details(exam_with(called), ("1" * 32,)) == (("eyes.left", called),)
    assert not without_details(exam_with(), ("1" * 32,))

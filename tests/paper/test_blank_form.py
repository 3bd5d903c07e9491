"""A blank form asks what the exam asks, in the order of its list, and says nothing."""

import pytest

from exam_app.app.view.exam_places import sections, vital_of
from exam_app.app.view.region_presenter import keys_of
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.exam import clauses_for, required_vitals, words_for
from exam_app.domain.exam.review import region_label, vital_label
from exam_app.domain.exam.transitions import clause_words, signs_offered
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.paper.printing import print_blank_form
from exam_app.protocols.loader import available, load_protocol
from tests.generated_exams import begin
from tests.printed import (
    SIZES,
    boxes_of,
    font,
    missing,
    pages_by_pypdf,
    pages_of,
    squeezed,
    words_of,
)

SPECIES = available()
PRACTICE = ("Invented", "555 0100")


def form_and_exam(species, scope, size=SIZES[0]):
    loaded = load_protocol(species)
    pdf = print_blank_form(loaded, scope, Setting.CLINIC, size, font(), PRACTICE)
    return pdf, begin(species, scope, Sex.UNKNOWN, 1).exam, loaded.protocol


def names_in_order(exam, protocol):
    words = words_for(exam)
    number = 0
    for section in sections(exam, protocol):
        for place in section.places:
            number += 1
            vital = protocol.vital(vital_of(place))
            named = (
                vital_label(vital, words)
                if vital
                else region_label(protocol, place, words)
            )
            yield f"{number}. {named}"


@pytest.mark.slow
@pytest.mark.parametrize("species", SPECIES)
def test_form_asks_everything_in_the_order_of_the_exams_list(species):
    for scope in (Scope.TECHNICIAN, Scope.INTAKE):
        pdf, exam, protocol = form_and_exam(species, scope)
        printed, at = words_of(pdf), 0
        names = [*names_in_order(exam, protocol)]
        assert names
        for name in names:
            found = printed.find(squeezed(name), at)
            assert found >= 0, name
            at = found + 1
        words = words_for(exam)
        asked = [
            clause_words(clause, words)
            for region in protocol.regions
            if keys_of(exam, protocol, region)
            for clause in clauses_for(exam, region)
        ]
        assert missing(asked, pdf) == []
        signs = signs_offered(exam, protocol)
        assert missing({sign.action for sign in signs}, pdf) == []
        assert "Invented:5550100" in printed


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_each_side_and_each_unit_has_its_place_and_nothing_is_ticked(size):
    pdf, exam, protocol = form_and_exam("dog", Scope.TECHNICIAN, size)
    printed = words_of(pdf)
    sided = [
        key
        for region in protocol.regions
        for key in keys_of(exam, protocol, region)
        if "." in key
    ]
    assert sided
    count = printed.count("left:☐noabnormalityfound")
    count += printed.count("right:☐noabnormalityfound")
    assert count == len(sided)
    assert "☐°C☐°F" in printed
    assert printed.count("(askedfor)") == len(required_vitals(exam, protocol))
    assert not {"☑", "☒", "✓"} & set(printed)
    assert exam.exam_id not in printed
    other = [squeezed(page) for page in pages_by_pypdf(pdf)]
    assert [squeezed(page) for page in pages_of(pdf)] == other
    for (width, _), boxes in boxes_of(pdf):
        assert all(left > 0 and right < width for left, _, right, _ in boxes)

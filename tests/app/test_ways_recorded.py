"""What a way opens is what its record opens: on a part's page, in a round, by button.

The danger table asks the rules; here the same is entered as a person enters it.
"""

from dataclasses import replace
from itertools import count
from random import Random

import pytest

from exam_app.app.exam_editor import Edit
from exam_app.app.forms.round_cells import ColumnKind, fill_cell
from exam_app.app.view.round_presenter import (
    cell_text,
    columns_offered,
    has_group_check,
)
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.exam import keys_offered
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.handling import newly_stopping
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.transitions import signs_offered
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.protocol.scales import give_grade
from exam_app.protocols.loader import available, load_protocol
from tests.danger_ways import ways_of
from tests.exam_samples import ANIMAL, BY, new_exam

GROUPED = [s for s in available() if has_group_check(load_protocol(s).protocol)]


def begun(species, scope, sex=Sex.UNKNOWN):
    return new_exam(
        scope, animal=replace(ANIMAL, species=species, sex=sex), life_stage=""
    )


def signs_of(exam):
    return {entry.sign_id for entry in exam.urgent if entry.sign_id}


def typed_ways(species):
    """Yield what can be typed of every find in a round, with what it must open."""
    protocol = load_protocol(species).protocol
    opened = {way.name: way.signs for way in ways_of(species)}
    for region in protocol.regions:
        if Scope.GROUP not in region.scopes:
            continue
        for term in region.terms:
            name = f"{region.region_id}/{term.term_id}"
            scale = protocol.scale(term.scale_id)
            grades = [grade.value for grade in scale.grades] if scale else []
            for label in {term.label, term.plain or term.label}:
                yield region, label, opened[name]
                for quality in term.qualities:
                    yield region, f"{label}, {quality}", opened[f"{name}+{quality}"]
                for grade in grades:
                    yield region, f"{label}, {grade}", opened[f"{name}={grade}"]


@pytest.mark.slow
@pytest.mark.parametrize("species", GROUPED)
def test_a_cell_of_a_round_opens_what_the_same_find_opens_elsewhere(species):
    protocol = load_protocol(species).protocol
    columns = {
        c.name: c
        for c in columns_offered(protocol, Role.TECHNICIAN)
        if c.kind is ColumnKind.REGION
    }
    exam = begun(species, Scope.GROUP)
    numbers = count(1)
    tried = 0
    for region, typed, opens in typed_ways(species):
        column = columns[region.answer_keys()[0]]
        filled = fill_cell(
            exam, Edit(protocol, BY, lambda: f"{next(numbers):032x}"), column, typed
        )
        assert signs_of(filled) == opens, typed
        (finding,) = filled.entry(column.name).findings
        assert finding.term_id, f"{typed} was taken as own words"
        again = fill_cell(
            exam,
            Edit(protocol, BY, lambda: f"{next(numbers):032x}"),
            column,
            cell_text(filled, column),
        )
        assert signs_of(again) == opens
        tried += 1
    assert tried > 10


def test_whatever_follows_a_dangerous_find_in_a_cell_its_sign_opens():
    protocol = load_protocol("cat").protocol
    column = next(
        c
        for c in columns_offered(protocol, Role.TECHNICIAN)
        if c.key == "region:distance"
    )
    numbers = count(1)
    filled = fill_cell(
        begun("cat", Scope.GROUP),
        Edit(protocol, BY, lambda: f"{next(numbers):032x}"),
        column,
        "works hard to breathe, since this morning; sneezes",
    )
    first, second = filled.entry("distance").findings
    assert (first.note, second.term_id) == ("since this morning", "")
    assert "laboured_breathing" in signs_of(filled)
    assert cell_text(filled, column) == (
        "Laboured breathing, since this morning; sneezes"
    )


def recorded(species, ways):
    """Record finds as a part's page does; return those that open something else."""
    protocol = load_protocol(species).protocol
    other = []
    for way, region, term, more in ways:
        scope = next(s for s in reversed(region.scopes) if s is not Scope.FOCUSED)
        exam = begun(species, scope)
        key = next(k for k in region.answer_keys() if k in keys_offered(exam, protocol))
        finding = Finding("f" * 32, term.label, BY, term_id=term.term_id, **more)
        after = add_finding(exam, protocol, key, finding, "u" * 32)
        stopping = {s.sign_id for s in protocol.urgent_signs if s.stops_handling}
        stops = bool(newly_stopping(exam, after, protocol))
        if signs_of(after) != way.signs or stops is way.signs.isdisjoint(stopping):
            other.append(way.name)
    return other


def find_ways(species):
    protocol = load_protocol(species).protocol
    ways = {way.name: way for way in ways_of(species)}
    for region in protocol.regions:
        for term in region.terms:
            name = f"{region.region_id}/{term.term_id}"
            yield ways[name], region, term, {}
            for quality in term.qualities:
                yield ways[f"{name}+{quality}"], region, term, {"qualities": (quality,)}
            scale = protocol.scale(term.scale_id)
            for grade in scale.grades if scale else ():
                graded = give_grade(scale, grade.value)
                yield ways[f"{name}={grade.value}"], region, term, {"grades": (graded,)}


@pytest.mark.parametrize("species", available())
def test_a_find_on_a_parts_page_opens_what_the_table_holds_it_to(species):
    every = list(find_ways(species))
    assert recorded(species, Random(7).sample(every, 40)) == []


@pytest.mark.exhaustive
def test_every_find_of_every_species_opens_what_the_table_holds_it_to():
    tried = 0
    for species in available():
        every = list(find_ways(species))
        tried += len(every)
        assert recorded(species, every) == []
    print(f"{tried} finds recorded")


@pytest.mark.parametrize("species", available())
def test_the_button_offers_no_sign_of_the_other_sex(species):
    protocol = load_protocol(species).protocol
    on_button = [sign for sign in protocol.urgent_signs if sign.on_button]
    assert list(signs_offered(begun(species, Scope.INTAKE), protocol)) == on_button
    for sex, other in ((Sex.MALE_NEUTERED, "female"), (Sex.FEMALE, "male")):
        offered = signs_offered(begun(species, Scope.INTAKE, sex), protocol)
        hidden = [sign for sign in on_button if sign not in offered]
        assert all(sign.sexes == (other,) for sign in hidden)
        assert [s for s in offered if s.sexes == (other,)] == []

"""The urgent list holds every sign once, under its heading, those of here first."""

import pytest

from exam_app.app.view.exam_places import place_of_vital
from exam_app.app.view.urgent_groups import (
    OTHERS,
    first_sign,
    sign_groups,
    signs_named,
)
from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.exam.transitions import signs_offered
from exam_app.protocols.loader import available, load_protocol
from tests.exam_samples import PROTOCOL, new_exam

# Common practice, no source: headings only help to find a sign.
HEADINGS = {
    "Breathing and gums",
    "Collapse and nerves",
    "Bleeding, injury, pain",
    "Legs, back and skin",
    "Belly, dung and urine",
    "Birth, udder and young",
    "People, and what spreads",
}
FEWEST, MOST = 1, 12


def exam_of(species, sex=Sex.UNKNOWN):
    return new_exam(animal=Animal("c" * 32, "Moss", species, sex=sex))


def listed(exam, protocol, place=""):
    first = first_sign(exam, protocol)
    groups = sign_groups(exam, protocol, place)
    return [first, *(sign for group in groups for sign in group.signs)]


@pytest.mark.parametrize("species", available())
@pytest.mark.parametrize("sex", [Sex.UNKNOWN, Sex.FEMALE, Sex.MALE])
def test_every_sign_is_listed_once_wherever_the_list_is_opened(species, sex):
    protocol, exam = load_protocol(species).protocol, exam_of(species, sex)
    offered = signs_offered(exam, protocol)
    places = [region.region_id for region in protocol.regions]
    places += [place_of_vital(vital.vital_id) for vital in protocol.vitals]
    for place in ("", *places):
        shown = listed(exam, protocol, place)
        assert len(shown) == len(offered), place
        assert {s.sign_id for s in shown} == {s.sign_id for s in offered}, place


@pytest.mark.parametrize("species", available())
def test_every_sign_of_ours_stands_under_a_heading_that_is_short_to_read(species):
    protocol, exam = load_protocol(species).protocol, exam_of(species)
    groups = sign_groups(exam, protocol, "")
    assert {group.heading for group in groups} <= HEADINGS
    assert len({group.heading for group in groups}) == len(groups)
    assert all(FEWEST <= len(group.signs) <= MOST for group in groups)


@pytest.mark.parametrize("species", available())
def test_what_the_current_part_can_show_is_listed_first(species):
    protocol, exam = load_protocol(species).protocol, exam_of(species)
    count = 0
    for region in protocol.regions:
        opened = {t.urgent_sign_id for t in region.terms} - {""}
        opened &= {s.sign_id for s in signs_offered(exam, protocol)}
        opened -= {first_sign(exam, protocol).sign_id}
        groups = sign_groups(exam, protocol, region.region_id)
        if region.untouched or not opened:
            assert not groups[0].heading.startswith("Here")
            continue
        count += 1
        assert groups[0].heading == f"Here: {region.label}"
        assert {sign.sign_id for sign in groups[0].signs} == opened
    assert count


def test_what_a_value_opens_is_listed_first_while_it_is_asked():
    protocol, exam = load_protocol("dog").protocol, exam_of("dog")
    here = sign_groups(exam, protocol, place_of_vital("mentation"))[0]
    assert here.heading == "Here: Mentation"
    assert [sign.sign_id for sign in here.signs] == ["collapse", "very_dull"]


def test_a_protocol_without_headings_lists_its_signs_among_the_others():
    (group,) = sign_groups(new_exam(), PROTOCOL, "")
    assert group.heading == OTHERS
    offered = signs_offered(new_exam(), PROTOCOL)
    assert (first_sign(new_exam(), PROTOCOL), *group.signs) == offered


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("seiz", {"seizure"}),
        ("BLOOD nose", {"blood_seen"}),
        ("poison", {"poison"}),
        # Plain words find it for staff too.
        ("fit", {"seizure", "rabies_signs"}),
        ("xyz", set()),
    ],
)
def test_signs_are_found_by_any_of_their_words(typed, found):
    protocol, exam = load_protocol("dog").protocol, exam_of("dog")
    assert {sign.sign_id for sign in signs_named(exam, protocol, typed)} == found

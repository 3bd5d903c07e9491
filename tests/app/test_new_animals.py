"""What the form of the next new animal begins with, before anything is saved."""

from datetime import datetime
from types import SimpleNamespace

import pytest

from exam_app.app.exam_start import asks_for_sex, usual_setting
from exam_app.app.practice_protocols import by_name
from exam_app.app.queries.new_animals import (
    last_intake,
    likely_first,
    nameless,
    new_address,
    searched,
    tag_unknown_words,
)
from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.language.catalogue import tr
from exam_app.protocols.loader import PracticeProtocols, available, load_protocol
from exam_app.store.repositories.rows import ClosedExam, KnownAnimal, OpenExam

OFFERS = {species: load_protocol(species).protocol for species in available()}
TODAY = f"{datetime.now().astimezone():%Y-%m-%d}"


def device(animals=(), drafts=(), closed=()):
    """A device that knows some animals and exams."""
    by_id = {animal.animal_id: animal for animal in animals}
    vault = SimpleNamespace(
        animals=SimpleNamespace(
            all=lambda: list(animals),
            shown=by_id.get,
            search=lambda text: [one for one in animals if text in one.name],
        ),
        drafts=SimpleNamespace(open=lambda: list(drafts)),
        closed=SimpleNamespace(latest=lambda count: list(closed)[:count]),
    )
    return SimpleNamespace(vault=vault)


def test_species_examined_here_today_come_before_the_many_known_from_before():
    many = [KnownAnimal(f"d{n}", species="dog") for n in range(20)]
    ewe = OpenExam("e1", "s1", species="sheep", started=f"{TODAY} 09:00")
    old = ClosedExam(exam_id="e2", species="horse", started="2020-01-01 09:00")
    found = likely_first(device(many, [ewe], [old]), OFFERS)
    assert found[:2] == ("sheep", "dog")
    assert set(found) == set(OFFERS)


def test_the_last_animal_of_today_gives_species_place_scope_and_nothing_else():
    animals = [KnownAnimal("a1", "Fern", "cat", place="Cats 2", dangers="bites")]
    row = ClosedExam(
        exam_id="e1",
        animal_id="a1",
        species="cat",
        scope="intake",
        setting="shelter",
        started=f"{TODAY} 10:00",
    )
    last = last_intake(device(animals, closed=[row]))
    assert last is not None
    assert last.words == "cat, Cats 2, intake look-over"
    assert last.address == (
        "/animal/new/cat?place=Cats+2&scope=intake&setting=shelter&as=last"
    )


def test_neither_yesterdays_animal_nor_a_received_exam_is_the_last_one():
    animals = [KnownAnimal("a1", "Fern", "cat")]
    rows = [
        ClosedExam(
            exam_id="e1",
            animal_id="a1",
            species="cat",
            scope="intake",
            started="2020-01-01 10:00",
        ),
        ClosedExam(
            exam_id="e2",
            animal_id="a1",
            species="cat",
            scope="intake",
            started=f"{TODAY} 10:00",
            is_received=True,
        ),
    ]
    assert last_intake(device(animals, closed=rows)) is None


@pytest.mark.parametrize(
    ("text", "species", "begun"),
    [
        ("dog", "dog", {}),
        ("Dogs", "dog", {}),
        ("siamese cat", "cat", {"breed": "siamese"}),
        ("dog Bella", "dog", {"name": "Bella"}),
        ("guinea pig", "guinea_pig", {}),
        ("bull", "cattle", {}),
        ("alpaca", "camelid", {}),
        ("Bella", "", {"name": "Bella"}),
        ("Catkin", "", {"name": "Catkin"}),
        ("276 098 102 123 456", "", {"chip": "276 098 102 123 456"}),
    ],
)
def test_what_was_searched_for_goes_on_into_the_form(text, species, begun):
    found = searched(text, OFFERS)
    assert (found.species, dict(found.begun)) == (species, begun)


def test_no_two_animals_without_a_name_are_called_the_same():
    known = [KnownAnimal("a", "No name yet"), KnownAnimal("b", "No name yet 2")]
    assert nameless(device()) == "No name yet"
    assert nameless(device(known)) == "No name yet 3"


def test_an_animal_of_a_herd_may_be_named_by_a_tag_that_nobody_could_read():
    assert tag_unknown_words(OFFERS["cattle"]) == (
        "Cow, tag unknown",
        "Bull, tag unknown",
    )
    assert tag_unknown_words(OFFERS["sheep"]) == ("Sheep, tag unknown",)
    assert tag_unknown_words(OFFERS["dog"]) == ()


def test_an_address_leaves_out_what_is_empty():
    assert new_address("animal", "dog", {"name": "", "breed": ""}) == "/animal/new/dog"


def test_where_an_exam_is_follows_who_examines_until_somebody_has_chosen():
    dog, cow = OFFERS["dog"], OFFERS["cattle"]
    intake, full = Scope.INTAKE, Scope.TECHNICIAN
    assert usual_setting("", Role.VOLUNTEER, full, dog) is Setting.SHELTER
    assert usual_setting("", Role.TECHNICIAN, intake, dog) is Setting.SHELTER
    assert usual_setting("", Role.TECHNICIAN, full, dog) is Setting.CLINIC
    assert usual_setting("", Role.VETERINARIAN, full, cow) is Setting.FARM
    assert usual_setting("home", Role.VOLUNTEER, intake, dog) is Setting.HOME
    assert usual_setting("moon", Role.VOLUNTEER, intake, dog) is Setting.SHELTER


@pytest.mark.parametrize("species", available())
def test_the_sex_is_asked_where_parts_of_both_would_have_to_be_answered(species):
    protocol = OFFERS[species]
    stray = Animal("a" * 32, "No name yet", species)
    is_split = any(region.sexes for region in protocol.regions)
    assert asks_for_sex(stray, protocol, Scope.FOCUSED) is is_split
    told = Animal("a" * 32, "No name yet", species, sex=Sex.MALE)
    assert not asks_for_sex(told, protocol, Scope.FOCUSED)
    flock = Animal("a" * 32, "Flock", species, is_group=True)
    assert not asks_for_sex(flock, protocol, Scope.FOCUSED)


def test_species_stand_in_the_order_of_the_names_shown():
    names = [tr(protocol.label) for protocol in by_name(PracticeProtocols()).values()]
    assert names == sorted(names, key=str.casefold)
    # By its id it would stand first.
    assert names.index("Llama or alpaca") > names.index("Horse")

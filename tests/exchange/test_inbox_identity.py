"""Animals said twice: merged field by field, joined by people only."""

from dataclasses import replace

import pytest

from exam_app.app.queries.clinic_records import pairs_aside
from exam_app.app.view.clinic_arrival_presenter import arrived_line
from exam_app.crypto import door
from exam_app.domain.animal.signalment import AgeBasis, Owner
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.identity import MOST_ASIDE, MOST_ASKED, MOST_OPEN
from exam_app.exchange.inbox import receive
from exam_app.exchange.merge import changes_since, flat, marks_of, merge, with_value
from exam_app.record.plain_form import to_plain
from exam_app.record.salted_blocks import owner_block
from sync.bundle.contents import Contents, OwnerPart
from tests.exchange.test_inbox_outbox import MUCH_LATER, day_pack, take
from tests.handover_places import LATER, animal, named_id, paired_places, small_exam


@pytest.fixture
async def places(tmp_path, each_store):
    async with paired_places(
        tmp_path, ("Tablet one", "Tablet two"), register=each_store
    ) as opened:
        yield opened


def kept(place, of):
    return flat(place.vault.animals.get(of.animal_id))


def change(place, of, name, value):
    plain = place.vault.animals.get(of.animal_id)
    place.vault.animals.put(with_value(plain, name, value))


def bring(clinic, tablet, name, of, owner=None, now=LATER):
    exam_id = tablet.close_exam(small_exam(name, of=of), owner)
    for bundle in tablet.hand_over(exam_id):
        received = receive(bundle.sealed, clinic.exchange, now)
    return received


@pytest.mark.parametrize(
    ("ours", "theirs", "known", "stands", "clashes"),
    [
        ({"chip": "1"}, {"chip": "1"}, (), "1", 0),
        ({"chip": "1"}, {"chip": "2"}, (), "1", 1),
        ({}, {"chip": "2"}, (), "2", 0),
        ({"chip": "1"}, {}, (), "1", 0),
        ({"chip": "1"}, {"chip": "2"}, ({"chip": "1"},), "2", 0),
        ({"chip": "2"}, {"chip": "1"}, ({"chip": "1"},), "2", 0),
        ({"chip": "2"}, {"chip": "3"}, ({"chip": "1"},), "2", 1),
        ({"chip": "1"}, {"chip": "2", "changed_from": {"chip": "1"}}, (), "2", 0),
        ({"chip": "3"}, {"chip": "2", "changed_from": {"chip": "1"}}, (), "3", 1),
        ({"chip": "1"}, {"changed_from": {"chip": "1"}}, (), None, 0),
        ({"chip": "3"}, {"changed_from": {"chip": "1"}}, (), "3", 1),
    ],
)
def test_only_what_both_changed_differently_is_a_clash(
    ours, theirs, known, stands, clashes
):
    one = {"animal_id": "a", "name": "Moss"}
    merged = merge({**one, **ours}, {**one, **theirs}, known)
    assert flat(merged.animal).get("chip") == stands
    assert len(merged.clashes) == clashes
    assert merged.animal["name"] == "Moss"


def test_an_age_is_merged_whole_and_an_owner_by_field():
    ours = {
        **to_plain(animal(age_days=90, age_on="2026-01-01")),
        "owner": {"name": "Ada", "version": 1},
    }
    theirs = {
        **to_plain(animal(age_days=400, age_basis=AgeBasis.ESTIMATED)),
        "owner": {"phone": "555 0100", "version": 1},
    }
    merged = merge(ours, theirs, (flat(ours),))
    assert merged.clashes == ()
    assert merged.animal["owner"] == {"name": "Ada", "phone": "555 0100", "version": 1}
    assert merged.animal["age_days"] == 400
    assert "age_on" not in merged.animal
    assert changes_since(merged.animal, flat(theirs))["owner.name"] == ""


async def test_a_change_on_one_side_travels_and_comes_back(places):
    clinic, tablet, _ = places
    of = animal()
    bring(clinic, tablet, "one", of, Owner("Ada Invented"))
    change(tablet, of, "colour", "brindle")
    bring(clinic, tablet, "two", of)
    assert kept(clinic, of)["colour"] == "brindle"
    change(clinic, of, "owner.phone", "555 0100")
    take(tablet, day_pack(clinic, tablet, of.animal_id))
    assert kept(tablet, of) == kept(clinic, of)
    bring(clinic, tablet, "three", of)
    assert kept(clinic, of)["owner.phone"] == "555 0100"
    assert Exchange(clinic.vault).identity.all_clashes() == []


async def test_a_clash_keeps_the_clinics_value_until_a_person_chooses(places):
    clinic, tablet, _ = places
    of, exchange = animal(), Exchange(places[0].vault)
    bring(clinic, tablet, "one", of)
    change(clinic, of, "colour", "black")
    change(tablet, of, "colour", "brown")
    bring(clinic, tablet, "two", of)
    assert kept(clinic, of)["colour"] == "black"
    (clash,) = exchange.identity.clashes()
    assert (clash.field, clash.ours, clash.theirs) == (
        "colour",
        "black",
        "brown",
    )
    bring(clinic, tablet, "three", of)
    assert len(exchange.identity.clashes()) == 1
    exchange.decide_clash(clash.key, "take theirs", "Dr Ondine", 5)
    assert kept(clinic, of)["colour"] == "brown"
    assert exchange.identity.clashes() == []
    assert exchange.identity.all_clashes()[0].decided_by == "Dr Ondine"


async def test_the_clinics_decision_comes_to_the_device_once_it_was_heard(places):
    clinic, tablet, _ = places
    of, exchange = animal(), Exchange(places[0].vault)
    bring(clinic, tablet, "one", of)
    change(clinic, of, "colour", "black")
    change(tablet, of, "colour", "brown")
    early = day_pack(clinic, tablet, of.animal_id, now=LATER)
    take(tablet, early)
    assert kept(tablet, of)["colour"] == "brown"
    bring(clinic, tablet, "two", of, now=MUCH_LATER)
    (clash,) = exchange.identity.clashes()
    exchange.decide_clash(clash.key, "keep ours", "Dr Ondine", 5)
    take(tablet, day_pack(clinic, tablet, of.animal_id))
    assert kept(tablet, of)["colour"] == "black"


async def test_an_older_bundle_that_comes_late_takes_nothing_back(places):
    clinic, tablet, _ = places
    of = animal()
    first = tablet.close_exam(small_exam("one", of=of))
    (early,) = tablet.hand_over(first)
    change(tablet, of, "colour", "brindle")
    (late,) = tablet.hand_over(tablet.close_exam(small_exam("two", of=of)))
    clinic.receive(late.sealed)
    clinic.receive(early.sealed)
    assert kept(clinic, of)["colour"] == "brindle"
    assert Exchange(clinic.vault).identity.all_clashes() == []


async def test_animals_that_may_be_the_same_are_proposed_and_never_joined(places):
    clinic, tablet, other = places
    chipped = animal("Moss", chip="900 000 000 000 001")
    same_chip = animal("Mossy", chip="900000000000001")
    owned, same_owner = animal("Ridge", tag="1"), animal("Ridge", tag="2")
    same_owner = type(owned)(named_id("another ridge"), "ridge", "dog", is_demo=True)
    bring(clinic, tablet, "one", chipped)
    bring(clinic, other, "two", same_chip)
    bring(clinic, tablet, "three", owned, Owner("Ada Invented"))
    bring(clinic, other, "four", same_owner, Owner("ADA  invented"))
    bring(clinic, other, "five", animal("Pim"), Owner("Ada Invented"))
    identity = Exchange(clinic.vault).identity
    reasons = sorted(row.reason for row in identity.joins())
    assert reasons == ["chip", "owner and name"]
    assert len(clinic.vault.animals.all()) == 5
    assert identity.same_as(chipped.animal_id) == (chipped.animal_id,)


async def test_a_join_is_a_persons_decision_and_can_be_taken_back(places):
    clinic, tablet, other = places
    one, two = animal("Moss", chip="9" * 15), animal("Mossy", chip="9" * 15)
    bring(clinic, tablet, "one", one)
    bring(clinic, other, "two", two)
    identity = Exchange(clinic.vault).identity
    (proposed,) = identity.joins()
    identity.decide_join(proposed.key, "same", "Dr Ondine", 5)
    assert set(identity.same_as(one.animal_id)) == {one.animal_id, two.animal_id}
    pack = take(tablet, day_pack(clinic, tablet, one.animal_id))
    assert {r.read.exam.animal.animal_id for r in pack.records} == {two.animal_id}
    identity.decide_join(proposed.key, "open", "Dr Ondine", 6)
    assert identity.same_as(one.animal_id) == (one.animal_id,)
    bring(clinic, other, "three", two)
    assert len(identity.all_joins()) == 1


def test_another_species_or_an_empty_chip_is_no_reason_to_join():
    one = to_plain(animal("Moss"))
    two = to_plain(animal("Pim"))
    assert not marks_of(one).keys() & marks_of(two).keys()
    chipped = marks_of({**one, "chip": "1"})
    assert not chipped.keys() & marks_of({**two, "chip": "1", "species": "cat"}).keys()
    (shared,) = chipped.keys() & marks_of({**two, "chip": " 1 "}).keys()
    assert chipped[shared] == "chip"


HOSTILE = {
    "no id": {"animal_id": ""},
    "a name for an id": {"animal_id": "x\ny"},
    "a path for an id": {"animal_id": "../" + "a" * 29},
    "a list for a name": {"name": ["Moss"]},
    "an owner without shape": {"owner": {"name": 5}},
    "an owner in text": {"owner": "Ada"},
    "changes without shape": {"changed_from": [1]},
    "another kind of animal": {"is_demo": False},
    "a newer version": {"version": 99},
    "no species": {"species": None},
}


@pytest.mark.parametrize("fault", HOSTILE)
async def test_animals_without_shape_are_left_out_and_harm_nothing(places, fault):
    clinic, tablet, _ = places
    bad = {**to_plain(animal("Moss")), **HOSTILE[fault]}
    bad = {name: value for name, value in bad.items() if value is not None}
    good = {**to_plain(animal("Pim")), "record_keys": ["ab"]}
    contents = Contents((tablet.sign(small_exam("one")),), (), (), (), (bad, good))
    assert clinic.receive(tablet.seal(clinic, contents)).receipt_code
    kept_animals = clinic.vault.animals.all()
    assert {one.name for one in kept_animals} == {"Bramble", "Pim"}
    whole = [clinic.vault.animals.get(one.animal_id) for one in kept_animals]
    assert all("record_keys" not in one for one in whole)


async def test_no_field_of_an_animal_is_emptied_behind_a_persons_back(places):
    clinic, tablet, _ = places
    of = animal()
    bring(clinic, tablet, "one", of, Owner("Ada Invented"))
    before = clinic.vault.animals.get(of.animal_id)
    names = ("animal_id", "version", "is_demo", "owner", "owner.", "record_keys", "x")
    said = dict.fromkeys(names, "anything")
    sent = {**to_plain(of), "changed_from": said}
    clinic.receive(tablet.seal(clinic, Contents(animals=(sent,)), sequence=2))
    assert clinic.vault.animals.get(of.animal_id) == before


async def test_a_name_that_half_a_shelter_bears_floods_nobody(places):
    clinic, tablet, _ = places
    owner, salt = Owner("The Shelter"), bytes(32)
    records, parts = [], []
    for number in range(12):
        of = replace(animal("Moss"), animal_id=named_id(f"moss {number}"))
        records.append(tablet.sign(small_exam(f"e{number}", of=of), owner, salt))
        name = door.sha256(records[-1]).hex()
        parts.append(OwnerPart(name, salt, owner_block(owner)))
    contents = Contents(tuple(records), (), tuple(parts))
    clinic.receive(tablet.seal(clinic, contents))
    identity = Exchange(clinic.vault).identity
    (aside,) = identity.joins_aside()
    key = aside.key
    asked = identity.joins()
    assert len(asked) == MOST_ASKED
    assert len(asked) + aside.count == 1 + 2 + 3 + 4 + 5 * 7
    for number in (2, 3):
        identity.ask_joins(key, MOST_ASKED, 1)
        assert len(identity.joins()) == min(number * MOST_ASKED, 1 + 2 + 3 + 4 + 35)
    assert len({row.key for row in identity.joins()}) == 1 + 2 + 3 + 4 + 5 * 7
    assert identity.joins_aside() == []


def twins(count, owner="Ada"):
    """Animals of a bundle's list that all may be one: the same name and owner."""
    plain = {**to_plain(animal("Moss")), "owner": {"name": owner, "version": 1}}
    return tuple(
        {**plain, "animal_id": named_id(f"{owner} twin {number}")}
        for number in range(count)
    )


@pytest.mark.slow
async def test_one_bundle_cannot_open_thousands_of_questions(places):
    clinic, tablet, _ = places
    listed = twins(3_000)
    sealed = tablet.seal(clinic, Contents(animals=listed))
    clinic.receive(sealed)
    identity = Exchange(clinic.vault).identity
    assert len(identity.joins()) == MOST_ASKED
    (aside,) = identity.joins_aside()
    assert aside.count == MOST_ASIDE
    assert aside.uncompared > 2_000
    # Every animal is kept; only questions are bounded, and what is not asked is said.
    assert len(clinic.vault.animals.all()) == 3_000
    (bundle,) = Exchange(clinic.vault).incoming.latest(1)
    line = arrived_line(bundle, {})
    assert f"{MOST_ASIDE} pairs of animals that may be the same set aside" in line
    assert f"{aside.uncompared} animals compared with nothing" in line
    ((_, words),) = pairs_aside(clinic.vault)
    assert "Bundle 1 from Tablet one: 2000 pairs" in words


async def test_many_bundles_cannot_open_thousands_of_questions_either(places):
    clinic, tablet, _ = places
    identity = Exchange(clinic.vault).identity
    for number in range(1, 14):
        listed = twins(20, f"Owner {number}")
        clinic.receive(tablet.seal(clinic, Contents(animals=listed), number))
        assert len(identity.joins()) == min(MOST_ASKED * number, MOST_OPEN)


async def test_pair_of_one_chip_is_asked_before_pairs_of_one_name(places):
    clinic, tablet, _ = places
    chipped = [{**one, "chip": "900000000000001"} for one in twins(2, "Chip owner")]
    clinic.receive(tablet.seal(clinic, Contents(animals=(*twins(12), *chipped))))
    asked = Exchange(clinic.vault).identity.joins()
    assert asked[0].reason == "chip"
    assert len(asked) == MOST_ASKED

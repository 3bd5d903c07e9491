"""What was given lately is offered to its species; a dose only beside its field."""

from types import SimpleNamespace

from exam_app.app.queries.given_recently import (
    GivenBefore,
    doses_of,
    keep_given,
    offered,
)

CALCIUM = {
    "product": "Calcium",
    "dose": "400 ml",
    "route": "under the skin",
    "lot": "A12",
    "expiry": "2027-03",
    "withdrawal": "zero days",
    "reason": "down since morning",
}


def vault():
    kept = {}
    settings = SimpleNamespace(
        get=lambda name, default=None: kept.get(name, default), put=kept.__setitem__
    )
    return SimpleNamespace(settings=settings)


def test_pack_is_filled_in_and_the_dose_of_another_animal_is_not():
    place = vault()
    keep_given(place, "cattle", CALCIUM)
    (one,) = offered(place, "cattle")
    assert one.label == "Calcium, lot A12"
    assert one.texts() == {
        "product": "Calcium",
        "route": "under the skin",
        "lot": "A12",
        "expiry": "2027-03",
        "withdrawal": "zero days",
    }
    assert doses_of(place, "cattle", " calcium") == ("400 ml",)


def test_nothing_given_to_one_species_is_offered_for_another():
    place = vault()
    keep_given(place, "cattle", CALCIUM)
    assert offered(place, "sheep") == ()
    assert doses_of(place, "sheep", "Calcium") == ()


def test_newest_lot_of_a_product_stands_once_and_every_dose_of_it():
    place = vault()
    keep_given(place, "cattle", CALCIUM)
    keep_given(place, "cattle", {**CALCIUM, "lot": "B7", "dose": "800 ml"})
    keep_given(place, "cattle", {"product": "Glucose"})
    assert [one.label for one in offered(place, "cattle")] == [
        "Glucose",
        "Calcium, lot B7",
    ]
    assert doses_of(place, "cattle", "Calcium") == ("800 ml", "400 ml")


def test_only_the_last_forty_are_kept_and_four_are_offered():
    place = vault()
    for number in range(60):
        keep_given(place, "cattle", {"product": f"Product {number}"})
    assert [one.product for one in offered(place, "cattle")] == [
        f"Product {number}" for number in (59, 58, 57, 56)
    ]
    assert len(place.settings.get("given_recently")) == 40


def test_a_product_without_a_lot_is_named_alone():
    assert GivenBefore("dog", "Fluids").label == "Fluids"

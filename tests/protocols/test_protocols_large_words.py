"""What the sentences, signs and cautions of horses, donkeys and cattle claim.

The limits of an awake look and the word lists are common practice, no source; who is
told of a notifiable sign is settled by each place and never written here.
"""

import re

import pytest

from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from tests.protocol_words import (
    assert_labels_fit,
    claims_of_health,
    naming,
    regions_without_lump,
    volunteer_claims,
)

SPECIES = ["horse", "donkey", "cattle"]
DISEASE = re.compile(
    r"mastitis|laminitis|foot.?rot|pneumonia|mange|ringworm|anthrax|foot.and.mouth|"
    r"fever|ketosis|abscess|strangles|arthritis|colitis|sarcoid|displaced|peritonitis|"
    r"influenza|tetanus|infect|tumou?r|listeri|\bpox\b",
    re.IGNORECASE,
)


@pytest.fixture(params=SPECIES)
def protocol(request):
    return load_protocol(request.param).protocol


def claims(protocol, region_id, scope):
    region = protocol.region(region_id)
    return [clause.text for clause in region.clauses if scope in clause.scopes]


def test_regions_stand_from_nose_to_tail_under_their_headings(protocol):
    groups = list(dict.fromkeys(region.group for region in protocol.regions))
    assert groups == [
        "From a distance",
        "Head",
        "Neck and nodes",
        "Chest",
        "Belly",
        "Limbs and feet",
        "Skin and coat",
        "Back and nerves",
        "Rear",
    ]


def test_paired_parts_have_an_answer_for_each_side(protocol):
    paired = {r.region_id for r in protocol.regions if r.sides}
    both = {"eyes", "ears", "lungs", "forelimb", "hindlimb", "hoof_fore", "hoof_hind"}
    assert both <= paired
    assert {r.region_id for r in protocol.regions if r.loss_is_finding} == {
        "eyes",
        "forelimb",
        "hindlimb",
    }


def test_volunteer_needs_no_stethoscope_lifts_no_foot_and_opens_no_mouth(protocol):
    shown = volunteer_claims(protocol)
    assert [s for s in shown if re.search(r"foot lifted|listened|opened", s)] == []
    offered = {r.region_id for r in protocol.regions if Scope.INTAKE in r.scopes}
    assert offered.isdisjoint({"lungs", "heart", "mouth_deep", "rectal"})
    vitals = {v.vital_id for v in protocol.vitals if Scope.INTAKE in v.scopes}
    assert vitals.isdisjoint({"heart_rate", "rumen_contractions", "pain"})


def test_rectum_and_cheek_teeth_are_for_a_veterinarian_only(protocol):
    for region_id in ("rectal", "mouth_deep"):
        assert protocol.region(region_id).scopes == (Scope.VETERINARIAN,)


def test_findings_describe_and_do_not_name_a_disease(protocol):
    # What is seen, not what it is: lumps with a hot animal.
    assert naming(protocol, DISEASE) in ([], ["with fever"])
    assert claims_of_health(protocol) == []


def test_no_murmur_is_what_was_heard(protocol):
    for scope in (Scope.TECHNICIAN, Scope.VETERINARIAN):
        about = [t for t in claims(protocol, "heart", scope) if "murmur" in t]
        assert len(about) == 1
        assert about[0].startswith("no murmur heard")


def test_lips_parted_claim_no_cheek_teeth_and_no_throat(protocol):
    for scope in (Scope.INTAKE, Scope.TECHNICIAN):
        for text in claims(protocol, "mouth", scope):
            assert not re.search(r"cheek teeth|throat|palate|all teeth", text)
    limits = protocol.region("mouth").awake_limits
    assert any("No hand in the mouth" in limit for limit in limits)
    assert "hand_in_mouth" in {c.caution_id for c in protocol.cautions}


def test_labels_fit_a_phone_and_regions_offer_six_to_seventeen_findings(protocol):
    assert_labels_fit(protocol)


def test_lump_can_be_noted_on_every_part_of_the_surface(protocol):
    without = regions_without_lump(protocol)
    assert without <= {"distance", "gait", "lungs", "heart", "gut_upper", "gut_lower"}


def test_each_urgent_sign_says_whom_to_tell(protocol):
    assert 15 <= len(protocol.urgent_signs) <= 45
    for sign in protocol.urgent_signs:
        assert re.search(r"tell the vet|call the vet", sign.action, re.IGNORECASE)
        assert sign.stops_handling == ("do not restrain" in sign.action.lower())


def test_notifiable_signs_stop_movement_and_name_no_law(protocol):
    blisters = protocol.sign("blisters").action
    assert blisters.startswith("Stop.")
    assert "Move no animals, people or vehicles" in blisters
    assert protocol.sign("sudden_death").action.startswith("Do not open or move")
    for sign in protocol.urgent_signs:
        assert not re.search(r"\d{4,}|APHA|USDA|Defra", sign.action)


def test_kick_crush_thermometer_and_hygiene_are_among_the_cautions(protocol):
    named = {caution.caution_id for caution in protocol.cautions}
    assert {"kick_crush", "thermometer_side", "dam_with_young"} <= named
    assert {"farm_boots", "farm_tools", "order", "birth_products"} <= named
    kicked = [
        r.region_id
        for r in protocol.regions
        if any(re.search(r"[Kk]ick", limit) for limit in r.awake_limits)
    ]
    assert {"hindlimb", "hoof_hind"} <= set(kicked)


def test_dehydration_is_signs_and_never_a_percentage(protocol):
    words = [choice.label for choice in protocol.vital("hydration_signs").choices]
    assert not any("%" in word or "dehydrat" in word for word in words)


def test_what_has_no_source_is_said(protocol):
    assert len(protocol.missing) >= 10
    assert any("no range" in line for line in protocol.missing)


def test_sudden_unsteadiness_of_a_horse_isolates_it_and_holds_every_horse():
    for species in ("horse", "donkey"):
        action = load_protocol(species).protocol.sign("sudden_unsteady").action
        assert "Isolate at once" in action
        assert "Do not move any horse" in action


def test_shared_gum_colours_open_only_what_is_published_for_the_species():
    def opened(species):
        vital = load_protocol(species).protocol.vital("mucous_membrane_colour")
        return {c.value: c.urgent_sign_id for c in vital.choices if c.urgent_sign_id}

    # UC Davis: red, white or blue gums; Lowder: brown gums after red maple leaves.
    equine = {"pale", "white", "blue_grey", "brick_red", "brown"}
    assert set(opened("horse")) == set(opened("donkey")) == equine
    # African Farming: yellow needs urgent treatment, red is fever, brown is nitrate.
    cattle = {"pale", "white", "blue_grey", "yellow", "red", "brown"}
    assert set(opened("cattle")) == cattle


def test_pressure_oxygen_glucose_and_ketones_are_kept_and_compared_with_nothing(
    protocol,
):
    kept = {"systolic_pressure", "oxygen_saturation", "blood_glucose", "blood_ketones"}
    offered = {v.vital_id: v for v in protocol.vitals}
    assert kept <= set(offered)
    assert not any(offered[vital_id].required_in for vital_id in kept)
    assert kept.isdisjoint({row.measure_id for row in protocol.intervals})

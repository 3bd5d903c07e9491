"""What the sentences, signs and group checks of flock animals claim, in which words.

The limits of an awake look and the word lists are common practice, no source; who is
told of a notifiable sign is settled by each place and never written here.
"""

import re
from dataclasses import replace

import pytest

from exam_app.domain.exam.exam import keys_in_scope, required_vitals
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from tests.exam_samples import ANIMAL, new_exam
from tests.protocol_words import (
    assert_labels_fit,
    claims_of_health,
    naming,
    regions_without_lump,
    volunteer_claims,
)


@pytest.fixture(params=["sheep", "goat", "pig", "camelid"])
def protocol(request):
    return load_protocol(request.param).protocol


# --- group check ----------------------------------------------------------------------


def test_group_check_looks_once_and_offers_what_a_round_asks(protocol):
    animal = replace(ANIMAL, species=protocol.species)
    exam = new_exam(scope=Scope.GROUP, animal=animal, protocol_id=protocol.species)
    assert keys_in_scope(exam, protocol) == ("distance",)
    assert required_vitals(exam, protocol) == ()
    offered = {v.vital_id for v in protocol.vitals if Scope.GROUP in v.scopes}
    asked = {"temperature", "body_condition", "respiratory_rate"}
    if protocol.species == "sheep":
        asked |= {"locomotion", "eyelid_card", "dag_score"}
    if protocol.species == "goat":
        asked |= {"eyelid_card", "gait_score"}
    if protocol.species == "camelid":
        asked |= {"eyelid_card", "body_condition_9"}
    assert offered == asked


def test_group_check_claims_presence_and_what_is_seen_without_touch(protocol):
    clauses = protocol.region("distance").clauses
    claimed = [c.text for c in clauses if Scope.GROUP in c.scopes]
    assert "present, tag or mark read" in claimed
    assert not any(re.search(r"felt|listened|pressed", text) for text in claimed)


# --- words and signs ------------------------------------------------------------------


def test_notifiable_signs_stop_movement_and_leave_the_law_to_the_place(protocol):
    reported = [s for s in protocol.urgent_signs if "Report" in s.action]
    assert {s.sign_id for s in reported} >= {"blisters"}
    for sign in reported:
        assert re.search(r"of your place say", sign.action)
        assert not re.search(r"\d{4,}|APHA|USDA|Defra|state vet", sign.action)
    assert protocol.sign("blisters").action.startswith("Stop. Do not move animals")


def test_dead_animal_with_blood_at_its_openings_is_not_opened_or_moved(protocol):
    sign = protocol.sign("sudden_death")
    # The source names cattle, sheep, goats, horses and pigs, no camelids.
    assert (sign is None) == (protocol.species == "camelid")
    assert sign is None or sign.action.startswith("Do not open or move the carcass")


def test_each_urgent_sign_says_whom_to_tell(protocol):
    assert 15 <= len(protocol.urgent_signs) <= 40
    for sign in protocol.urgent_signs:
        assert re.search(r"tell the vet|call the vet", sign.action, re.IGNORECASE)
        assert sign.stops_handling == ("do not restrain" in sign.action.lower())


def test_no_hand_goes_into_the_mouth_of_a_choking_animal(protocol):
    mouth = protocol.region("mouth")
    choke = next(t for t in mouth.terms if t.term_id == "choke")
    assert choke.urgent_sign_id == "rabies_signs"
    assert protocol.sign("rabies_signs").action.startswith("No hand in the mouth")
    assert any("No hand in the mouth" in limit for limit in mouth.awake_limits)
    assert "hand_in_mouth" in {c.caution_id for c in protocol.cautions}


def test_hygiene_between_farms_and_the_young_are_among_the_cautions(protocol):
    named = {caution.caution_id for caution in protocol.cautions}
    assert {"farm_boots", "farm_tools", "farm_movement", "birth_products"} <= named


DISEASE = re.compile(
    r"mastitis|foot.?rot|scrapie|listeri|pneumonia|mange|\borf\b|scab mite|ringworm|"
    r"anthrax|foot.and.mouth|fever|pox|laminitis|toxaemia|ketosis|abscess",
    re.IGNORECASE,
)


def test_findings_describe_and_do_not_name_a_disease(protocol):
    assert naming(protocol, DISEASE) == []
    assert claims_of_health(protocol) == []


def test_volunteer_needs_no_stethoscope_and_lifts_no_foot(protocol):
    shown = volunteer_claims(protocol)
    assert [s for s in shown if re.search(r"lifted and|listened|ping", s)] == []
    vitals = {v.vital_id for v in protocol.vitals if Scope.INTAKE in v.scopes}
    assert vitals.isdisjoint({"heart_rate", "rumen_contractions", "pain"})


def test_paired_parts_have_an_answer_for_each_side(protocol):
    paired = {r.region_id for r in protocol.regions if r.sides}
    assert {"eyes", "ears", "lungs", "forelimb", "hoof_fore", "hoof_hind"} <= paired
    assert ("mammary" if protocol.species == "pig" else "udder") in paired


def test_labels_fit_a_phone_and_regions_offer_six_to_seventeen_findings(protocol):
    assert_labels_fit(protocol)


def test_lump_can_be_noted_on_every_part_of_the_surface(protocol):
    assert regions_without_lump(protocol) == {"distance", "lungs", "heart"}

"""What the dog's and the cat's sentences claim, and in which words.

The limits of an awake look (inner tooth surfaces, throat, eardrum, back of the eye)
are those of the AAHA dental guidelines, the Guelph head exam and the ear and eye
sources named in the protocols; the word lists are common practice, no source.
"""

import re

import pytest

from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.protocols.loader import load_protocol
from tests.protocol_words import regions_without_lump

TRADE_WORDS = re.compile(
    r"mucous membrane|palpat|conjunctiv|sclera|cornea|stifle|carpus|tarsus|hock\b|"
    r"pinna|ataxi|paresis|icter|cyano|dyspn|halitosis|calculus|murmur|auscult|"
    r"mentation|lymph|perineum|thorax|abdomen|vulva|femoral|quadrant",
    re.IGNORECASE,
)
DISEASE_WORDS = re.compile(
    r"infect|tumou?r|cancer|mange|ringworm|parvo|otitis|arthritis|conjunctivitis|"
    r"glaucoma|cataract|dermatitis|mastitis|pyometra|pneumonia|dysplasia|diabet",
    re.IGNORECASE,
)


@pytest.fixture(params=["cat", "dog"])
def protocol(request: pytest.FixtureRequest) -> SpeciesProtocol:
    return load_protocol(request.param).protocol


def claims(protocol, region_id, scope):
    region = protocol.region(region_id)
    assert region is not None
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


def test_every_part_asked_for_is_there(protocol):
    asked = {
        "distance",
        "head",
        "eyes",
        "ears",
        "nose",
        "mouth",
        "mouth_deep",
        "neck",
        "node_mandibular",
        "node_superficial_cervical",
        "node_popliteal",
        "lungs",
        "heart",
        "abdomen",
        "forelimb",
        "hindlimb",
        "skin_coat",
        "back",
        "tail",
        "mammary",
        "genital_male",
        "genital_female",
        "perineum",
    }
    assert asked <= {region.region_id for region in protocol.regions}


def test_finger_exam_is_asked_of_a_veterinarian_with_a_dog_only():
    dog = load_protocol("dog").protocol.region("rectal")
    assert dog is not None
    assert dog.scopes == (Scope.VETERINARIAN,)
    assert load_protocol("cat").protocol.region("rectal") is None


def test_paired_parts_have_an_answer_for_each_side(protocol):
    paired = {r.region_id for r in protocol.regions if r.sides}
    assert paired == {
        "eyes",
        "ears",
        "lungs",
        "forelimb",
        "hindlimb",
        "mammary",
        "node_mandibular",
        "node_superficial_cervical",
        "node_popliteal",
    }
    eyes = protocol.region("eyes")
    assert eyes is not None
    assert eyes.answer_keys() == ("eyes.left", "eyes.right")


def test_loss_of_an_eye_or_a_limb_is_a_finding(protocol):
    found = {r.region_id for r in protocol.regions if r.loss_is_finding}
    assert found == {"eyes", "forelimb", "hindlimb"}


def test_volunteer_needs_no_stethoscope_and_feels_no_node_or_belly(protocol):
    offered = {r.region_id for r in protocol.regions if Scope.INTAKE in r.scopes}
    assert offered.isdisjoint(
        {"lungs", "heart", "mouth_deep", "rectal", "node_mandibular"}
    )
    belly = " ".join(claims(protocol, "abdomen", Scope.INTAKE))
    assert "not felt into" in belly
    vitals = {v.vital_id for v in protocol.vitals if Scope.INTAKE in v.scopes}
    assert vitals.isdisjoint({"heart_rate", "capillary_refill_time", "pain"})


def test_volunteer_reads_no_trade_words(protocol):
    shown = [r.plain_label for r in protocol.regions if Scope.INTAKE in r.scopes]
    for region in protocol.regions:
        if Scope.INTAKE in region.scopes:
            shown += [t.plain for t in region.terms]
            shown += [c.plain for c in region.clauses if Scope.INTAKE in c.scopes]
    for vital in protocol.vitals:
        if Scope.INTAKE in vital.scopes:
            shown += [vital.plain_label, *(c.plain for c in vital.choices)]
    shown += [sign.plain for sign in protocol.urgent_signs if sign.on_button]
    assert all(shown)
    assert [words for words in shown if TRADE_WORDS.search(words)] == []


def test_findings_describe_and_do_not_name_a_disease(protocol):
    shown = [
        words
        for region in protocol.regions
        for term in region.terms
        for words in (term.label, term.plain, *term.qualities)
    ]
    shown += [c.text + c.plain for r in protocol.regions for c in r.clauses]
    assert [words for words in shown if DISEASE_WORDS.search(words)] == []


def test_no_sentence_says_normal_or_healthy(protocol):
    texts = [c.text + c.plain for r in protocol.regions for c in r.clauses]
    assert [t for t in texts if re.search(r"normal|healthy|unremark", t)] == []


def test_no_murmur_is_what_was_heard(protocol):
    for scope in (Scope.TECHNICIAN, Scope.VETERINARIAN):
        about = [t for t in claims(protocol, "heart", scope) if "murmur" in t]
        assert len(about) == 1
        assert about[0].startswith("no murmur heard")


def test_nodes_are_felt_and_not_enlarged_or_one_tap_says_not_felt(protocol):
    for node in ("mandibular", "superficial_cervical", "popliteal"):
        (clause,) = protocol.region(f"node_{node}").clauses
        assert clause.text == "felt: not enlarged, no pain shown"
        assert clause.strike_as == "felt for, not felt"


def test_what_a_routine_exam_leaves_out_is_added_by_choice_with_its_caution(protocol):
    added = {
        f"{region.region_id}.{clause.clause_id}": clause
        for region in protocol.regions
        for clause in region.clauses
        if clause.opt_in
    }
    finger = {"wall", "sacs", "pelvis", "nodes", "prostate", "glove"}
    rectal = {f"rectal.{word}" for word in finger if protocol.species == "dog"}
    assert set(added) - rectal == {
        "head.jaw_joint",
        "ears.canal",
        "ears.drum",
        "neck.movement",
        "forelimb.stability",
        "hindlimb.stability",
        "back.withdrawal",
        "back.reflexes",
        "back.trunci",
        "back.perineal",
        "back.swallow",
        "back.deep_pain",
        "genital_male.breeding",
        "genital_male.penis",
        "genital_female.parted",
        "genital_female.vaginal",
    }
    assert rectal <= set(added)
    assert all(clause.caution for clause in added.values())


# Finds that deny nothing the sentence of their part claims: what they say is claimed
# nowhere (gum colour and moistness are vitals), or they only name what was seen.
DENY_NOTHING = {
    "distance.hurt",
    "head.soft_spot",
    "eyes.pale",
    "ears.shakes",
    *(f"mouth.{word}" for word in ("odour", "dry", "pale", "blue", "yellow")),
    "mouth.bleeding",
    *("mouth_deep.stage", "mouth_deep.swallow"),
    "node_mandibular.unsure",
    "node_superficial_cervical.axillary",
    "node_popliteal.inguinal",
    *("chest.shape", "chest.thrill"),
    *("heart.fast", "heart.slow"),
    "skin_coat.tent",
    *("back.seizure", "back.lump"),
    "tail.short",
    "genital_male.scar",
    *(f"genital_female.{word}" for word in ("recessed", "pregnant", "scar")),
    "perineum.scoots",
}
ONE_SPECIES = {
    "cat": {"mouth.string", "mouth.pain"},
    "dog": {"mouth.baby_tooth", "hindlimb.sits_out"},
}


def test_every_find_denies_a_claim_of_its_part_or_stands_in_the_list(protocol):
    silent = {
        f"{region.region_id}.{term.term_id}"
        for region in protocol.regions
        for term in region.terms
        if not term.negates
    }
    assert silent == DENY_NOTHING | ONE_SPECIES[protocol.species]


EITHER_OR = re.compile(r" or not |\bif any\b|\bor none\b|where present")


def test_no_sentence_says_this_or_its_opposite(protocol):
    texts = [t for r in protocol.regions for c in r.clauses for t in (c.text, c.plain)]
    assert [text for text in texts if EITHER_OR.search(text)] == []


@pytest.mark.parametrize(
    ("region_id", "unseen"),
    [
        ("mouth", r"throat|palate|tongue|inner|all teeth"),
        ("ears", r"drum|canal seen|deep"),
        ("eyes", r"fundus|retina|vitreous|lens clear"),
        ("nose", r"inside|cavity"),
        ("perineum", r"inside|prostate"),
    ],
)
def test_claim_of_a_technician_stays_within_what_is_seen_awake(
    protocol, region_id, unseen
):
    for scope in (Scope.INTAKE, Scope.TECHNICIAN):
        for text in claims(protocol, region_id, scope):
            assert not re.search(unseen, text), text
    region = protocol.region(region_id)
    assert region is not None
    assert region.awake_limits


def test_throat_is_claimed_only_as_far_as_seen(protocol):
    (text,) = [
        t for t in claims(protocol, "mouth_deep", Scope.VETERINARIAN) if "throat" in t
    ]
    assert "as far as the awake" in text


def test_labels_fit_a_phone(protocol):
    long = [
        words
        for region in protocol.regions
        for term in region.terms
        for words in (term.label, term.plain)
        if len(words) > 28
    ]
    long += [
        words
        for sign in protocol.urgent_signs
        for words in (sign.label, sign.plain)
        if len(words) > 34
    ]
    long += [r.label for r in protocol.regions if len(r.label) > 26]
    assert long == []


def test_region_offers_six_to_seventeen_findings(protocol):
    # Every danger seen from afar, and every colour of the gums, has its words.
    most = {"distance": 29, "mouth": 19}
    counts = {r.region_id: len(r.terms) for r in protocol.regions}
    assert {k: n for k, n in counts.items() if not 6 <= n <= most.get(k, 17)} == {}


def test_lump_can_be_noted_on_every_part_of_the_surface(protocol):
    assert regions_without_lump(protocol) == {"distance", "lungs", "heart"}


def test_staff_answer_every_vital_but_pulse_and_extras_and_volunteers_three(protocol):
    def required(scope):
        return {v.vital_id for v in protocol.vitals if scope in v.required_in}

    extras = {"systolic_pressure", "oxygen_saturation", "blood_ketones"}
    extras |= {"pulse_rate", "blood_glucose", "blood_glucose_mg"}
    extras |= {"face_pain", "coma_scale"}
    staff = {v.vital_id for v in protocol.vitals} - extras
    assert required(Scope.TECHNICIAN) == staff
    assert required(Scope.VETERINARIAN) == staff
    assert required(Scope.INTAKE) == {"weight", "respiratory_rate", "mentation"}
    assert required(Scope.GROUP) == set()


def test_temperature_and_breathing_take_the_honest_answers(protocol):
    temperature = protocol.vital("temperature")
    assert temperature.sites[0] == "rectal"
    assert {"refused", "unsafe", "unreliable", "not needed"} <= set(
        temperature.not_done_reasons
    )
    breathing = [c.label for c in protocol.vital("respiratory_rate").choices]
    assert breathing == ["panting", "too fast to count", "not visible"]
    refill = [c.label for c in protocol.vital("capillary_refill_time").choices]
    assert refill == ["< 1 s", "1–2 s", "> 2 s"]


def test_hydration_is_signs_and_never_a_percentage(protocol):
    words = [choice.label for choice in protocol.vital("hydration_signs").choices]
    assert not any("%" in word or "dehydrat" in word for word in words)


def test_gum_colour_and_slow_refill_open_their_urgent_signs(protocol):
    colours = {
        c.value: c.urgent_sign_id
        for c in protocol.vital("mucous_membrane_colour").choices
    }
    assert colours["pink"] == ""
    assert colours["white"] == "pale_gums"
    assert colours["blue_grey"] == "blue_gums"
    refill = {
        c.value: c.urgent_sign_id
        for c in protocol.vital("capillary_refill_time").choices
    }
    # Under a second alone is no sign: medians of dogs are 1.1 to 1.2 s (Chalifoux).
    assert refill == {"under_1": "", "1_to_2": "", "over_2": "slow_refill"}


def test_each_urgent_sign_says_what_to_do(protocol):
    assert 15 <= len(protocol.urgent_signs) <= 60
    verbs = re.compile(r"tell the vet|call", re.IGNORECASE)
    assert [
        s.sign_id for s in protocol.urgent_signs if not verbs.search(s.action)
    ] == []


def test_urgent_button_lists_what_a_volunteer_can_notice(protocol):
    listed = {sign.sign_id for sign in protocol.urgent_signs if sign.on_button}
    assert {"collapse", "laboured_breathing", "seizure", "bleeding", "poison"} <= listed
    assert listed.isdisjoint({"slow_refill", "temperature_high", "fast_heart"})


def test_spine_injury_is_not_moved_and_gut_signs_of_the_young_are_isolated(protocol):
    assert protocol.sign("spine_injury").action.startswith("Do not move")
    assert protocol.sign("young_sick_gut").action.startswith("Isolate")


def test_cat_has_its_own_urgent_signs():
    cat = load_protocol("cat").protocol
    dog = load_protocol("dog").protocol
    for sign_id in ("open_mouth_breathing", "cold_hind_limbs", "cold_slow_weak"):
        assert cat.sign(sign_id) is not None
        assert dog.sign(sign_id) is None
    assert dog.sign("empty_retching") is not None
    assert cat.sign("empty_retching") is None


def test_shared_regions_of_dog_and_cat_differ_only_where_meant():
    cat = load_protocol("cat").protocol
    differing = {
        region.region_id
        for region in load_protocol("dog").protocol.regions
        if region != cat.region(region.region_id)
    }
    assert differing == {
        "distance",
        "back",
        "eyes",
        "nose",
        "mouth",
        "mouth_deep",
        "neck",
        "node_popliteal",
        "lungs",
        "heart",
        "abdomen",
        "mammary",
        "forelimb",
        "hindlimb",
        "genital_male",
        "perineum",
        "rectal",
    }


def test_what_has_no_source_is_said(protocol):
    assert any("Lameness grades" in line for line in protocol.missing)
    assert protocol.scale("lameness") is None

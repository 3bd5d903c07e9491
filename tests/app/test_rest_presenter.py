"""What a row offers beside a find, in a claim's place, and beyond a routine exam."""

from dataclasses import replace

from exam_app.app import region_changes as changes
from exam_app.app.exam_editor import Edit
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.practice_claims import (
    SETTING,
    PracticeClaims,
    claims_kept,
    every_kept,
    switched,
    with_practice_claims,
)
from exam_app.app.view.exam_places import open_counts, sections
from exam_app.app.view.region_presenter import (
    answer_of,
    groups,
    not_seen,
    sentence_shown,
)
from exam_app.app.view.rest_presenter import (
    DENIED,
    Parted,
    habits,
    is_beyond_routine,
    only_result,
    parted,
    rest_offers,
    result_offers,
    sentence_to_say,
)
from exam_app.app.view.round_presenter import columns_offered
from exam_app.domain.exam.exam import keys_in_scope
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import answer_earlier, set_claim
from exam_app.ui.settings.groups import claim_words
from tests.domain.test_denials import (
    DEEP,
    EYES,
    HEART,
    NODES,
    NODES_KEYS,
    SPECIES,
    clean,
    found,
)
from tests.exam_samples import ANIMAL, BY, NOW, TECHNICIAN, new_exam
from tests.small_dog import no_abnormality

EYES_KEYS = ("eyes.left", "eyes.right")


def made(exam, change):
    return change(exam, Edit(SPECIES, BY, lambda: "9" * 32))


def test_row_shows_the_rest_without_what_the_find_denies_before_the_tap():
    exam = found(new_exam(), "eyes.left", "runny")
    assert [(o.side, o.text) for o in rest_offers(exam, EYES, EYES_KEYS)] == [
        ("Left", "The rest: no abnormality found: cornea clear")
    ]
    assert sentence_shown(exam, EYES, EYES_KEYS) == (
        "No abnormality found: cornea clear; no discharge seen"
    )
    exam = made(exam, no_abnormality(("eyes.left",)))
    assert rest_offers(exam, EYES, EYES_KEYS) == ()
    assert exam.entry("eyes.left").asserted == ("cornea clear",)


def test_nothing_is_offered_where_the_find_leaves_no_rest():
    exam = found(new_exam(), "nodes.left", "large")
    assert rest_offers(exam, NODES, NODES_KEYS) == ()


def test_own_words_are_asked_about_before_the_rest():
    exam = found(new_exam(), "heart", "skips a beat")
    (offer,) = rest_offers(exam, HEART, ("heart",))
    assert offer.asks
    assert offer.text == "The rest: say what your own words deny, then record it"
    left = changes.what_is_left(("heart",), (), (), ("rhythm",))
    exam = made(exam, left)
    assert exam.entry("heart").asserted == ("no murmur heard on either side",)


def test_sides_whose_sentences_differ_are_shown_each_by_its_name():
    earlier = EarlierFinding(
        "9" * 32, "f7", "eyes.left", "2026-01-02", "x", term_id="runny"
    )
    exam = answer_earlier(
        new_exam(earlier=(earlier,)), SPECIES, "f7", EarlierOutcome.SAME
    )
    assert sentence_shown(exam, EYES, EYES_KEYS) == (
        "Left: No abnormality found: cornea clear / "
        "Right: No abnormality found: cornea clear; no discharge seen"
    )


def test_one_tap_says_felt_for_not_felt_and_the_row_says_so():
    exam = new_exam()
    (offer,) = result_offers(exam, NODES, "nodes.left", ())
    assert offer.label == "Felt for, not felt"
    out = parted(NODES, offer.left_out)
    exam = made(exam, changes.what_is_left(NODES_KEYS, out.struck, out.instead, None))
    answer = answer_of(exam, SPECIES, "nodes.left", exam.entry("nodes.left"))
    assert answer.title == "Felt for, not felt"
    assert not answer.is_open
    assert sentence_shown(exam, NODES, NODES_KEYS) == "Felt for, not felt"
    assert result_offers(exam, NODES, "nodes.left", ()) == ()


def test_where_it_is_the_habit_the_button_says_it_and_the_claim_is_the_other_tap():
    exam = new_exam(instead_claims=("nodes/size",))
    usual = habits(exam, NODES, "nodes.left")
    assert only_result(exam, NODES, "nodes.left", usual) == "Felt for, not felt"
    assert sentence_to_say(exam, NODES, "nodes.left") == "Felt for, not felt"
    (offer,) = result_offers(exam, NODES, "nodes.left", usual)
    assert (offer.label, offer.left_out) == ("Felt: not enlarged", ())


def test_what_is_left_out_is_parted_by_why():
    left_out = (("clear", "unsafe"), ("dry", DENIED))
    assert parted(EYES, left_out) == Parted((("clear", "unsafe"),), (), ("dry",))
    assert not_seen(new_exam(), EYES, left_out) == (
        "Not seen: cornea clear (unsafe). Denied by what was found: no discharge seen"
    )
    result = (("size", "felt for, not felt"),)
    assert parted(NODES, result).instead == ("size",)
    assert not_seen(new_exam(), NODES, result) == ""


def test_part_beyond_a_routine_exam_stands_in_its_place_and_counts_as_nothing_open():
    exam = new_exam()
    head = groups(exam, SPECIES)[0]
    assert [r.region_id for r in head.regions] == ["eyes", "deep"]
    listed = sections(exam, SPECIES)
    assert open_counts(exam, SPECIES, listed)[head.title] == 2
    assert is_beyond_routine(exam, DEEP, ("deep",))
    exam = set_claim(exam, SPECIES, "deep", "seen")
    assert not is_beyond_routine(exam, DEEP, ("deep",))
    assert open_counts(exam, SPECIES, listed)[head.title] == 3


def test_a_claim_added_late_is_said_again_of_a_side_that_was_answered():
    exam = clean(new_exam(), "eyes.left")
    exam = made(exam, changes.added(EYES, ("lens",), is_added=True))
    assert exam.entry("eyes.left").asserted[-1] != "lens clear"
    assert exam.entry("eyes.left").state is RegionState.NO_ABNORMALITY
    exam = made(exam, changes.said_again("eyes.left"))
    assert exam.entry("eyes.left").asserted[-1] == "lens clear"
    exam = made(exam, changes.added(EYES, ("lens",), is_added=False))
    assert exam.added_claims == ()


class Settings(dict):
    def put(self, key, value):
        self[key] = value


class VaultOfSettings:
    def __init__(self, **kept):
        self.settings = Settings(kept)


def test_practice_choice_is_taken_over_at_the_start_and_kept_by_the_exam():
    chosen = switched(PracticeClaims(), "eyes/lens", is_result=False)
    chosen = switched(chosen, "nodes/size", is_result=True)
    chosen = switched(chosen, "eyes/gone", is_result=False)
    told = {"added": list(chosen.added), "instead": list(chosen.instead)}
    vault = VaultOfSettings(**{SETTING: {"dog": told}})
    assert claims_kept(vault, "dog") == chosen
    assert claims_kept(vault, "cat") == PracticeClaims()
    order = with_practice_claims(
        vault, ExamOrder(ANIMAL, new_exam().scope, new_exam().setting)
    )
    exam = begin_exam(order, SPECIES, "0" * 64, TECHNICIAN, "e" * 32, NOW)
    assert exam.added_claims == ("eyes/lens",)
    assert exam.instead_claims == ("nodes/size",)
    vault.settings.clear()
    assert clean(exam, "eyes.left").entry("eyes.left").asserted[-1] == "lens clear"
    assert "deep" not in keys_in_scope(exam, SPECIES)


def test_what_was_put_in_is_taken_out_by_the_same_switch():
    chosen = switched(PracticeClaims(), "eyes/lens", is_result=False)
    assert switched(chosen, "eyes/lens", is_result=False) == PracticeClaims()
    vault = VaultOfSettings(**{SETTING: {"dog": {"added": [], "instead": []}}})
    assert every_kept(vault) == {}


def test_settings_name_a_choice_with_its_part_and_one_that_is_gone_too():
    assert claim_words(SPECIES, "eyes/lens", is_result=False) == "Eyes: lens clear"
    assert claim_words(SPECIES, "nodes/size", is_result=True) == (
        "Popliteal nodes: “felt for, not felt” in place of: felt: not enlarged"
    )
    gone = claim_words(SPECIES, "eyes/gone", is_result=False)
    assert gone.startswith("eyes/gone (this protocol has it no more")


def test_round_column_says_an_added_claim_only_where_the_practice_added_it():
    lens = replace(EYES.clauses[2], scopes=EYES.clauses[0].scopes, plain="lens clear")
    eyes = replace(EYES, clauses=(*EYES.clauses[:2], lens))
    species = replace(SPECIES, regions=(eyes,))
    role = TECHNICIAN.role
    plain = columns_offered(species, role)[0].sentence
    assert "lens clear" not in plain
    assert "lens clear" in columns_offered(species, role, ("eyes/lens",))[0].sentence

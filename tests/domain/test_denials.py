"""A find takes out exactly the claims it denies; the rest stands, as it was said.

An invented species stands for the rules; what each term of the real ones denies is
asked in ``test_negations``.
"""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exam_app.app.exam_editor import Edit
from exam_app.app.forms.round_cells import fill_cell
from exam_app.app.region_changes import open_again
from exam_app.app.view.round_presenter import columns_offered
from exam_app.domain.errors import (
    ExamClosedError,
    NothingLeftError,
    OwnWordsError,
    UnknownItemError,
)
from exam_app.domain.exam.closing import close, continuation, stop_early
from exam_app.domain.exam.continued import combined
from exam_app.domain.exam.denials import open_claims, rest_claims
from exam_app.domain.exam.exam import StopReason, keys_in_scope
from exam_app.domain.exam.finding_transitions import add_finding, remove_finding
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.people import Attribution, Role
from exam_app.domain.exam.region_states import Conclusion, RegionState
from exam_app.domain.exam.review import review
from exam_app.domain.exam.transitions import (
    answer_earlier,
    assert_no_abnormality,
    mark_not_examined,
    mark_not_present,
    set_claim,
)
from exam_app.domain.protocol.protocol import Clause, Region, Scope, Term, split_key
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import (
    ALL,
    BY,
    NOW,
    PROTOCOL,
    STAFF,
    TECHNICIAN,
    VETERINARIAN,
    new_exam,
)
from tests.samples import examples

EVERY = (*ALL, Scope.GROUP)
HEART = Region(
    "heart",
    "Heart",
    "Heart",
    "Chest",
    STAFF,
    (
        Clause("murmur", "no murmur heard on either side", "", STAFF),
        Clause("rhythm", "rhythm regular", "", STAFF),
    ),
    (
        Term("murmur", "Murmur", negates=("murmur",)),
        Term("irregular", "Irregular", negates=("rhythm",)),
    ),
)
EYES = Region(
    "eyes",
    "Eyes",
    "Eyes",
    "Head",
    EVERY,
    (
        Clause("clear", "cornea clear", "surface clear", EVERY),
        Clause("dry", "no discharge seen", "not runny", EVERY),
        Clause(
            "lens", "lens clear", "", STAFF, opt_in=True, caution="Not in bright sun."
        ),
    ),
    (
        Term("runny", "Discharge", "Runny", negates=("dry",)),
        Term("cloudy", "Cloudy", "Cloudy", negates=("clear",)),
        Term("cataract", "Lens opacity", negates=("lens",)),
        Term("old_scar", "Old scar of the lid", "Old scar"),
    ),
    sides=("left", "right"),
    loss_is_finding=True,
)
NODES = Region(
    "nodes",
    "Popliteal nodes",
    "Glands",
    "Nodes",
    STAFF,
    (Clause("size", "felt: not enlarged", "", STAFF, strike_as="felt for, not felt"),),
    (Term("large", "Enlarged", negates=("size",)),),
    sides=("left", "right"),
)
DEEP = Region(
    "deep",
    "Throat",
    "Throat",
    "Head",
    STAFF,
    (Clause("seen", "throat seen: clean", "", STAFF, opt_in=True, caution="Bites."),),
    (Term("sore", "Sore", negates=("seen",)),),
)
SPECIES = replace(PROTOCOL, regions=(EYES, DEEP, NODES, HEART))
BY_VET = Attribution(VETERINARIAN.person_id, VETERINARIAN.person_id, NOW, NOW)
NODES_KEYS = ("nodes.left", "nodes.right")


def found(exam, key, term_id, finding_id="f1", by=BY):
    region = SPECIES.region(split_key(key)[0])
    term = next((t for t in region.terms if t.term_id == term_id), None)
    words = term.label if term else term_id
    finding = Finding(finding_id, words, by, term_id=term.term_id if term else "")
    return add_finding(exam, SPECIES, key, finding, finding_id + "u")


def clean(exam, *keys, by=BY, **more):
    return assert_no_abnormality(exam, SPECIES, keys, Role.TECHNICIAN, by, **more)


def text_of(exam):
    return write_record(exam, SPECIES).as_text()


def test_the_rest_beside_a_murmur_does_not_say_that_no_murmur_was_heard():
    exam = clean(found(new_exam(), "heart", "murmur"), "heart")
    assert exam.entry("heart").asserted == ("rhythm regular",)
    assert "no murmur heard" not in text_of(exam)
    rest = "Heart, apart from that: no abnormality found: rhythm regular"
    assert rest in text_of(exam)


def test_a_find_after_the_sentence_takes_out_what_it_denies_and_no_more():
    exam = found(clean(new_exam(), "heart"), "heart", "murmur")
    assert exam.entry("heart").asserted == ("rhythm regular",)
    assert exam.entry("heart").conclusion is Conclusion.ASSERTED
    assert "no murmur heard" not in text_of(exam)


def test_the_other_side_keeps_its_own_sentence():
    exam = clean(new_exam(), "eyes.left", "eyes.right")
    exam = found(exam, "eyes.left", "runny")
    assert exam.entry("eyes.left").asserted == ("cornea clear",)
    assert exam.entry("eyes.right").asserted == ("cornea clear", "no discharge seen")


def test_a_find_that_denies_nothing_leaves_the_whole_sentence():
    exam = found(clean(new_exam(), "eyes.left"), "eyes.left", "old_scar")
    assert exam.entry("eyes.left").asserted == ("cornea clear", "no discharge seen")


def test_claims_do_not_come_back_with_the_find_and_the_part_is_open_for_them():
    exam = found(clean(new_exam(), "heart"), "heart", "murmur")
    exam = remove_finding(exam, SPECIES, "heart", "f1")
    assert exam.entry("heart").asserted == ("rhythm regular",)
    assert exam.entry("heart").state is RegionState.UNEXAMINED
    assert [c.clause_id for c in open_claims(exam, HEART, "heart")] == ["murmur"]
    assert "heart" in [point.target for point in review(exam, SPECIES)]
    assert "Heart: OPEN AGAIN: no murmur heard on either side" in text_of(exam)
    assert "Heart: rhythm regular" in text_of(exam)
    again = clean(exam, "heart").entry("heart")
    assert again.asserted == ("no murmur heard on either side", "rhythm regular")


def test_a_find_that_denied_nothing_is_taken_back_and_all_stays_answered():
    exam = found(clean(new_exam(), "eyes.left"), "eyes.left", "old_scar")
    exam = remove_finding(exam, SPECIES, "eyes.left", "f1")
    assert exam.entry("eyes.left").state is RegionState.NO_ABNORMALITY


def test_a_part_open_again_that_is_stopped_early_keeps_what_was_asserted():
    exam = found(clean(new_exam(), "heart"), "heart", "murmur")
    exam = remove_finding(exam, SPECIES, "heart", "f1")
    exam = stop_early(exam, SPECIES, StopReason.ESCAPED, "", BY)
    entry = exam.entry("heart")
    assert entry.state is RegionState.PARTLY
    assert entry.asserted == ("rhythm regular",)
    assert [item.clause_id for item in entry.struck] == ["murmur"]


def test_a_claim_that_was_struck_falls_when_a_find_denies_it():
    struck = (("dry", "would not hold still"),)
    exam = clean(new_exam(), "eyes.left", struck=struck)
    exam = found(exam, "eyes.left", "runny")
    assert exam.entry("eyes.left").struck == ()
    assert "would not hold still" not in text_of(exam)


def test_where_a_find_denies_everything_there_is_no_rest_to_speak_of():
    exam = found(new_exam(), "nodes.left", "large")
    assert rest_claims(exam, NODES, "nodes.left") == ()
    with pytest.raises(NothingLeftError):
        clean(exam, "nodes.left")
    assert "nodes, left, apart from that" not in text_of(exam)
    exam = found(clean(new_exam(), "nodes.left"), "nodes.left", "large")
    assert exam.entry("nodes.left").conclusion is Conclusion.OPEN
    assert "Beside the finding" not in text_of(exam)


def test_a_second_find_takes_out_what_it_denies_too():
    exam = clean(new_exam(), "eyes.left")
    exam = found(exam, "eyes.left", "runny", "f1")
    exam = found(exam, "eyes.left", "cloudy", "f2")
    assert exam.entry("eyes.left").asserted == ()
    exam = clean(remove_finding(exam, SPECIES, "eyes.left", "f1"), "eyes.left")
    assert exam.entry("eyes.left").asserted == ("no discharge seen",)


def test_own_words_take_all_of_it_back_and_the_rest_asks_what_they_deny():
    exam = found(clean(new_exam(), "heart"), "heart", "skips a beat now and then")
    assert exam.entry("heart").asserted == ()
    assert "Beside the finding nothing is said of the rest: heart" in text_of(exam)
    with pytest.raises(OwnWordsError):
        clean(exam, "heart")
    exam = clean(exam, "heart", denied=("rhythm",))
    assert exam.entry("heart").asserted == ("no murmur heard on either side",)


def test_adding_a_detail_to_own_words_takes_nothing_back():
    exam = found(new_exam(), "heart", "skips a beat")
    exam = clean(exam, "heart", denied=("rhythm",))
    detailed = replace(exam.entry("heart").findings[0], note="at rest")
    exam = add_finding(exam, SPECIES, "heart", detailed, "u2")
    assert exam.entry("heart").asserted == ("no murmur heard on either side",)


def test_a_part_that_is_not_there_denies_every_claim_of_it():
    exam = mark_not_present(new_exam(), SPECIES, "eyes.left", "removed", BY, "f9")
    with pytest.raises(NothingLeftError):
        clean(exam, "eyes.left")
    exam = open_again(("eyes.left",))(exam, Edit(SPECIES, BY, str))
    assert exam.entry("eyes.left").findings == ()
    assert clean(exam, "eyes.left").entry("eyes.left").asserted


def test_a_find_keeps_the_reason_why_the_rest_was_not_examined():
    exam = mark_not_examined(new_exam(), SPECIES, "heart", "unsafe", BY)
    exam = found(exam, "heart", "murmur")
    assert "Heart, apart from that: not examined: unsafe" in text_of(exam)


def test_nobody_is_credited_with_a_sentence_that_another_said():
    exam = clean(new_exam(people=(TECHNICIAN, VETERINARIAN)), "heart")
    exam = found(exam, "heart", "murmur", by=BY_VET)
    assert exam.entry("heart").attribution == BY
    text = text_of(exam)
    assert f"Examined by {TECHNICIAN.name} (technician): Heart" in text
    assert f"Examined by {VETERINARIAN.name} (veterinarian): Heart (Murmur)" in text


@pytest.mark.parametrize("outcome", EarlierOutcome)
def test_an_earlier_find_that_is_still_there_denies_as_one_found_now(outcome):
    earlier = EarlierFinding(
        "9" * 32, "f7", "heart", "2026-01-02", "Murmur", term_id="murmur"
    )
    exam = clean(new_exam(earlier=(earlier,)), "heart")
    exam = answer_earlier(exam, SPECIES, "f7", outcome)
    is_there = outcome in {EarlierOutcome.SAME, EarlierOutcome.CHANGED}
    assert ("no murmur heard" in text_of(exam)) is not is_there
    again = clean(
        answer_earlier(new_exam(earlier=(earlier,)), SPECIES, "f7", outcome), "heart"
    )
    assert ("no murmur heard" in text_of(again)) is not is_there


def test_an_earlier_find_in_own_words_that_is_still_there_is_asked_about():
    earlier = EarlierFinding("9" * 32, "f7", "heart", "2026-01-02", "odd beat")
    exam = new_exam(earlier=(earlier,))
    exam = answer_earlier(exam, SPECIES, "f7", EarlierOutcome.SAME)
    with pytest.raises(OwnWordsError):
        clean(exam, "heart")
    assert clean(exam, "heart", denied=("rhythm",)).entry("heart").asserted


def test_a_row_of_a_round_says_a_find_and_claims_nothing_it_denies():
    columns = {c.key: c for c in columns_offered(SPECIES, Role.TECHNICIAN)}
    column = columns["region:eyes.left"]
    numbers = iter(range(99))
    exam = new_exam(Scope.GROUP)
    for typed in ("n", "Discharge", "n", "runny"):
        exam = fill_cell(
            exam, Edit(SPECIES, BY, lambda: f"{next(numbers):032d}"), column, typed
        )
        is_clean = typed == "n"
        assert ("no discharge seen" in exam.entry("eyes.left").asserted) is is_clean
        assert bool(exam.entry("eyes.left").findings) is not is_clean


# --- What a routine exam does not do, and results in a claim's place ------------------


def test_a_claim_beyond_a_routine_exam_stands_only_where_it_was_added():
    exam = clean(new_exam(), "eyes.right")
    assert "lens clear" not in exam.entry("eyes.right").asserted
    exam = set_claim(exam, SPECIES, "eyes", "lens")
    exam = clean(exam, "eyes.left")
    assert exam.entry("eyes.left").asserted[-1] == "lens clear"
    assert "lens clear" not in exam.entry("eyes.right").asserted
    assert exam.entry("eyes.right").state is RegionState.NO_ABNORMALITY
    dropped = set_claim(exam, SPECIES, "eyes", "lens", is_added=False)
    assert "lens clear" not in clean(dropped, "eyes.left").entry("eyes.left").asserted


@pytest.mark.parametrize("clause_id", ["clear", "unknown"])
def test_only_a_claim_of_that_kind_can_be_added(clause_id):
    with pytest.raises(UnknownItemError):
        set_claim(new_exam(), SPECIES, "eyes", clause_id)


def test_a_part_a_routine_exam_does_not_look_into_is_not_asked_and_not_claimed():
    exam = new_exam()
    assert "deep" not in keys_in_scope(exam, SPECIES)
    assert "Throat" in text_of(exam).partition("NOT PART OF THIS EXAM")[2]
    with pytest.raises(NothingLeftError):
        clean(exam, "deep")
    added = set_claim(exam, SPECIES, "deep", "seen")
    assert "deep" in keys_in_scope(added, SPECIES)
    assert clean(added, "deep").entry("deep").asserted == ("throat seen: clean",)


def test_what_was_found_there_is_recorded_without_adding_a_claim_first():
    exam = found(new_exam(), "deep", "sore")
    assert "deep" in keys_in_scope(exam, SPECIES)
    assert "Throat: Sore" in text_of(exam)
    assert "Throat, apart from that" not in text_of(exam)


def test_felt_for_and_not_felt_is_a_result_and_no_gap():
    exam = clean(new_exam(), *NODES_KEYS, instead=("size",))
    assert exam.entry("nodes.left").state is RegionState.RESULT
    assert not exam.entry("nodes.left").is_gap
    text = text_of(exam)
    assert "Popliteal nodes, left and right: felt for, not felt" in text
    assert "not enlarged" not in text
    for key in ("eyes.left", "eyes.right", "heart"):
        exam = clean(exam, key)
    exam = replace(exam, asked_vitals=())
    points = [p.target for p in review(exam, SPECIES) if p.kind == "region"]
    assert points == []


def test_a_practice_that_says_so_by_habit_says_it_in_one_tap_and_can_say_otherwise():
    exam = new_exam(instead_claims=("nodes/size",))
    assert clean(exam, "nodes.left").entry("nodes.left").instead
    claimed = clean(exam, "nodes.left", instead=())
    assert claimed.entry("nodes.left").asserted == ("felt: not enlarged",)


def test_a_claim_without_a_result_of_its_own_is_not_answered_by_one():
    with pytest.raises(UnknownItemError):
        clean(new_exam(), "heart", instead=("murmur",))


def test_a_find_denies_a_result_in_the_claims_place_too():
    exam = clean(new_exam(), *NODES_KEYS, instead=("size",))
    exam = found(exam, "nodes.left", "large")
    assert exam.entry("nodes.left").instead == ()
    assert exam.entry("nodes.right").instead


def test_every_claim_answered_but_one_struck_is_partly_examined():
    exam = clean(new_exam(), "eyes.left", struck=(("dry", "unsafe"),))
    assert exam.entry("eyes.left").state is RegionState.PARTLY


# --- Any order of taps ----------------------------------------------------------------

TAPS = st.lists(
    st.tuples(
        st.sampled_from(["say", "find", "take back", "add"]),
        st.sampled_from(["eyes.left", "eyes.right", "heart", "nodes.left"]),
        st.integers(0, 3),
    ),
    max_size=12,
)


@settings(
    max_examples=examples(150),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(TAPS)
def test_in_any_order_of_taps_nothing_asserted_is_denied_by_a_find(taps):
    exam = new_exam()
    for number, (what, key, choice) in enumerate(taps):
        exam = tapped(exam, what, key, choice, f"f{number}")
        for said_of in keys_in_scope(exam, SPECIES):
            assert_nothing_is_denied(exam, said_of)
    for key, other in (("eyes.left", "eyes.right"), ("eyes.right", "eyes.left")):
        if any(f.term_id == "runny" for f in exam.entry(key).findings):
            claimed = "no discharge seen" in exam.entry(other).asserted
            assert ("no discharge seen" in text_of(exam)) is claimed


def tapped(exam, what, key, choice, finding_id):
    region = SPECIES.region(split_key(key)[0])
    findings = exam.entry(key).findings
    if what == "say" and rest_claims(exam, region, key):
        return clean(exam, key)
    if what == "find":
        term = region.terms[choice % len(region.terms)]
        return found(exam, key, term.term_id, finding_id)
    if what == "take back" and findings:
        finding = findings[choice % len(findings)]
        return remove_finding(exam, SPECIES, key, finding.finding_id)
    return set_claim(exam, SPECIES, "eyes", "lens") if what == "add" else exam


def assert_nothing_is_denied(exam, key):
    part = SPECIES.region(split_key(key)[0])
    entry = exam.entry(key)
    terms = {term.term_id: term for term in part.terms}
    denied = {c for f in entry.findings for c in terms[f.term_id].negates}
    texts = {c.text for c in part.clauses if c.clause_id in denied}
    assert texts.isdisjoint(entry.asserted)
    if entry.state is RegionState.UNEXAMINED:
        assert key in [point.target for point in review(exam, SPECIES)]


def test_a_closed_exam_refuses_another_claim():
    exam = new_exam()
    exam = stop_early(exam, SPECIES, StopReason.DIED, "", BY)
    exam = close(exam, SPECIES, TECHNICIAN, NOW)
    with pytest.raises(ExamClosedError):
        set_claim(exam, SPECIES, "eyes", "lens")


def test_a_continuation_asks_what_was_found_before_it_says_anything_of_the_part():
    first = found(new_exam(), "heart", "murmur")
    first = mark_not_examined(first, SPECIES, "heart", "too stressed", BY)
    first = stop_early(first, SPECIES, StopReason.URGENT, "", BY)
    first = close(first, SPECIES, TECHNICIAN, NOW)
    second = continuation(first, SPECIES, "d" * 32, TECHNICIAN, NOW)
    assert [f.finding_id for f in second.earlier] == ["f1"]
    second = answer_earlier(second, SPECIES, "f1", EarlierOutcome.SAME)
    second = clean(second, "heart")
    assert second.entry("heart").asserted == ("rhythm regular",)
    view = write_record(combined(first, (second,), SPECIES), SPECIES).as_text()
    assert "no murmur heard" not in view
    assert "Heart, apart from that: no abnormality found: rhythm regular" in view

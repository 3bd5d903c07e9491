"""What a region's row says before and after each answer, without a screen."""

from dataclasses import replace
from itertools import count

import pytest

from exam_app.app import region_changes as changes
from exam_app.app.exam_editor import Edit
from exam_app.app.region_changes import Found, finding_of
from exam_app.app.view.region_presenter import (
    BOTH,
    Sign,
    answer_of,
    groups,
    keys_chosen,
    keys_of,
    label_of,
    open_keys,
    prompts,
    sentence_shown,
    side_choices,
    step_name,
    term_label,
)
from exam_app.app.view.rest_presenter import sentence_to_say
from exam_app.domain.errors import BulkAssertionError, NotInScopeError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import Call, EarlierFinding, EarlierOutcome, Severity
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.protocol.protocol import Scope
from tests.small_dog import (
    DOG,
    EYES,
    NINE_O_CLOCK,
    NOSE,
    TECHNICIAN,
    new_exam,
    no_abnormality,
)

BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NINE_O_CLOCK, NINE_O_CLOCK)
BOTH_EYES = ("eyes.left", "eyes.right")


def made(exam: Exam, *steps) -> Exam:
    numbers = count(1)
    for step in steps:
        exam = step(exam, Edit(DOG, BY, lambda: f"{next(numbers):032x}"))
    return exam


def shown(exam: Exam, key: str):
    return answer_of(exam, DOG, key, exam.entry(key))


def red_eyes(*sides: str) -> Found:
    findings = tuple((f"eyes.{side}", side.ljust(32, "0")) for side in sides)
    return Found(EYES, findings, EYES.terms[0])


def test_row_shows_the_sentence_before_the_tap_and_the_tap_records_that_sentence():
    exam = new_exam()
    before = sentence_shown(exam, NOSE, ("nose",))
    assert before == (
        "No abnormality found: air moves through both nostrils; no discharge"
    )
    after = made(exam, no_abnormality(("nose",)))
    said = ("air moves through both nostrils", "no discharge")
    assert after.entry("nose").asserted == said
    assert sentence_shown(after, NOSE, ("nose",)) == before


def test_volunteer_reads_and_records_plain_words():
    exam = new_exam(Scope.INTAKE)
    assert "nothing runs from it" in sentence_to_say(exam, NOSE, "nose")
    after = made(exam, no_abnormality(("nose",)))
    assert after.entry("nose").asserted[1] == "nothing runs from it"
    assert term_label(exam, EYES.terms[0]) == "red eye"
    assert label_of(exam, NOSE) == "Nose"


def test_headings_stand_head_to_tail_with_only_the_regions_of_the_scope():
    staff = [
        (g.title, [r.region_id for r in g.regions]) for g in groups(new_exam(), DOG)
    ]
    assert staff == [("Head", ["nose", "eyes"]), ("Chest", ["heart"])]
    volunteer = [g.title for g in groups(new_exam(Scope.INTAKE), DOG)]
    assert volunteer == ["Head"]


def test_unexamined_never_looks_like_normal():
    answer = shown(new_exam(), "nose")
    assert (answer.sign, answer.title, answer.is_open) == (
        Sign.OPEN,
        "Unexamined",
        True,
    )


def test_both_sides_record_one_assertion_each():
    exam = made(new_exam(), no_abnormality(BOTH_EYES))
    assert [exam.entry(k).state for k in BOTH_EYES] == [RegionState.NO_ABNORMALITY] * 2
    assert shown(exam, "eyes.left").side == "Left"


def test_normal_is_refused_for_two_regions_at_once():
    with pytest.raises(BulkAssertionError):
        made(new_exam(), no_abnormality(("nose", "heart")))


def test_the_same_find_on_both_sides_is_two_findings_with_the_animals_own_sides():
    exam = made(new_exam(), changes.found(red_eyes("left", "right")))
    findings = [exam.entry(key).findings[0] for key in BOTH_EYES]
    assert [(f.words, f.side) for f in findings] == [
        ("redness", "left"),
        ("redness", "right"),
    ]
    answer = shown(exam, "eyes.left")
    assert (answer.sign, answer.findings[0].text) == (Sign.FOUND, "redness")


def test_details_given_once_reach_both_sides_and_keep_the_rest():
    find = red_eyes("left", "right")
    exam = made(
        new_exam(),
        changes.found(find),
        changes.detailed(find, severity=Severity.SLIGHT, place="upper lid"),
        changes.detailed(find, since="today"),
    )
    for key, finding_id in find.findings:
        finding = finding_of(exam, key, finding_id)
        assert finding.severity is Severity.SLIGHT
        assert (finding.place, finding.since) == ("upper lid", "today")
    assert shown(exam, "eyes.right").findings[0].text == (
        "redness, slight, upper lid, since today"
    )


def test_own_words_are_kept_as_typed():
    find = Found(NOSE, (("nose", "f" * 32),))
    exam = made(new_exam(), changes.found(find, "  bent to the left "))
    assert exam.entry("nose").findings[0].words == "bent to the left"


def test_find_that_is_an_urgent_sign_opens_it_and_taking_it_back_closes_it():
    find = Found(NOSE, (("nose", "f" * 32),), NOSE.terms[1])
    exam = made(new_exam(), changes.found(find))
    assert [u.label for u in exam.urgent] == ["bleeding"]
    assert shown(exam, "nose").findings[0].is_urgent
    assert made(exam, changes.removed(find)).urgent == ()


def test_find_called_urgent_opens_a_sign_in_its_own_words():
    find = red_eyes("left")
    exam = made(
        new_exam(),
        changes.found(find),
        changes.detailed(find, call=Call.URGENT),
    )
    assert [u.label for u in exam.urgent] == ["redness"]


def test_struck_claim_is_shown_with_its_reason_and_is_no_normal():
    exam = made(new_exam(), no_abnormality(("nose",), (("air", "unsafe"),)))
    answer = shown(exam, "nose")
    assert answer.sign is Sign.GAP
    assert answer.title == "Partly examined"
    assert answer.lines == ("not seen: air moves through both nostrils (unsafe)",)
    assert sentence_shown(exam, NOSE, ("nose",)) == "No abnormality found: no discharge"


def test_not_examined_not_present_remark_and_later_are_each_said():
    exam = made(
        new_exam(),
        changes.not_examined(("nose",), "unsafe"),
        changes.remark(("nose",), " wet "),
        changes.not_present(("eyes.left",), "enucleated"),
        changes.later(("heart",), parked=True),
    )
    assert shown(exam, "nose").lines == ("unsafe", "remark: wet")
    assert shown(exam, "nose").sign is Sign.GAP
    lost = shown(exam, "eyes.left")
    assert (lost.sign, lost.title) == (Sign.ABSENT, "Not present")
    assert lost.findings[0].text == "not present: enucleated"
    parked = shown(exam, "heart")
    assert (parked.sign, parked.title, parked.is_open) == (
        Sign.PARKED,
        "Later today",
        True,
    )


def test_opened_again_is_unexamined_and_keeps_the_remark():
    exam = made(
        new_exam(),
        no_abnormality(("nose",)),
        changes.remark(("nose",), "wet"),
        changes.open_again(("nose",)),
    )
    assert exam.entry("nose").state is RegionState.UNEXAMINED
    assert exam.entry("nose").remark == "wet"
    assert exam.entry("nose").asserted == ()


def test_the_rest_beside_a_finding_is_said_as_the_rest():
    exam = made(
        new_exam(),
        changes.found(Found(NOSE, (("nose", "f" * 32),), NOSE.terms[0])),
        no_abnormality(("nose",)),
    )
    answer = shown(exam, "nose")
    assert answer.title == "With findings"
    said = "air moves through both nostrils; no discharge"
    assert answer.lines == (f"the rest: no abnormality found: {said}",)
    assert sentence_shown(exam, NOSE, ("nose",)) == ""


def test_sides_stand_left_both_right_and_one_side_alone_is_no_choice_of_both():
    assert [name for _, name in side_choices(BOTH_EYES)] == ["Left", "Both", "Right"]
    assert keys_chosen(BOTH, BOTH_EYES) == BOTH_EYES
    assert keys_chosen("eyes.left", BOTH_EYES) == ("eyes.left",)
    assert [name for _, name in side_choices(("eyes.right",))] == ["Right"]


def test_both_after_one_side_was_answered_leaves_that_answer_alone():
    exam = made(new_exam(), changes.found(red_eyes("left")))
    assert open_keys(exam, BOTH_EYES) == ("eyes.right",)


def test_continuation_of_one_side_asks_for_that_side_only():
    exam = new_exam(continues="e" * 32, open_keys=("eyes.right",))
    assert keys_of(exam, DOG, EYES) == ("eyes.right",)


def test_a_step_is_named_by_part_side_and_answer():
    exam = new_exam()
    assert step_name(exam, EYES, BOTH_EYES, "redness") == "Eyes, both: redness"
    assert step_name(exam, EYES, ("eyes.left",), "redness") == "Eyes, left: redness"
    assert step_name(exam, NOSE, ("nose",), "discharge") == "Nose: discharge"


def test_a_part_outside_the_scope_takes_no_answer():
    with pytest.raises(NotInScopeError):
        made(new_exam(Scope.INTAKE), no_abnormality(("heart",)))


def test_earlier_finding_is_answered_with_what_became_of_it():
    earlier = EarlierFinding("e" * 32, "f" * 32, "nose", "2026-01-02", "discharge")
    exam = replace(new_exam(), earlier=(earlier,))
    same = changes.earlier_answered(("f" * 32,), EarlierOutcome.SAME)
    after = made(exam, same)
    assert after.earlier[0].outcome is EarlierOutcome.SAME


def test_urgent_button_opens_a_listed_sign_with_its_action_or_own_words():
    sign = DOG.urgent_signs[0]
    exam = made(
        new_exam(),
        changes.urgent_noticed(sign, "", "bleeding"),
        changes.urgent_noticed(None, " hit by a car ", "x"),
    )
    assert [(u.label, u.sign_id) for u in exam.urgent] == [
        ("bleeding", "bleeding"),
        ("hit by a car", ""),
    ]
    assert exam.urgent[0].action == sign.action


def test_prompts_in_staff_terms_are_not_shown_to_a_volunteer():
    assert prompts(new_exam(), NOSE) == ("Look: both nostrils",)
    assert prompts(new_exam(Scope.INTAKE), NOSE) == ()

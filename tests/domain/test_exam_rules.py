"""The exam's rules: nothing skipped, nothing silently normal, nothing lost."""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.domain.animal.signalment import life_stage_of
from exam_app.domain.errors import (
    BulkAssertionError,
    ExamClosedError,
    MissingReasonError,
    NotInScopeError,
    OpenPointsError,
    OwnWordsError,
    UnknownItemError,
)
from exam_app.domain.exam.closing import close, continuation, gaps, stop_early
from exam_app.domain.exam.exam import StopReason, keys_in_scope
from exam_app.domain.exam.finding_transitions import add_finding, remove_finding
from exam_app.domain.exam.findings import Call, EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.review import PointKind, progress, review
from exam_app.domain.exam.transitions import (
    answer_earlier,
    answer_urgent,
    assert_no_abnormality,
    mark_not_examined,
    mark_not_present,
    open_urgent,
    park,
    set_remark,
)
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.exam.vital_transitions import clear_vital, record_vital
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.counting import CountAlong
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import BY, NOW, PROTOCOL, TECHNICIAN, new_exam

IDS = ("1" * 32, "2" * 32, "3" * 32, "4" * 32)


def clean(exam, *keys):
    return assert_no_abnormality(exam, PROTOCOL, keys, Role.TECHNICIAN, BY)


def vital(exam, vital_id, **fields):
    return record_vital(exam, PROTOCOL, vital_id, VitalEntry(**fields), BY, IDS)


def celsius(typed):
    return Reading(typed, "degC", Decimal(typed))


def answered():
    exam = new_exam()
    exam = clean(exam, "nose")
    exam = clean(exam, "eyes.left", "eyes.right")
    exam = clean(exam, "heart")
    exam = clean(exam, "tail")
    exam = vital(exam, "weight", reading=Reading("10.2", "kg", Decimal("10.2")))
    return vital(exam, "temperature", reading=celsius("38.1"), site="rectal")


def text_of(exam):
    return write_record(exam, PROTOCOL).as_text()


def test_new_exam_lists_every_region_and_required_vital_as_open():
    points = review(new_exam(), PROTOCOL)
    assert [(p.kind, p.target) for p in points] == [
        (PointKind.VITAL, "weight"),
        (PointKind.VITAL, "temperature"),
        (PointKind.REGION, "nose"),
        (PointKind.REGION, "eyes.left"),
        (PointKind.REGION, "eyes.right"),
        (PointKind.REGION, "heart"),
        (PointKind.REGION, "tail"),
    ]


def test_closing_with_one_region_unexamined_is_refused_and_names_it():
    exam = new_exam(regions=dict(answered().regions), vitals=answered().vitals)
    regions = {k: v for k, v in exam.regions.items() if k != "eyes.right"}
    exam = new_exam(regions=regions, vitals=exam.vitals)
    with pytest.raises(OpenPointsError) as refused:
        close(exam, PROTOCOL, TECHNICIAN, NOW)
    assert [p.target for p in refused.value.points] == ["eyes.right"]


def test_answered_exam_closes_and_then_refuses_every_change():
    closed = close(answered(), PROTOCOL, TECHNICIAN, NOW)
    assert closed.is_closed
    changes = [
        lambda: clean(closed, "nose"),
        lambda: add_finding(closed, PROTOCOL, "nose", Finding("f", "x", BY), "u"),
        lambda: remove_finding(closed, PROTOCOL, "nose", "f"),
        lambda: mark_not_examined(closed, PROTOCOL, "nose", "unsafe", BY),
        lambda: set_remark(closed, PROTOCOL, "nose", "x"),
        lambda: vital(closed, "weight", reason="refused"),
        lambda: clear_vital(closed, PROTOCOL, "weight"),
        lambda: stop_early(closed, PROTOCOL, StopReason.UNSAFE, "", BY),
        lambda: close(closed, PROTOCOL, TECHNICIAN, NOW),
    ]
    for number, change in enumerate(changes):
        try:
            change()
        except (ExamClosedError, UnknownItemError):
            continue
        pytest.fail(f"change {number} was accepted")


def test_normal_is_refused_for_two_regions_at_once():
    with pytest.raises(BulkAssertionError):
        clean(new_exam(), "nose", "tail")


def test_both_eyes_are_two_assertions():
    exam = clean(new_exam(), "eyes.left", "eyes.right")
    assert exam.entry("eyes.left").state is RegionState.NO_ABNORMALITY
    assert exam.entry("eyes.right").state is RegionState.NO_ABNORMALITY
    assert "Eyes, left and right: eyes even" in text_of(exam)


def test_intake_sentence_claims_only_the_intake_clauses():
    exam = new_exam(Scope.INTAKE)
    exam = assert_no_abnormality(exam, PROTOCOL, ("nose",), Role.VOLUNTEER, BY)
    assert exam.entry("nose").asserted == ("looks even",)


def test_struck_clause_is_kept_with_its_reason_and_not_claimed():
    exam = assert_no_abnormality(
        new_exam(), PROTOCOL, ("nose",), Role.TECHNICIAN, BY, (("nose_feel", "bites"),)
    )
    entry = exam.entry("nose")
    assert entry.state is RegionState.PARTLY
    assert entry.asserted == ("nose even",)
    assert "not seen: nose not painful (bites)" in text_of(exam)
    assert "Nose: nose even" in text_of(exam)


@pytest.mark.parametrize(
    "struck",
    [
        (("nose_look", "x"), ("nose_feel", "x")),
        (("unknown", "x"),),
    ],
)
def test_sentence_with_every_or_an_unknown_clause_struck_is_refused(struck):
    with pytest.raises(UnknownItemError):
        assert_no_abnormality(
            new_exam(), PROTOCOL, ("nose",), Role.TECHNICIAN, BY, struck
        )


@pytest.mark.parametrize("reason", ["", "  "])
def test_not_examined_without_a_reason_is_refused(reason):
    with pytest.raises(MissingReasonError):
        mark_not_examined(new_exam(), PROTOCOL, "nose", reason, BY)
    with pytest.raises(MissingReasonError):
        assert_no_abnormality(
            new_exam(),
            PROTOCOL,
            ("nose",),
            Role.TECHNICIAN,
            BY,
            (("nose_feel", reason),),
        )


def test_find_in_own_words_after_a_clean_answer_takes_all_of_it_back():
    exam = clean(new_exam(), "nose")
    exam = add_finding(exam, PROTOCOL, "nose", Finding("f1", "wound", BY), "u")
    assert exam.entry("nose").asserted == ()
    assert exam.entry("nose").state is RegionState.WITH_FINDINGS
    assert "Nose, apart from that: not recorded" in text_of(exam)


def test_rest_beside_own_words_is_asserted_once_it_was_said_what_they_deny():
    exam = add_finding(new_exam(), PROTOCOL, "nose", Finding("f1", "wound", BY), "u")
    with pytest.raises(OwnWordsError):
        clean(exam, "nose")
    exam = assert_no_abnormality(
        exam, PROTOCOL, ("nose",), Role.TECHNICIAN, BY, denied=("nose_look",)
    )
    assert exam.entry("nose").state is RegionState.WITH_FINDINGS
    assert text_of(exam).count("nose even") == 0
    rest = "Nose, apart from that: no abnormality found: nose not painful"
    assert rest in text_of(exam)


def test_taking_back_the_only_finding_leaves_the_region_unexamined():
    exam = add_finding(new_exam(), PROTOCOL, "nose", Finding("f1", "wound", BY), "u")
    exam = remove_finding(exam, PROTOCOL, "nose", "f1")
    assert exam.entry("nose").state is RegionState.UNEXAMINED


def test_missing_eye_is_not_present_and_a_finding_and_no_gap():
    exam = mark_not_present(new_exam(), PROTOCOL, "eyes.left", "enucleated", BY, "f9")
    entry = exam.entry("eyes.left")
    assert entry.state is RegionState.NOT_PRESENT
    assert [f.words for f in entry.findings] == ["not present: enucleated"]
    assert gaps(exam, PROTOCOL) == ()


def test_docked_tail_is_not_present_without_a_finding():
    exam = mark_not_present(new_exam(), PROTOCOL, "tail", "docked", BY, "f9")
    assert exam.entry("tail").findings == ()
    assert "Tail: docked" in text_of(exam)


def test_part_of_the_other_sex_is_not_asked():
    assert "male_part" not in keys_in_scope(new_exam(), PROTOCOL)


def test_region_outside_the_scope_is_refused_and_never_reads_as_normal():
    exam = new_exam(Scope.INTAKE)
    with pytest.raises(NotInScopeError):
        clean(exam, "heart")
    text = text_of(exam)
    assert "NOT PART OF THIS EXAM" in text
    assert "Heart. Not part of this intake look-over, and nothing is said." in text


def test_parked_region_still_keeps_the_exam_open():
    exam = park(new_exam(), PROTOCOL, "nose", parked=True)
    messages = [p.message for p in review(exam, PROTOCOL) if p.target == "nose"]
    assert messages == ["Nose: parked, still unexamined"]


def test_remark_changes_no_state():
    exam = set_remark(new_exam(), PROTOCOL, "nose", "old scar, pale")
    assert exam.entry("nose").state is RegionState.UNEXAMINED
    assert "old scar, pale" in text_of(exam)


def test_temperature_refused_stands_in_the_headline():
    exam = vital(answered(), "temperature", reason="refused")
    closed = close(exam, PROTOCOL, TECHNICIAN, NOW)
    assert "Not done: temperature (refused)" in write_record(closed, PROTOCOL).headline


def test_vital_without_value_and_reason_is_refused():
    with pytest.raises(MissingReasonError):
        vital(new_exam(), "weight")


def test_fahrenheit_reading_on_the_upper_limit_is_near_and_not_above():
    reading = Reading("101.3", "degF", Decimal("101.3"))
    exam = vital(new_exam(), "temperature", reading=reading, site="rectal")
    flag = exam.vital("temperature").flag
    assert flag is not None
    assert flag.level in {FlagLevel.WITHIN, FlagLevel.NEAR_HIGH}


def test_temperature_of_the_ear_is_not_held_against_rectal_ranges():
    exam = vital(new_exam(), "temperature", reading=celsius("39.9"), site="ear")
    assert exam.vital("temperature").flag is None


def test_rate_in_another_state_is_not_held_against_resting_ranges():
    reading = Reading("180", "beat/min", Decimal(180))
    exam = vital(new_exam(), "heart_rate", reading=reading, state=RateState.RESTRAINED)
    assert exam.vital("heart_rate").flag is None


def test_unknown_age_is_held_against_no_range():
    exam = new_exam(life_stage="")
    exam = vital(exam, "temperature", reading=celsius("40.0"), site="rectal")
    assert exam.vital("temperature").flag is None


def test_rate_without_a_state_keeps_the_exam_open():
    reading = Reading("90", "beat/min", Decimal(90))
    exam = vital(answered(), "heart_rate", reading=reading)
    assert [p.kind for p in review(exam, PROTOCOL)] == [PointKind.STATE]


def test_recount_keeps_the_first_count_and_its_evidence():
    first = Reading("124", "beat/min", Decimal(124))
    second = Reading("100", "beat/min", Decimal(100))
    exam = vital(
        new_exam(),
        "heart_rate",
        reading=first,
        evidence=CountAlong(31, 15),
        state=RateState.RESTING,
    )
    exam = vital(
        exam,
        "heart_rate",
        reading=second,
        evidence=CountAlong(50, 30),
        state=RateState.RESTING,
    )
    kept = exam.vital("heart_rate").earlier
    assert [(c.reading.typed, c.evidence) for c in kept] == [
        ("124", CountAlong(31, 15))
    ]


def test_urgent_value_opens_a_sign_that_blocks_closing_until_answered():
    exam = vital(answered(), "temperature", reading=celsius("41.2"), site="rectal")
    assert [u.sign_id for u in exam.urgent] == ["hot"]
    with pytest.raises(OpenPointsError):
        close(exam, PROTOCOL, TECHNICIAN, NOW)
    told = UrgentAnswer(
        AnswerKind.TOLD, BY, "Dr Mar Ondine", "phone", NOW, "cool", True
    )
    exam = answer_urgent(exam, exam.urgent[0].entry_id, told)
    closed = close(exam, PROTOCOL, TECHNICIAN, NOW)
    assert "told Dr Mar Ondine" in text_of(closed)
    assert "instruction read back" in text_of(closed)


@pytest.mark.parametrize("scope", list(Scope))
def test_unanswered_urgent_sign_blocks_closing_in_every_scope(scope):
    exam = new_exam(scope, focus=("nose",) if scope is Scope.FOCUSED else ())
    sign = UrgentEntry("8" * 32, "arrow in the thigh", BY)
    exam = open_urgent(exam, sign)
    exam = stop_early(exam, PROTOCOL, StopReason.URGENT, "", BY)
    with pytest.raises(OpenPointsError) as refused:
        close(exam, PROTOCOL, TECHNICIAN, NOW)
    assert [p.kind for p in refused.value.points] == [PointKind.URGENT]
    exam = answer_urgent(exam, sign.entry_id, UrgentAnswer(AnswerKind.TRIED, BY))
    assert close(exam, PROTOCOL, TECHNICIAN, NOW).is_closed


def test_two_signs_of_one_value_both_open_though_they_are_named_alike():
    hot = next(s for s in PROTOCOL.urgent_signs if s.sign_id == "hot")
    other = replace(hot, sign_id="hot_too", action="cool with water first")
    both = replace(PROTOCOL, urgent_signs=(*PROTOCOL.urgent_signs, other))
    entry = VitalEntry(reading=celsius("41.2"), site="rectal")
    ids = ("7" * 32, "8" * 32)
    exam = record_vital(answered(), both, "temperature", entry, BY, ids)
    assert [u.action for u in exam.urgent] == [hot.action, "cool with water first"]


def test_mistyped_urgent_value_takes_its_unanswered_sign_back():
    exam = vital(answered(), "temperature", reading=celsius("41.2"), site="rectal")
    exam = vital(exam, "temperature", reading=celsius("38.2"), site="rectal")
    assert exam.urgent == ()


def test_answered_urgent_sign_stays_when_the_value_changes():
    exam = vital(answered(), "temperature", reading=celsius("41.2"), site="rectal")
    answer = UrgentAnswer(AnswerKind.TRIED, BY)
    exam = answer_urgent(exam, exam.urgent[0].entry_id, answer)
    exam = vital(exam, "temperature", reading=celsius("38.2"), site="rectal")
    assert [u.sign_id for u in exam.urgent] == ["hot"]


def test_urgent_word_and_urgent_term_open_their_signs():
    exam = vital(new_exam(), "gums", words=("white",), values=("white",))
    found = Finding("f1", "bleeding", BY, term_id="nose_bleed")
    exam = add_finding(exam, PROTOCOL, "nose", found, "5" * 32)
    assert [u.sign_id for u in exam.urgent] == ["white_gums", "bleeding"]
    exam = remove_finding(exam, PROTOCOL, "nose", "f1")
    assert [u.sign_id for u in exam.urgent] == ["white_gums"]


def test_own_words_called_urgent_open_a_sign():
    found = Finding("f1", "arrow in the thigh", BY, call=Call.URGENT)
    exam = add_finding(new_exam(), PROTOCOL, "tail", found, "5" * 32)
    assert exam.urgent[0].label == "arrow in the thigh"
    assert "URGENT, NOT YET TOLD: arrow in the thigh" in text_of(exam)


def test_stopping_early_gives_reasons_never_normal_and_can_close():
    exam = clean(new_exam(), "nose")
    exam = stop_early(exam, PROTOCOL, StopReason.UNSAFE, "lunged", BY)
    assert exam.entry("nose").state is RegionState.NO_ABNORMALITY
    assert exam.entry("tail").state is RegionState.NOT_EXAMINED
    closed = close(exam, PROTOCOL, TECHNICIAN, NOW)
    assert "Stopped early: unsafe (lunged)" in text_of(closed)
    text = text_of(closed)
    assert "Not done: 4 parts, 2 vitals (stopped early: unsafe)" in text
    for label in ("Weight", "Temperature", "Heart", "Tail"):
        assert f"- {label}: " in text.partition("NOT EXAMINED, OR ONLY PARTLY")[2]


def test_what_was_found_and_measured_stands_before_the_list_of_what_was_not_done():
    exam = clean(new_exam(), "nose")
    hot = VitalEntry(reading=Reading("41.2", "degC", Decimal("41.2")), site="rectal")
    exam = record_vital(exam, PROTOCOL, "temperature", hot, BY, ("0" * 32,) * 4)
    exam = add_finding(exam, PROTOCOL, "tail", Finding("f1", "kink", BY), "5" * 32)
    exam = stop_early(exam, PROTOCOL, StopReason.UNSAFE, "", BY)
    text = text_of(exam)
    vitals, _, rest = text.partition("VITALS")[2].partition("\n\n")
    assert "41.2" in vitals
    assert "stopped early" not in vitals
    found, _, undone = rest.partition("NOT EXAMINED, OR ONLY PARTLY")
    assert "Tail: kink" in found
    assert "stopped early: unsafe" not in found
    for line in ("- Weight: stopped early: unsafe", "- Heart: not examined: stopped"):
        assert line in undone


def test_nobody_is_named_beside_what_a_stop_left_undone():
    exam = clean(new_exam(), "nose")
    exam = mark_not_examined(exam, PROTOCOL, "heart", "purring", BY)
    exam = stop_early(exam, PROTOCOL, StopReason.URGENT, "", BY)
    lines = text_of(close(exam, PROTOCOL, TECHNICIAN, NOW)).splitlines()
    (said,) = [line for line in lines if "Said not to be examined" in line]
    assert said.endswith(": Heart")
    assert any(line.startswith("- Stopped early ") for line in lines)


def test_stopping_early_does_not_answer_an_urgent_sign():
    exam = vital(new_exam(), "gums", words=("white",), values=("white",))
    exam = stop_early(exam, PROTOCOL, StopReason.URGENT, "", BY)
    with pytest.raises(OpenPointsError):
        close(exam, PROTOCOL, TECHNICIAN, NOW)


def test_continuation_asks_only_for_the_gaps_and_names_the_first_record():
    exam = clean(new_exam(), "nose")
    exam = vital(exam, "weight", reading=Reading("9", "kg", Decimal(9)))
    exam = stop_early(exam, PROTOCOL, StopReason.ESCAPED, "", BY)
    first = close(exam, PROTOCOL, TECHNICIAN, NOW)
    second = continuation(first, PROTOCOL, "d" * 32, TECHNICIAN, NOW)
    targets = [p.target for p in review(second, PROTOCOL)]
    assert targets == ["temperature", "eyes.left", "eyes.right", "heart", "tail"]
    assert second.continues == first.exam_id
    assert "Nose" not in text_of(second).split("NOT PART OF THIS EXAM")[0]


def test_open_earlier_finding_must_be_answered():
    earlier = EarlierFinding("9" * 32, "f0", "nose", "2026-01-02", "wound, left")
    exam = new_exam(
        regions=answered().regions, vitals=answered().vitals, earlier=(earlier,)
    )
    assert [p.kind for p in review(exam, PROTOCOL)] == [PointKind.EARLIER]
    exam = answer_earlier(exam, PROTOCOL, "f0", EarlierOutcome.GONE)
    assert "wound, left (2026-01-02): gone" in text_of(exam)
    close(exam, PROTOCOL, TECHNICIAN, NOW)


def test_focused_exam_is_named_by_its_regions_and_requires_only_them():
    exam = new_exam(Scope.FOCUSED, focus=("eyes",))
    assert [p.target for p in review(exam, PROTOCOL)] == ["eyes.left", "eyes.right"]
    assert "Focused exam (Eyes)" in write_record(exam, PROTOCOL).title


def test_progress_counts_answered_keys():
    assert progress(new_exam(), PROTOCOL) == (0, 5)
    assert progress(clean(new_exam(), "nose"), PROTOCOL) == (1, 5)


def test_draft_says_it_is_not_closed():
    assert "NOT CLOSED: a draft with 7 open points" in text_of(new_exam())


def test_life_stage_follows_the_age_and_unknown_age_has_none():
    stages = PROTOCOL.life_stages
    assert [life_stage_of(stages, days) for days in (0, 364, 365, None)] == [
        "young",
        "young",
        "adult",
        "",
    ]

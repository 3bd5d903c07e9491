"""What opens an urgent sign by value, grade or quality, and under which conditions.

An invented species stands for the rules; limits of real ones stand in tests of their
own, each beside its source.
"""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.domain.exam.finding_transitions import opens_sign
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, Setting, VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.protocol import Term
from exam_app.domain.protocol.scales import Graded, give_grade
from exam_app.domain.protocol.urgent_signs import Trigger, UrgentSign
from exam_app.protocols.loader import load_protocol
from tests.exam_samples import BY, PROTOCOL, new_exam

IDS = tuple(f"{number:032d}" for number in range(8))


def counted(trigger, *counts, state=RateState.RESTING, **of_exam):
    sign = UrgentSign(
        "fast", "Fast", "Fast", "Tell a veterinarian.", triggers=(trigger,)
    )
    protocol = replace(PROTOCOL, urgent_signs=(sign,))
    exam = new_exam(**of_exam)
    for number in counts:
        reading = Reading(str(number), "beat/min", Decimal(number))
        entry = VitalEntry(reading=reading, state=state)
        exam = record_vital(exam, protocol, "heart_rate", entry, BY, IDS)
    return [entry.sign_id for entry in exam.urgent]


@pytest.mark.parametrize(
    ("counts", "opens"),
    [((220,), False), ((220, 180), False), ((180, 220), False), ((220, 224), True)],
)
def test_a_limit_that_asks_for_two_counts_opens_after_the_second(counts, opens):
    twice = Trigger("heart_rate", above="200", counted_twice=True)
    assert bool(counted(twice, *counts)) is opens


@pytest.mark.parametrize(("count", "opens"), [(200, False), (201, True)])
def test_the_limit_itself_opens_nothing(count, opens):
    assert bool(counted(Trigger("heart_rate", above="200"), count)) is opens


@pytest.mark.parametrize(
    ("count", "opens"), [(180, False), (181, True), (199, True), (200, False)]
)
def test_a_band_opens_only_what_lies_between_its_ends(count, opens):
    assert bool(counted(Trigger("heart_rate", "200", "180"), count)) is opens


def test_a_grade_in_words_opens_no_limit_and_the_highest_number_does():
    cat = load_protocol("cat").protocol
    exam = new_exam(protocol_id="cat", animal=replace(new_exam().animal, species="cat"))
    for value, opens in (("5", True), ("inappropriate", False)):
        graded = VitalEntry(grade=give_grade(cat.scale("mentation"), value))
        after = record_vital(exam, cat, "mentation", graded, BY, IDS)
        assert ("collapse" in {e.sign_id for e in after.urgent}) is opens


def test_a_limit_holds_only_in_the_states_and_settings_it_names():
    resting = Trigger("heart_rate", above="200", states=("resting",))
    assert counted(resting, 220)
    assert not counted(resting, 220, state=RateState.AFTER_EXERTION)
    assert not counted(resting, 220, state=None)
    at_home = Trigger("heart_rate", above="200", settings=("home",))
    assert not counted(at_home, 220, setting=Setting.CLINIC)
    assert counted(at_home, 220, setting=Setting.HOME)


def test_an_unknown_age_meets_a_limit_of_the_young_only_where_it_says_so():
    young = Trigger("heart_rate", below="100", life_stages=("puppy",))
    assert not counted(young, 60, life_stage="")
    assert not counted(young, 60, life_stage="adult")
    assert counted(young, 60, life_stage="puppy")
    careful = replace(young, or_unknown_age=True)
    assert counted(careful, 60, life_stage="")
    assert not counted(careful, 60, life_stage="adult")


def found(**more):
    return Finding("f1", "lame", BY, term_id="lame", **more)


def test_a_graded_find_is_urgent_from_its_grade_on():
    lame = Term(
        "lame", "Lame", scale_id="lameness", urgent_sign_id="l", urgent_from="4"
    )
    for value, opens in (("3", False), ("4", True), ("5", True)):
        graded = Graded("lameness", value, "as shown")
        assert opens_sign(lame, found(grades=(graded,))) is opens
    other = Graded("another scale", "5", "as shown")
    assert not opens_sign(lame, found(grades=(other,)))
    assert not opens_sign(lame, found())


def test_a_quality_makes_a_find_urgent_and_a_term_that_names_none_always_is():
    discharge = Term(
        "d",
        "Discharge",
        qualities=("clear", "pus"),
        urgent_sign_id="d",
        urgent_qualities=("pus",),
    )
    assert opens_sign(discharge, found(qualities=("pus", "clear")))
    assert not opens_sign(discharge, found(qualities=("clear",)))
    assert not opens_sign(discharge, found())
    assert opens_sign(replace(discharge, urgent_qualities=()), found())
    assert not opens_sign(Term("d", "Discharge"), found())

"""The tape: lengths asked once, rules side by side, an estimate marked as one."""

from dataclasses import replace
from decimal import Decimal

from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.forms import tape_form
from exam_app.app.forms.vital_form import VitalForm, to_entry
from exam_app.domain.animal.signalment import AgeBasis, Animal, Sex
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import load_protocol
from tests.exam_samples import BY, NOW, TECHNICIAN

HORSE = load_protocol("horse")
MARE = Animal(
    "a" * 32,
    "Ash (demo)",
    "horse",
    sex=Sex.FEMALE,
    age_days=3000,
    age_on="2026-09-01",
    age_basis=AgeBasis.TOLD,
    is_demo=True,
)


def exam_of(animal=MARE):
    order = ExamOrder(animal, Scope.TECHNICIAN, Setting.FARM)
    return begin_exam(
        order, HORSE.protocol, HORSE.content_hash, TECHNICIAN, "e" * 32, NOW
    )


def lengths(**typed):
    found, problems = tape_form.read_lengths(typed, "cm")
    assert not problems
    return found


def test_the_lengths_most_rules_ask_for_come_first_and_once():
    measures = tape_form.measures_of(tape_form.rules_for(exam_of()))
    names = [measure.measure_id for measure in measures]
    assert names[:2] == ["heart_girth", "body_length"]
    assert len(names) == len(set(names))


def test_a_foal_is_offered_the_foals_rule_and_no_adult_one():
    foal = replace(MARE, age_days=60, age_on="2026-09-20")
    assert [rule.rule_id for rule in tape_form.rules_for(exam_of(foal))] == [
        "foal_girth_only"
    ]


def test_rules_stand_side_by_side_and_their_disagreement_is_told():
    rules = tape_form.rules_for(exam_of())
    found = tape_form.results(rules, lengths(heart_girth="190.5", body_length="176.53"))
    by_rule = {result.rule.rule_id: result for result in found}
    assert by_rule["horse_330"].estimate.kg < by_rule["horse_300_plus_50"].estimate.kg
    assert by_rule["horse_draft"].estimate is None
    assert "neck" in by_rule["horse_draft"].shown
    assert "%" in tape_form.disagreement(found)


def test_every_result_names_its_population_its_error_and_its_source():
    for result in tape_form.results(tape_form.rules_for(exam_of()), {}):
        assert "Made on:" in result.details
        assert result.rule.error in result.details
        assert "Source:" in result.details


def test_a_length_that_is_no_length_is_said_beside_its_field():
    _, problems = tape_form.read_lengths(
        {"heart_girth": "115 kg", "body_length": "long", "neck_girth": ""}, "cm"
    )
    assert set(problems) == {"heart_girth", "body_length"}


def test_an_estimate_is_marked_as_one_in_the_record_with_how_it_was_made():
    exam = exam_of()
    given = lengths(heart_girth="185 cm", body_length="165")
    rules = [r for r in tape_form.rules_for(exam) if r.rule_id == "horse_girth_length"]
    (found,) = tape_form.results(tuple(rules), given)
    form = tape_form.with_estimate(VitalForm(), found.estimate, given)
    weight = HORSE.protocol.vital("weight")
    entry = to_entry(exam, HORSE.protocol, weight, form)
    assert entry.is_estimate
    assert entry.reading.value == Decimal(475)
    ids = tuple(f"{n:032x}" for n in range(8))
    exam = record_vital(exam, HORSE.protocol, "weight", entry, BY, ids)
    text = write_record(exam, HORSE.protocol).as_text()
    assert "estimate" in text
    assert "heart girth 185 cm" in text
    assert "Carroll" in text

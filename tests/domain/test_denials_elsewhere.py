"""A find or a vital denies a claim of another part, whichever was said first."""

from dataclasses import replace

import pytest

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.denials import has_open_claims, open_claims
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import review
from exam_app.domain.exam.transitions import assert_no_abnormality
from exam_app.domain.exam.vital_transitions import clear_vital, record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.domain.protocol.scales import give_grade
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import available, load_protocol
from tests.exam_samples import BY, new_exam
from tests.generated_exams import begin, drive_on
from tests.scenario_player import Scenario, play

IDS = tuple(f"{number:032d}" for number in range(8))


def told(species, **more):
    case = {
        "id": "case",
        "animal": {"sex": "female", "age": "5 years"},
        "scope": "veterinarian",
        "role": "veterinarian",
        "expected": {"no_signs": []},
        **more,
    }
    _, exam = play(Scenario("case", case, load_protocol(species).protocol))
    return exam


def written(exam: Exam, protocol: SpeciesProtocol) -> str:
    record = write_record(exam, protocol)
    return "\n".join(line for section in record.sections for line in section.lines)


LAME = ({"region": "forelimb.left", "term": "lame"},)


@pytest.mark.parametrize("order", ["asserted", "asserted_first"])
@pytest.mark.parametrize("species", ["dog", "cat", "ferret", "goat", "pig", "rabbit"])
def test_a_lame_limb_denies_the_even_gait_that_was_watched(species, order):
    said = {order: ["distance"]}
    protocol = load_protocol(species).protocol
    moving = next(
        c for c in protocol.region("distance").clauses if c.clause_id == "moving"
    )
    assert moving.text in written(told(species, **said), protocol)
    text = written(told(species, findings=LAME, **said), protocol)
    assert moving.text not in text
    assert "Forelimbs" in text
    assert "breathing watched before touch" in text


def graded(exam, protocol, grade):
    entry = VitalEntry(grade=give_grade(protocol.scale("mentation"), grade))
    return record_vital(exam, protocol, "mentation", entry, BY, IDS)


@pytest.mark.parametrize("species", ["horse", "sheep", "chicken", "guinea_pig"])
def test_a_dull_grade_and_alert_never_stand_in_one_record(species):
    protocol = load_protocol(species).protocol
    exam = replace(new_exam(), protocol_id=species, life_stage="adult")
    exam = graded(exam, protocol, "0")
    exam = assert_no_abnormality(exam, protocol, ("distance",), Role.TECHNICIAN, BY)
    assert "alert" in written(exam, protocol).split("responsive")[1]
    dull = graded(exam, protocol, "3")
    assert "before touch: alert" not in written(dull, protocol)
    awake = graded(dull, protocol, "0")
    targets = [point.target for point in review(awake, protocol)]
    assert "distance" in targets
    assert "distance" not in [point.target for point in review(dull, protocol)]


def test_a_rhythm_that_was_not_regular_denies_the_regular_one():
    protocol = load_protocol("horse").protocol
    exam = replace(new_exam(), protocol_id="horse")
    exam = assert_no_abnormality(exam, protocol, ("heart",), Role.TECHNICIAN, BY)
    entry = VitalEntry(words=("counted",), values=("counted",), rhythm="dropped beats")
    exam = record_vital(exam, protocol, "heart_rate", entry, BY, IDS)
    assert "rhythm regular" not in written(exam, protocol)
    assert "no murmur heard" in written(exam, protocol)
    exam = clear_vital(exam, protocol, "heart_rate")
    assert "heart" in [point.target for point in review(exam, protocol)]


@pytest.mark.parametrize("species", available())
def test_what_denies_from_elsewhere_is_named_for_every_species(species):
    protocol = load_protocol(species).protocol
    named = [
        (clause.text, name)
        for region in protocol.regions
        for clause in region.clauses
        for name in clause.denied_by
    ]
    assert named
    if any("alert" in text for text, _ in named):
        assert any(name == "vital/mentation/3" for _, name in named)


@pytest.mark.parametrize("species", available())
def test_whether_claims_are_open_is_told_as_by_naming_them(species):
    seen = set()
    for seed, sex in enumerate((Sex.FEMALE, Sex.MALE)):
        drive = begin(species, Scope.VETERINARIAN, sex, seed)
        drive_on(drive, 40)
        for region in drive.protocol.regions:
            for key in region.answer_keys():
                named = open_claims(drive.exam, region, key)
                told_so = has_open_claims(drive.exam, region, key)
                assert told_so is bool(named), (key, named)
                seen.add(told_so)
    assert seen == {True, False}

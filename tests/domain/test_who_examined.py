"""Nobody is credited with what was not examined; nothing says "everything" of a gap."""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution, Role
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.exam.transitions import (
    assert_no_abnormality,
    mark_not_examined,
    mark_not_present,
)
from exam_app.domain.exam.visit import Sample
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.people_words import people_lines
from exam_app.domain.wording.written_record import write_record
from exam_app.export.fhir import exam_bundle
from tests.exam_samples import BY, HASH, NOW, PROTOCOL, TECHNICIAN, VETERINARIAN
from tests.exam_samples import new_exam as begun

BY_VET = Attribution(VETERINARIAN.person_id, VETERINARIAN.person_id, NOW, NOW)
KEYS = ("nose", "eyes.left", "eyes.right", "heart", "tail")


def new_exam(**more):
    return begun(**{"people": (TECHNICIAN, VETERINARIAN), **more})


def clean(exam, *keys, by=BY):
    for key in keys:
        exam = assert_no_abnormality(exam, PROTOCOL, (key,), Role.TECHNICIAN, by)
    return exam


def vital(exam, vital_id, entry, by=BY):
    return record_vital(exam, PROTOCOL, vital_id, entry, by, ("0" * 32,) * 4)


def weighed(exam, by=BY):
    exam = vital(exam, "weight", VitalEntry(reading=Reading("9", "kg", Decimal(9))), by)
    warm = VitalEntry(reading=Reading("38.0", "degC", Decimal("38.0")), site="rectal")
    return vital(exam, "temperature", warm, by)


def who(exam):
    record = write_record(exam, PROTOCOL)
    return next(s.lines for s in record.sections if s.heading == "Who and when")


def headline(exam):
    return " / ".join(write_record(exam, PROTOCOL).headline)


def test_a_part_that_was_not_examined_is_credited_to_nobody():
    exam = clean(new_exam(), "nose")
    exam = mark_not_examined(exam, PROTOCOL, "heart", "unsafe", BY)
    exam = mark_not_examined(exam, PROTOCOL, "tail", "unsafe", BY_VET)
    lines = [line for line in who(exam) if line.startswith("Examined by")]
    assert lines == [f"Examined by {TECHNICIAN.name} (technician): Nose"]
    assert f"Said not to be examined or done by {VETERINARIAN.name}" in str(who(exam))


def test_a_vital_without_a_value_is_credited_to_nobody():
    exam = vital(clean(new_exam(), "nose"), "weight", VitalEntry(reason="refused"))
    examined = [line for line in who(exam) if line.startswith("Examined by")]
    assert not any("Weight" in line for line in examined)
    exam = vital(exam, "temperature", VitalEntry(reason="unsafe"), BY_VET)
    assert not any(
        "Temperature" in line for line in who(exam) if line.startswith("Examined by")
    )


def test_a_part_that_is_not_present_was_examined_by_nobody():
    exam = mark_not_present(new_exam(), PROTOCOL, "tail", "docked", BY, "0" * 32)
    assert (
        who(exam)[1]
        == f"Said not to be present by {TECHNICIAN.name} (technician): Tail"
    )


def test_a_part_examined_in_part_says_so_beside_its_examiner():
    exam = assert_no_abnormality(
        new_exam(), PROTOCOL, ("nose",), Role.TECHNICIAN, BY, (("nose_feel", "unsafe"),)
    )
    exam = clean(exam, "tail", by=BY_VET)
    assert f"Examined by {TECHNICIAN.name} (technician): Nose (partly)" in who(exam)


@pytest.mark.parametrize("reason", StopReason)
def test_a_stopped_exam_never_says_that_everything_was_answered(reason):
    exam = clean(new_exam(), "nose")
    exam = stop_early(exam, PROTOCOL, reason, "ran off", BY)
    exam = close(exam, PROTOCOL, TECHNICIAN, NOW)
    text = write_record(exam, PROTOCOL).as_text()
    assert "everything answered" not in text
    assert "Everything" not in text
    assert f"Examined by {TECHNICIAN.name} (technician): everything but what" in text
    assert f"Stopped early {NOW.clock()} by {TECHNICIAN.name}" in text


def test_an_exam_stopped_before_the_first_touch_names_no_examiner():
    exam = stop_early(new_exam(), PROTOCOL, StopReason.ESCAPED, "", BY)
    assert "Examined by" not in write_record(exam, PROTOCOL).as_text()


def test_an_exam_stopped_after_everything_does_not_say_both():
    exam = weighed(clean(new_exam(), *KEYS))
    exam = stop_early(exam, PROTOCOL, StopReason.DIED, "", BY)
    exam = close(exam, PROTOCOL, TECHNICIAN, NOW)
    assert headline(exam) == "Stopped early: died"


def test_everything_is_said_only_of_a_whole_exam():
    exam = weighed(clean(new_exam(), *KEYS))
    closed = close(exam, PROTOCOL, TECHNICIAN, NOW)
    assert headline(closed) == "Everything this exam requires was answered"
    text = write_record(closed, PROTOCOL).as_text()
    assert "Not required and not taken: Heart rate; Gum colour" in text
    assert f"Examined by {TECHNICIAN.name} (technician): everything but" in text
    pink = VitalEntry(words=("pink",), values=("pink",))
    beats = VitalEntry(
        reading=Reading("90", "beat/min", Decimal(90)), state=RateState.RESTING
    )
    whole = vital(vital(exam, "gums", pink), "heart_rate", beats)
    text = write_record(close(whole, PROTOCOL, TECHNICIAN, NOW), PROTOCOL).as_text()
    assert "Everything in the scope of this exam was answered" in text
    assert f"Examined by {TECHNICIAN.name} (technician): everything\n" in text
    beats = VitalEntry(reason="purring")
    exam = vital(vital(exam, "gums", pink), "heart_rate", beats)
    assert "Not done: heart rate (purring)" in headline(exam)
    draft = begun(Scope.INTAKE, people=(TECHNICIAN,))
    assert "Everything" not in headline(draft)


def test_a_finding_beside_which_nothing_is_said_of_the_rest_is_not_everything():
    exam = weighed(clean(new_exam(), "nose", "eyes.right", "heart", "tail"))
    found = Finding("1" * 32, "redness", BY, side="left")
    exam = add_finding(exam, PROTOCOL, "eyes.left", found, "2" * 32)
    closed = close(exam, PROTOCOL, TECHNICIAN, NOW)
    expected = "Beside the finding nothing is said of the rest: left eyes"
    assert headline(closed) == expected


def test_an_export_credits_nobody_with_what_was_not_examined():
    exam = weighed(clean(new_exam(), "nose", "eyes.left", "eyes.right", "tail"))
    exam = mark_not_examined(exam, PROTOCOL, "heart", "unsafe", BY)
    exam = vital(exam, "gums", VitalEntry(reason="refused"))
    closed = close(exam, PROTOCOL, TECHNICIAN, NOW)
    entries = exam_bundle(closed, PROTOCOL, HASH)["entry"]
    seen = [
        e["resource"] for e in entries if e["resource"]["resourceType"] == "Observation"
    ]
    absent = [one for one in seen if "dataAbsentReason" in one]
    assert len(absent) == 2
    assert not any("performer" in one for one in absent)
    assert all("performer" in one for one in seen if one not in absent)


def test_an_answer_opened_again_is_credited_to_nobody():
    exam = clean(new_exam(), "nose")
    entry = replace(exam.entry("nose"), conclusion=Conclusion.OPEN, asserted=())
    exam = replace(exam, regions={"nose": entry})
    assert "Examined by" not in str(who(exam))


def test_what_another_took_or_gave_names_them_and_a_late_one_its_times():
    late = replace(BY, entered=Moment(NOW.utc_ms + 3_600_000, NOW.offset_min))
    own = Sample("blood", BY)
    theirs = Sample("urine", replace(late, examined_by=VETERINARIAN.person_id))
    exam = new_exam(samples=(own, theirs))
    lines = people_lines(exam, PROTOCOL)
    assert (
        "Done or noted by Dr Mar Ondine (veterinarian), "
        "entered by Ines Corvo (technician): urine"
    ) in lines
    assert [line for line in lines if "Late entry" in line] == [
        f"Late entry: urine, seen {NOW.clock()}, entered {late.entered.clock()}"
    ]

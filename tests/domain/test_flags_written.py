"""How a record writes a flag, and a number that was compared with nothing."""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, Setting, VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.intervals import Flag
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import load_protocol
from tests.exam_samples import BY, new_exam

IDS = tuple(f"{number:032x}" for number in range(8))
GOAT = load_protocol("goat").protocol
CATTLE = load_protocol("cattle").protocol
DOG = load_protocol("dog").protocol


def written(protocol, vital_id, number, **more):
    """Return what a record says of one vital, and what needs attention."""
    vital = protocol.vital(vital_id)
    reading = Reading(number, vital.measure.unit, Decimal(number))
    exam = replace(
        new_exam(),
        setting=more.pop("setting", Setting.FARM),
        life_stage=more.pop("life_stage", "adult"),
    )
    entry = VitalEntry(reading=reading, **more)
    exam = record_vital(exam, protocol, vital_id, entry, BY, IDS)
    record = write_record(exam, protocol)
    sections = {section.heading: section.lines for section in record.sections}
    (line,) = (s for s in sections["Vitals"] if s.startswith(f"{vital.label}: "))
    return line, sections.get("For the veterinarian's attention", ())


def test_record_names_every_range_where_sources_disagree():
    line, attention = written(GOAT, "respiratory_rate", "32", state=RateState.RESTING)
    assert "Inside 1 of 3 published ranges, above 2. " in line
    for published in ("10–30/min", "12–20/min", "20–34/min"):
        assert published in line
    assert "ithin" not in line
    assert attention == ()


def test_record_flags_a_value_that_only_a_range_far_off_the_others_holds():
    line, (attention,) = written(CATTLE, "temperature", "37.0", site="rectal")
    # The ranges and who printed them stand beside the value, once.
    assert attention == (
        "Temperature: 37.0 °C: below 2 of 3 published ranges, inside one far off"
    )
    assert "Inside 36.7–39.1 °C, far off the others (" in line


def test_value_inside_every_range_is_written_with_all_of_them():
    line, _ = written(DOG, "temperature", "38.5", site="rectal")
    assert line.startswith(
        "Temperature: 38.5 °C; rectal. Inside both published ranges. "
    )
    assert "37.7–39.5 °C" in line
    assert "37.2–39.2 °C" in line


def test_value_converted_from_fahrenheit_is_written_once_in_each_unit():
    vital = DOG.vital("temperature")
    entry = VitalEntry(Reading("101.3", "degF", Decimal("101.3")), site="rectal")
    exam = record_vital(new_exam(), DOG, vital.vital_id, entry, BY, IDS)
    text = write_record(exam, DOG).as_text()
    assert "101.3 °F (38.5 °C); rectal. Inside" in text


@pytest.mark.parametrize(
    ("protocol", "vital_id", "number", "more", "why"),
    [
        (DOG, "temperature", "39.9", {"life_stage": ""}, "age not known"),
        (
            DOG,
            "temperature",
            "39.9",
            {"site": "ear"},
            "published ranges are for rectal",
        ),
        (DOG, "blood_glucose", "25", {}, "no published range"),
        (
            DOG,
            "respiratory_rate",
            "60",
            {"life_stage": "juvenile", "state": RateState.RESTING},
            "no published range at this age",
        ),
        (DOG, "heart_rate", "90", {}, "what the animal was doing was not said"),
        (
            DOG,
            "heart_rate",
            "190",
            {"state": RateState.HOT},
            "no published range here for an animal that is hot",
        ),
        (
            load_protocol("cat").protocol,
            "heart_rate",
            "190",
            {"state": RateState.RESTING, "setting": Setting.HOME},
            "no published range for this place (home)",
        ),
    ],
)
def test_number_compared_with_nothing_says_so_and_why(
    protocol, vital_id, number, more, why
):
    line, _ = written(protocol, vital_id, number, **more)
    assert line.endswith(f". No range compared: {why}")


def test_weight_and_words_are_never_said_to_lack_a_range():
    line, _ = written(DOG, "weight", "12")
    assert "range" not in line
    entry = VitalEntry(words=("panting",), values=("panting",))
    exam = record_vital(new_exam(), DOG, "respiratory_rate", entry, BY, IDS)
    assert "No range compared" not in write_record(exam, DOG).as_text()


def test_flag_of_an_earlier_version_is_written_as_it_was_shown():
    shown = (
        "38.5 °C: within at least one of the published ranges 37.7–39.5 °C (Dorn; read)"
    )
    flag = Flag(FlagLevel.WITHIN, shown, ("d",), ("dorn2024",), unchecked=False)
    entry = VitalEntry(
        Reading("38.5", "degC", Decimal("38.5")), flag=flag, attribution=BY
    )
    exam = replace(new_exam(), vitals={"temperature": entry})
    assert f"38.5 °C. {shown}" in write_record(exam, DOG).as_text()

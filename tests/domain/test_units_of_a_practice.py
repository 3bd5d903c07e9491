"""A unit that a practice's own file brings: typed, flagged, converted, exported."""

import json
from decimal import Decimal
from importlib.resources import files

import pytest

from exam_app.app.view.vital_offers import chosen_units
from exam_app.domain.measure.units import in_unit, parse_reading, show
from exam_app.domain.protocol.intervals import flag_reading
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.export.fhir_shapes import quantity
from exam_app.protocols.codec import ProtocolFileError
from exam_app.protocols.loader import load_bytes, load_content

DOG = files("exam_app.protocols").joinpath("dog.toml").read_text("utf-8")
PRESSURE = """
[[vitals]]
id = "intraocular_pressure"
label = "Pressure in the eye"
plain_label = "Pressure in the eye"
kind = "measure"
scopes = ["veterinarian"]
source_id = "common_practice"

[vitals.measure]
id = "intraocular_pressure"
label = "Pressure in the eye"
plain_label = "Pressure in the eye"
unit = "kPa"
units_offered = ["kPa", "mmHg"]
precision = "0.1"
"""
PRESSURE_RANGE = """
[[intervals]]
id = "invented_for_this_test"
measure_id = "intraocular_pressure"
low = "2.0"
high = "3.3"
unit = "kPa"
statistic = "range"
source_id = "merck_triage"
provenance = "memory"
"""
KILOPASCAL = """
[[units]]
id = "kPa"
ucum = "kPa"
words = ["kilopascal"]
"""


def load(text):
    return load_bytes("dog.toml", (DOG + text).encode())


def pressure(text=PRESSURE + KILOPASCAL):
    protocol = load(text).protocol
    return protocol, protocol.vital("intraocular_pressure")


@pytest.mark.parametrize("typed", ["2.4", "2.4 kPa", "2.4 kpa", "2.4 Kilopascal"])
def test_a_unit_of_the_file_is_typed_in_each_of_its_spellings(typed):
    _, vital = pressure()
    reading = parse_reading(typed, "kPa", vital.measure)
    assert (reading.unit, reading.value) == ("kPa", Decimal("2.4"))


def test_it_converts_by_its_dimension_and_is_shown_in_the_file_s_own_words():
    _, vital = pressure(PRESSURE + KILOPASCAL + 'label = "kilopascals"\n')
    reading = parse_reading("18 mmHg", "kPa", vital.measure)
    assert in_unit(reading, "kPa", Decimal("0.1")) == Decimal("2.4")
    assert show(reading, vital.measure) == "18 mmHg (2.4 kilopascals)"
    assert chosen_units(vital.measure)[0] == ("kPa", "kilopascals")


def test_a_published_range_in_it_flags_and_is_written_in_the_file_s_words():
    row = PRESSURE_RANGE + KILOPASCAL + 'label = "kilopascals"\n'
    protocol, vital = pressure(PRESSURE + row)
    flag = flag_reading(
        Decimal("4.1"), vital.measure, protocol.intervals, None, {"merck_triage": "M"}
    )
    assert flag.level is FlagLevel.ABOVE
    assert flag.summary == "4.1 kilopascals: above the published range"
    assert flag.lines[0].startswith("Above 2.0–3.3 kilopascals (M")


def test_it_is_exported_with_its_code():
    _, vital = pressure()
    told = quantity(Decimal("2.4"), "kPa", vital.measure)
    assert (told["unit"], told["code"]) == ("kPa", "kPa")
    assert told["system"] == "http://unitsofmeasure.org"


def test_the_content_a_record_names_carries_it():
    loaded = load(PRESSURE + KILOPASCAL)
    again = load_content(loaded.content)
    assert again.protocol == loaded.protocol
    assert again.content_hash == loaded.content_hash


@pytest.mark.slow
@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (PRESSURE, "'kPa' has no code: add"),
        (PRESSURE + KILOPASCAL.replace('ucum = "kPa"', 'ucum = ""'), "code in UCUM"),
        (PRESSURE + KILOPASCAL.replace('ucum = "kPa"', 'ucum = "k Pa"'), "in UCUM"),
        (PRESSURE + KILOPASCAL.replace('ucum = "kPa"', ""), "missing"),
        (
            PRESSURE + KILOPASCAL.replace('"kilopascal"', '"mmHg"'),
            "mmhg means mmHg already",
        ),
        (
            PRESSURE + KILOPASCAL.replace('"kilopascal"', '"per minute"'),
            "what the vital counts",
        ),
        (PRESSURE + KILOPASCAL + KILOPASCAL, "is kPa, which there is already"),
        (
            PRESSURE.replace('"kPa"', '"millimeter_Hg"')
            + KILOPASCAL.replace('id = "kPa"', 'id = "millimeter_Hg"'),
            "is mmHg, which there is already",
        ),
        (
            (PRESSURE + KILOPASCAL).replace('"kPa"', '"9**9**9"'),
            "'9**9**9' is unknown",
        ),
        (PRESSURE.replace('"kPa"', '"kPa("'), "'kPa(' is unknown"),
        (PRESSURE.replace('["kPa", "mmHg"]', '["kPa", "dB"]'), "'dB' is unknown"),
        (PRESSURE + KILOPASCAL + 'counts = "heart"\n', "come with the program"),
        (KILOPASCAL, "unknown key units"),
    ],
)
def test_a_file_whose_unit_cannot_be_used_is_refused_with_the_reason(text, reason):
    with pytest.raises(ProtocolFileError) as refused:
        load(text)
    assert reason in str(refused.value)


def test_a_protocol_that_a_record_already_names_stays_readable_without_a_code():
    whole = json.loads(load(PRESSURE + KILOPASCAL).content)
    vital = next(v for v in whole["vitals"] if v["id"] == "intraocular_pressure")
    del vital["measure"]["units"]
    old = load_content(json.dumps(whole).encode()).protocol
    measure = old.vital("intraocular_pressure").measure
    assert "code" not in quantity(Decimal("2.4"), "kPa", measure)


def test_a_file_of_format_1_means_what_its_names_said():
    renewed = load("").protocol
    declared = (
        "several = true\n",
        'counts = "pulse"\n',
        "is_body_weight = true\n",
        "untouched = true\n",
    )
    text = DOG.replace("format = 3\n", "")
    for line in declared:
        assert line in text
        text = text.replace(line, "")
    assert load_bytes("dog.toml", text.encode()).protocol == renewed
    old = json.loads(load("").content)
    for entry in (*old["vitals"], *old["regions"]):
        for key in ("several", "counts", "is_body_weight", "untouched"):
            entry.pop(key, None)
    old["format"] = 1
    assert load_content(json.dumps(old).encode()).protocol == renewed

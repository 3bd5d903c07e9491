"""A record as JSON: of its schema, nothing left out, nothing a float.

The schema is read by ``jsonschema``, an implementation of draft 2020-12 that is not
ours.
"""

import json
from collections import Counter
from dataclasses import replace

import jsonschema
import pytest

from exam_app.domain.exam.visit import PrivateNote
from exam_app.export.record_json import plain, record_json, record_schema
from exam_app.protocols.loader import available, load_protocol
from tests.exam_samples import BY, PROTOCOL
from tests.filled_exams import Filler, leaves
from tests.record_samples import closed_exam

HASH, KEY_ID = "ab" * 32, bytes(16)


def made(exam, protocol=PROTOCOL, **more):
    return json.loads(record_json(exam, protocol, HASH, KEY_ID, **more))


@pytest.fixture(scope="module")
def validator():
    schema = record_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.slow
@pytest.mark.parametrize("species", available())
def test_a_typical_record_of_every_species_is_of_the_schema(species, validator):
    loaded = load_protocol(species)
    exam = closed_exam(loaded.protocol, loaded.content_hash)
    assert list(validator.iter_errors(made(exam, loaded.protocol))) == []


@pytest.mark.parametrize("turn", range(6))
def test_a_record_with_every_field_filled_is_of_the_schema(turn, validator):
    told = made(Filler(turn).exam(), for_veterinarian=True)
    assert list(validator.iter_errors(told)) == []


@pytest.mark.parametrize("fault", ["missing", "unknown", "number", "newer", "time"])
def test_the_schema_refuses_what_is_not_of_it(fault, validator):
    told = made(Filler(0).exam())
    if fault == "missing":
        del told["exam"]["animal"]
    elif fault == "unknown":
        told["exam"]["temperament"] = "calm"
    elif fault == "number":
        told["exam"]["vitals"]["weight"]["reading"]["value"] = 12.5
    elif fault == "newer":
        told["version"] = 2
    else:
        told["exam"]["started"] = "yesterday"
    assert list(validator.iter_errors(told))


def told_values(told, path=()):
    """Yield every value of the JSON with its path, without places in lists."""
    if isinstance(told, list):
        for part in told:
            yield from told_values(part, path)
    elif isinstance(told, dict):
        for name, part in told.items():
            if path or name not in ("regions", "vitals"):
                yield from told_values(part, (*path, name))
                continue
            for of_key in part.values():
                yield from told_values(of_key, (name,))
    else:
        yield path, told


@pytest.mark.parametrize("turn", range(4))
def test_every_value_of_a_record_stands_under_its_own_name(turn):
    exam = Filler(turn).exam()
    told = Counter(told_values(made(exam, for_veterinarian=True)["exam"]))
    said = Counter((path, plain(value)) for path, value, _ in leaves(exam))
    # A photograph of a finding is of the part and side that this one has.
    placed = {("photos", name) for name in ("key", "side", "finding_id")}
    lost = {one for one in said - told if one[0] not in placed}
    assert lost == set()
    assert said.total() > 250


def test_a_private_note_is_in_it_only_when_asked_for():
    private = (PrivateNote("bruises, old", BY),)
    exam = replace(Filler(0).exam(), private_notes=private)
    said = record_json(exam, PROTOCOL, HASH, KEY_ID)
    assert b"bruises" not in said
    assert b"bruises" in record_json(
        exam, PROTOCOL, HASH, KEY_ID, for_veterinarian=True
    )


def test_numbers_keep_their_digits_and_no_float_is_written():
    def refuse(text):
        raise AssertionError(text)

    exam = Filler(2).exam()
    text = record_json(exam, PROTOCOL, HASH, KEY_ID)
    told = json.loads(text, parse_float=refuse)
    for vital_id, entry in exam.vitals.items():
        if entry.reading:
            shown = told["exam"]["vitals"][vital_id]["reading"]
            assert shown["value"] == str(entry.reading.value)
            assert (shown["typed"], shown["unit"]) == (
                entry.reading.typed,
                entry.reading.unit,
            )

"""FHIR R4 and R5 of one exam: lumps, places, photographs, the signature, by readers.

R4 is held to HL7's own JSON schema (read by ``jsonschema``), besides the readers of
``test_export_fhir``; R5 to fhir.resources and to fhirpy-types-r5, which were generated
apart from each other. Rules that neither checks are written here from the pages of FHIR
R5, recalled where not said otherwise.
"""

import base64
import importlib
import json
import re
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path

import jsonschema
import pytest
from fhir.resources import get_fhir_model_class
from fhir.resources.bundle import Bundle as BundleR5
from fhir.resources.R4B.bundle import Bundle
from fhirclient.models.bundle import Bundle as BundleOf401

from exam_app.domain.animal.body_marks import (
    BodyMark,
    CloserPlace,
    CloserView,
    MarkView,
    OwnSide,
)
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.visit import GroupFacts, Photo
from exam_app.domain.lumps.lumps import (
    Consistency,
    Lump,
    LumpDepth,
    LumpSize,
    LumpTool,
)
from exam_app.domain.measure.units import Reading
from exam_app.export.fhir import as_json, exam_bundle
from exam_app.export.fhir_r5 import as_r5
from exam_app.protocols.loader import available, load_protocol
from exam_app.record.records import close_and_sign
from tests.exam_samples import BY, PROTOCOL, TECHNICIAN
from tests.export.test_export_fhir import (
    HASH,
    closed,
    every_object,
    observation,
    resources,
    rich,
)
from tests.record_samples import SALT, SEED, closed_exam

SCHEMA = Path(__file__).with_name("fhir_r4_schema.json")
KEY_ID = bytes(range(16))
MINUTES = 600_000
FIRST, AGAIN = "1" * 32, "2" * 32


def lump():
    sizes = tuple(
        Reading(typed, unit, Decimal(typed))
        for typed, unit in (("1.20", "cm"), ("9", "mm"), ("0.25", "in"))
    )
    size = LumpSize(sizes, LumpTool.CALLIPER, "along the body", "IC")
    second = replace(size, dimensions=sizes[:1], tool=LumpTool.RULER)
    return Lump(LumpDepth.UNDER_SKIN, size, second, Consistency.FIRM)


def found():
    mark = BodyMark(
        3,
        MarkView.LEFT,
        512,
        300,
        CloserPlace(CloserView.FORELIMB_OUTER, 40, 900, OwnSide.LEFT),
    )
    return Finding(
        AGAIN,
        "lump",
        BY,
        side="left",
        place="behind the elbow",
        lump=lump(),
        mark=mark,
        same_as=FIRST,
    )


def with_lump(**more):
    # Somebody said that it was taken ten minutes before it was added.
    taken = replace(
        BY, observed=replace(BY.observed, utc_ms=BY.observed.utc_ms - MINUTES)
    )
    photo = Photo("a1" * 32, "the lump", "nose", "", AGAIN, 800, 600, 9_000, taken)
    plain = Photo("a2" * 32, "the animal")
    entry = RegionEntry(findings=(found(),), attribution=BY)
    return closed(
        regions={"nose": entry},
        photos=(photo, plain),
        people=(TECHNICIAN,),
        **more,
    )


def r4(exam=None, protocol=PROTOCOL, **more):
    named = {"key_id": KEY_ID, "signed": b"the signed record", **more}
    return json.loads(
        as_json(exam_bundle(exam or with_lump(), protocol, HASH, **named))
    )


def r5(exam=None, protocol=PROTOCOL, **more):
    named = {"key_id": KEY_ID, "signed": b"the signed record", **more}
    made = exam_bundle(exam or with_lump(), protocol, HASH, **named)
    return json.loads(as_json(as_r5(made)))


def group():
    exam = with_lump()
    animal = replace(exam.animal, is_group=True)
    return replace(exam, animal=animal, group=GroupFacts(present=24))


@cache
def exams():
    """Give one exam of every species, one with everything, a lump's and a group's."""
    made = []
    for species in available():
        loaded = load_protocol(species)
        exam = closed_exam(loaded.protocol, loaded.content_hash)
        made.append((exam, loaded.protocol))
    return [*made, (rich(), PROTOCOL), (with_lump(), PROTOCOL), (group(), PROTOCOL)]


@pytest.fixture(scope="module")
def schema():
    return jsonschema.Draft6Validator(json.loads(SCHEMA.read_text("utf-8")))


def faults(schema, bundle):
    return [error.message for error in schema.iter_errors(bundle)]


@pytest.mark.slow
def test_every_r4_document_is_of_the_schema_that_hl7_published(schema):
    for exam, protocol in exams():
        assert faults(schema, r4(exam, protocol)) == []


@pytest.mark.parametrize("fault", ["unknown", "missing", "wrong type", "unit"])
def test_the_published_schema_notices_what_is_wrong(schema, fault):
    bundle = r4()
    one = resources(bundle, "Observation")[0]
    if fault == "unknown":
        one["temperament"] = "calm"
    elif fault == "missing":
        del resources(bundle, "BodyStructure")[0]["patient"]
    elif fault == "wrong type":
        one["status"] = "well"
    else:
        resources(bundle, "Media")[0]["width"] = "wide"
    # A required element of one resource kind is told by no other kind fitting.
    assert faults(schema, bundle)


def test_every_r4_document_with_a_lump_is_read_by_both_readers():
    for exam in (with_lump(), group()):
        BundleOf401(r4(exam))
        Bundle.model_validate(r4(exam))


@pytest.mark.slow
def test_every_r5_document_is_read_and_loses_nothing():
    for exam, protocol in exams():
        bundle = r5(exam, protocol)
        read = BundleR5.model_validate(bundle)
        again = json.loads(read.model_dump_json(exclude_none=True))
        assert texts(again) == texts(bundle)


def texts(value):
    """Return every text; of a time, which may be written otherwise, the second."""
    said = (text for one in every_object(value) for text in one.values())
    whole = {text for text in said if isinstance(text, str)}
    return {re.sub(r"^(\d{4}-\d\d-\d\dT[\d:]{8}).*", r"\1", text) for text in whole}


@pytest.mark.slow
def test_every_r5_document_is_read_by_a_second_reader():
    # Imported here: its thousand classes take as long as all other tests' reading.
    models = importlib.import_module("fhirpy_types_r5")
    read = set()
    for exam, protocol in exams():
        for entry in r5(exam, protocol)["entry"]:
            resource = entry["resource"]
            getattr(models, resource["resourceType"]).model_validate(resource)
            read.add(resource["resourceType"])
    assert {"BodyStructure", "DocumentReference", "Group", "Provenance"} <= read


def test_the_readers_of_r5_refuse_what_r4_says_otherwise():
    for kind in ("Composition", "Group", "BodyStructure"):
        (one,) = resources(r4(group() if kind == "Group" else None), kind)
        with pytest.raises(ValueError):  # noqa: PT011 - pydantic's own
            get_fhir_model_class(kind).model_validate(one)


def test_r5_keeps_the_rules_of_a_document_and_names_every_resource():
    for exam, protocol in exams():
        bundle = r5(exam, protocol)
        urls = [entry["fullUrl"] for entry in bundle["entry"]]
        assert len(set(urls)) == len(urls)
        assert bundle["entry"][0]["resource"]["resourceType"] == "Composition"
        named = {one["reference"] for one in every_object(bundle) if "reference" in one}
        (proof,) = resources(bundle, "Provenance")
        # A provenance stands beside the document, and points to it.
        assert named == set(urls) - {f"urn:uuid:{proof['id']}"}


@pytest.mark.slow
def test_both_releases_say_the_same_with_the_same_ids():
    for exam, protocol in exams():
        four, five = r4(exam, protocol), r5(exam, protocol)
        ids = [[e["resource"]["id"] for e in one["entry"]] for one in (four, five)]
        assert ids[0] == ids[1]
        own = {"Media", "DocumentReference", "Group", "BodyStructure", "Composition"}
        for one, other in zip(four["entry"], five["entry"], strict=True):
            if one["resource"]["resourceType"] not in own:
                assert one == other


@pytest.mark.parametrize("made", [r4, r5])
def test_a_lump_has_each_length_as_typed_with_its_ucum_code(made):
    one = observation(made(), "lump")
    lengths = [
        (part["code"]["text"], part["valueQuantity"])
        for part in one["component"]
        if "valueQuantity" in part
    ]
    # UCUM: centimetre, millimetre, international inch.
    assert [(q["value"], q["code"]) for _, q in lengths] == [
        (1.2, "cm"),
        (9, "mm"),
        (0.25, "[in_i]"),
        (1.2, "cm"),
    ]
    assert {q["system"] for _, q in lengths} == {"http://unitsofmeasure.org"}
    assert lengths[0][0] == "Length 1 of the lump, calliper, along the body, IC"
    assert lengths[3][0].startswith("Second reading, length 1 of the lump, ruler")
    said = {p["code"]["text"]: p.get("valueString") for p in one["component"]}
    assert (said["Depth"], said["Consistency"]) == ("under skin", "firm")
    assert (said["Side"], said["Place"]) == ("left", "behind the elbow")


def test_a_length_keeps_its_last_zero():
    content = as_json(exam_bundle(with_lump(), PROTOCOL, HASH)).decode()
    assert '"value": 1.20,' in content


def test_a_marked_lump_is_a_structure_that_is_found_again_by_its_identifier():
    (one,) = resources(r4(), "BodyStructure")
    digits = [i["value"].removeprefix("urn:uuid:") for i in one["identifier"]]
    assert [value.replace("-", "") for value in digits] == [AGAIN, FIRST]
    assert (one["location"]["text"], one["morphology"]["text"]) == ("Nose", "lump")
    words = [part["text"] for part in one["locationQualifier"]]
    assert words == ["left", "behind the elbow"]
    assert "mark 3" in one["description"]
    (five,) = resources(r5(), "BodyStructure")
    (included,) = five["includedStructure"]
    assert included["laterality"] == {"text": "left"}
    assert included["structure"] == {"text": "Nose"}
    assert included["qualifier"] == [{"text": "behind the elbow"}]
    for bundle in (r4(), r5()):
        seen = observation(bundle, "lump")
        (structure,) = resources(bundle, "BodyStructure")
        assert seen["focus"] == [{"reference": f"urn:uuid:{structure['id']}"}]
        assert seen["bodySite"]["text"] == "Nose, left, behind the elbow"


def test_the_places_of_a_mark_stand_in_thousandths_of_both_drawings():
    parts = observation(r4(), "lump")["component"]
    numbers = {
        p["code"]["text"]: p["valueInteger"] for p in parts if "valueInteger" in p
    }
    of = "thousandths of the drawing"
    limb = "outer side of the left forelimb, closer drawing"
    assert numbers == {
        "Number of the mark": 3,
        f"Across, {of}: left view": 512,
        f"Down, {of}: left view": 300,
        f"Across, {of}: {limb}": 40,
        f"Down, {of}: {limb}": 900,
    }


def test_the_part_names_its_findings_and_a_finding_its_photographs():
    for bundle, kind in ((r4(), "Media"), (r5(), "DocumentReference")):
        seen = observation(bundle, "lump")
        member = {"reference": f"urn:uuid:{seen['id']}"}
        assert observation(bundle, "Nose")["hasMember"] == [member]
        shown, _ = resources(bundle, kind)
        assert seen["derivedFrom"] == [{"reference": f"urn:uuid:{shown['id']}"}]


def test_a_photograph_is_a_document_reference_in_r5():
    first, second = resources(r5(), "DocumentReference")
    (content,) = first["content"]
    before = resources(r4(), "Media")[0]
    assert content["attachment"] == {
        "contentType": "image/jpeg",
        "creation": before["createdDateTime"],
        "size": 9_000,
        "title": "Nose: left, the lump, shows lump, mark 3, outer side of the left "
        "forelimb, closer drawing",
        "height": 600,
        "width": 800,
    }
    assert first["identifier"] == before["identifier"]
    assert first["author"] == [before["operator"]]
    assert first["date"] == before["issued"] != before["createdDateTime"]
    assert {"author", "bodySite", "date"}.isdisjoint(second)


def test_the_signature_goes_along_and_holds_the_record_it_signs():
    loaded = load_protocol("dog")
    exam = closed_exam(loaded.protocol, loaded.content_hash)
    record = close_and_sign(exam, loaded.protocol, SEED, None, SALT)
    named = {"key_id": KEY_ID, "signed": record.signed}
    for made in (r4, r5):
        bundle = made(exam, loaded.protocol, **named)
        (proof,) = resources(bundle, "Provenance")
        (signature,) = proof["signature"]
        assert base64.b64decode(signature["data"]) == record.signed
        # RFC 9052, section 10; HL7's value set of signature types, read.
        assert signature["sigFormat"] == "application/cose"
        (kind,) = signature["type"]
        assert (kind["system"], kind["code"], kind["display"]) == (
            "urn:iso-astm:E1762-95:2013",
            "1.2.840.10065.1.12.1.14",
            "Source Signature",
        )
        assert KEY_ID.hex() in signature["who"]["identifier"]["value"]
        first = bundle["entry"][0]["resource"]
        assert proof["target"] == [{"reference": f"urn:uuid:{first['id']}"}]


def test_without_a_key_nothing_is_said_of_a_signature():
    assert resources(r4(key_id=b""), "Provenance") == []
    (proof,) = resources(r4(signed=b""), "Provenance")
    assert "signature" not in proof


def test_a_group_has_no_body_structures_and_keeps_every_finding():
    for made in (r4, r5):
        bundle = made(group())
        assert resources(bundle, "BodyStructure") == []
        assert "focus" not in observation(bundle, "lump")
    (herd,) = resources(r5(group()), "Group")
    assert (herd["membership"], "actual" in herd) == ("enumerated", False)


def test_private_notes_make_an_r5_document_restricted():
    bundle = r5(for_veterinarian=True)
    (first,) = resources(bundle, "Composition")
    assert "confidentiality" not in first
    codes = [label["code"] for label in first["meta"]["security"]]
    assert "R" in codes

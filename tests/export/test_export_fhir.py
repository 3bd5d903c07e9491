"""A closed exam as a FHIR R4 document: valid, traceable, and no more than was said.

Two independent readers judge the resources: fhirclient, generated from FHIR 4.0.1, and
fhir.resources in its R4B form. What they do not check (the rules of a document, of an
observation and of required codes) is written here from the specification's pages, from
memory where not said otherwise. UCUM codes are parsed by ucumvert's grammar.
"""

import base64
import json
from dataclasses import replace
from decimal import Decimal
from functools import cache
from xml.etree import ElementTree as ET

import pytest
from fhir.resources.R4B.bundle import Bundle
from fhirclient.models.bundle import Bundle as BundleOf401
from fhirclient.models.fhirabstractbase import FHIRValidationError

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.exam import Closing
from exam_app.domain.exam.findings import Call, Finding
from exam_app.domain.exam.region_states import (
    NOT_EXAMINED_REASONS,
    Conclusion,
    RegionEntry,
    StruckClause,
)
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.exam.visit import BiteHistory, GroupFacts, Photo, PrivateNote
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.conversion import convert
from exam_app.domain.measure.known_units import KNOWN_UNITS
from exam_app.domain.measure.units import parse_reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.intervals import Flag
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import Scope, VitalKind
from exam_app.domain.wording.written_record import write_record
from exam_app.export.fhir import THE_RECORD, DraftExportError, as_json, exam_bundle
from exam_app.export.fhir_shapes import absent
from exam_app.protocols.loader import available, load_protocol
from tests.exam_samples import (
    BY,
    HEART_RATE,
    NOW,
    PROTOCOL,
    TECHNICIAN,
    TEMPERATURE,
    WEIGHT,
    new_exam,
)
from tests.record_samples import closed_exam

HASH = "ab" * 32
TEXT_TAGS = {f"{{http://www.w3.org/1999/xhtml}}{tag}" for tag in ("p", "li")}
# HL7's table of vital signs, FHIR R4, hl7.org/fhir/R4/observation-vitalsigns.html, and
# LOINC's page of 8332-9; both read. The unit is the one that table requires.
PUBLISHED_LOINC = {
    "8867-4": {"/min"},
    "9279-1": {"/min"},
    "8310-5": {"Cel", "[degF]"},
    "8332-9": {"Cel", "[degF]"},
    "29463-7": {"kg", "g", "[lb_av]"},
    "2708-6": {"%"},
    "8480-6": {"mm[Hg]"},
}
# Definitions of HL7's code system data-absent-reason, read: "the observation procedure
# was not performed", "there is no proper value for this element", "expected to exist
# but is not known". Own words meet none of them.
ABSENT_CODES = {
    "refused": "not-performed",
    "unsafe": "not-performed",
    "no equipment": "not-performed",
    "stopped early: urgent": "not-performed",
    "too young": "not-applicable",
    "unreliable": "unknown",
    "pigmented": "unknown",
    "the scale was under the van": "",
}


def closed(**more):
    fields = {"closing": Closing(TECHNICIAN.person_id, NOW), "is_demo": False}
    return replace(new_exam(), **{**fields, **more})


def exported(exam=None, protocol=PROTOCOL, **more):
    return json.loads(as_json(exam_bundle(exam or closed(), protocol, HASH, **more)))


def resources(bundle, kind):
    found = (entry["resource"] for entry in bundle["entry"])
    return [resource for resource in found if resource["resourceType"] == kind]


def observation(bundle, label):
    found = resources(bundle, "Observation")
    return next(one for one in found if one["code"]["text"] == label)


def every_object(value):
    if isinstance(value, dict):
        yield value
        value = list(value.values())
    if isinstance(value, list):
        for part in value:
            yield from every_object(part)


def lines_of(narrative):
    root = ET.fromstring(narrative["div"])
    return ["".join(one.itertext()) for one in root.iter() if one.tag in TEXT_TAGS]


def rich():
    """An exam with every kind of answer that an export can meet."""
    found = Finding("f" * 32, "wound", BY, call=Call.VETERINARIAN_TO_LOOK)
    struck = StruckClause("mouth_feel", "mouth not painful", "did not hold still")
    regions = {
        region.region_id: entry
        for region, entry in zip(
            PROTOCOL.regions,
            (
                RegionEntry(findings=(found,), asserted=("the rest even",)),
                RegionEntry(Conclusion.NOT_EXAMINED, reason="unsafe", remark="thin"),
            ),
            strict=False,
        )
    }
    keys = [key for region in PROTOCOL.regions for key in region.answer_keys()]
    others = [key for key in keys if key not in regions]
    asserted, asserted_partly = ("looks even", "not painful"), ("looks even",)
    regions[others[0]] = RegionEntry(Conclusion.ASSERTED, asserted)
    regions[others[1]] = RegionEntry(Conclusion.ASSERTED, asserted_partly, (struck,))
    told = UrgentAnswer(AnswerKind.TOLD, BY, "Dr Mar Ondine", "phone", NOW)
    return closed(
        regions={key: replace(e, attribution=BY) for key, e in regions.items()},
        vitals={
            "weight": VitalEntry(parse_reading("12.50 kg", "kg", WEIGHT)),
            "temperature": VitalEntry(reason="refused"),
            "heart_rate": VitalEntry(
                parse_reading("96", "beat/min", HEART_RATE), state=RateState.RESTING
            ),
        },
        urgent=(UrgentEntry("a" * 32, "Bleeding", BY, answers=(told,)),),
        bite=BiteHistory(bit_or_scratched="a volunteer", when="two days ago"),
    )


@cache
def typical(species):
    loaded = load_protocol(species)
    exam = closed_exam(loaded.protocol, loaded.content_hash)
    return exam, loaded.protocol, exported(exam, loaded.protocol)


def every_bundle():
    yield exported(rich())
    for species in available():
        yield typical(species)[2]


@pytest.mark.slow
@pytest.mark.parametrize("species", available())
def test_a_typical_exam_of_every_species_is_valid_for_two_independent_readers(species):
    bundle = typical(species)[2]
    BundleOf401(bundle)
    read = Bundle.model_validate(bundle)
    again = json.loads(read.model_dump_json(exclude_none=True))
    assert len(again["entry"]) == len(bundle["entry"])
    assert (
        again["entry"][0]["resource"]["title"]
        == write_record(*typical(species)[:2]).title
    )


@pytest.mark.parametrize("group", [False, True])
def test_an_exam_with_every_kind_of_answer_is_valid_for_both(group):
    exam = rich()
    if group:
        animal = replace(exam.animal, is_group=True)
        exam = replace(exam, animal=animal, group=GroupFacts(present=24))
    bundle = exported(exam, for_veterinarian=True)
    BundleOf401(bundle)
    Bundle.model_validate(bundle)
    (subject,) = resources(bundle, "Group" if group else "Patient")
    assert subject.get("quantity") == (24 if group else None)


@pytest.mark.parametrize("fault", ["unknown element", "no status", "empty text"])
def test_the_readers_notice_what_is_wrong(fault):
    bundle = exported(rich())
    (observed, *_) = resources(bundle, "Observation")
    if fault == "unknown element":
        observed["temperament"] = "calm"
    elif fault == "no status":
        del observed["status"]
    else:
        observed["code"]["text"] = ""
    with pytest.raises(ValueError):  # noqa: PT011 - whichever part it lies in
        Bundle.model_validate(bundle)
    if fault != "empty text":  # which fhirclient lets pass
        with pytest.raises(FHIRValidationError):
            BundleOf401(bundle)


def test_every_bundle_keeps_the_rules_of_a_document():
    # bdl-7 and bdl-9 to bdl-12 of FHIR R4's page of Bundle.
    for bundle in every_bundle():
        assert bundle["type"] == "document"
        assert bundle["identifier"]["system"]
        assert bundle["timestamp"]
        first, *rest = bundle["entry"]
        assert first["resource"]["resourceType"] == "Composition"
        urls = [entry["fullUrl"] for entry in bundle["entry"]]
        assert len(set(urls)) == len(urls)
        ids = [f"urn:uuid:{entry['resource']['id']}" for entry in bundle["entry"]]
        assert ids == urls
        named = {
            part["reference"] for part in every_object(bundle) if "reference" in part
        }
        assert named == set(urls) - {first["fullUrl"]}
        assert rest


def test_every_observation_has_a_value_or_a_reason_and_never_both():
    # obs-6, and vs-2 of the vital signs; a section has text or entries (cmp-1).
    counted = 0
    for bundle in every_bundle():
        for one in resources(bundle, "Observation"):
            for part in (one, *one.get("component", ())):
                said = [key for key in part if key.startswith("value")]
                assert len(said) + ("dataAbsentReason" in part) == 1, part
            assert one["effectiveDateTime"]
            counted += 1
        for section in resources(bundle, "Composition")[0]["section"]:
            assert section["text"]
    assert counted > 300


@pytest.mark.slow
def test_codes_with_a_required_list_are_of_that_list():
    # The lists stand in fhir.resources' models, taken there from the specification.
    checked = set()

    def walk(model):
        for name, field in type(model).model_fields.items():
            allowed = (field.json_schema_extra or {}).get("enum_values", ())
            value = getattr(model, name)
            if allowed and value is not None and "+" not in allowed:
                assert value in allowed, (name, value)
                checked.add(name)
            for part in value if isinstance(value, list) else [value]:
                if hasattr(type(part), "model_fields"):
                    walk(part)

    for bundle in every_bundle():
        walk(Bundle.model_validate(bundle))
    assert {"type", "status", "code", "gender"} <= checked


@pytest.mark.slow
def test_every_unit_code_is_ucum_and_means_our_unit():
    from ucumvert import PintUcumRegistry, get_ucum_parser

    parser, independent = get_ucum_parser(), PintUcumRegistry()
    codes = {unit.unit_id: unit.ucum for unit in KNOWN_UNITS.values()}
    for unit, code in codes.items():
        assert parser.parse(code), code
        if "/min" in unit:
            continue  # UCUM knows no beats; that a minute is meant is seen in the code
        ours = {"degF": "degC", "lb": "kg", "oz": "kg", "inch": "cm"}.get(unit)
        if ours:
            there = independent.from_ucum(codes[ours])
            amount = independent.Quantity(100, independent.from_ucum(code).units)
            value = amount.to(there.units).magnitude
            assert value == pytest.approx(float(convert(Decimal(100), unit, ours)))


@pytest.mark.parametrize("wrong", ["bpm", "lb", "mmHg", "beats/min"])
def test_spellings_that_are_no_ucum_are_refused_by_the_same_grammar(wrong):
    from ucumvert import get_ucum_parser

    with pytest.raises(Exception, match=r"(?i)unexpected|no terminal"):
        get_ucum_parser().parse(wrong)


@pytest.mark.reference
def test_loinc_codes_are_those_published_and_stand_with_the_units_published():
    used = set()
    for bundle in every_bundle():
        for one in resources(bundle, "Observation"):
            for code in one["code"].get("coding", ()):
                assert code["system"] == "http://loinc.org"
                used.add(code["code"])
                if "valueQuantity" in one:
                    units = PUBLISHED_LOINC[code["code"]]
                    assert one["valueQuantity"]["code"] in units
                else:
                    assert "dataAbsentReason" in one
    assert {"8867-4", "9279-1", "8310-5", "29463-7"} <= used
    assert used <= set(PUBLISHED_LOINC)


def test_a_value_keeps_its_digits_and_the_unit_typed():
    content = as_json(exam_bundle(rich(), PROTOCOL, HASH)).decode()
    assert '"value": 12.50,' in content
    weight = observation(json.loads(content), "Weight")["valueQuantity"]
    assert (weight["unit"], weight["code"]) == ("kg", "kg")
    typed = VitalEntry(parse_reading("101.3 F", "degC", TEMPERATURE), site="rectal")
    bundle = exported(closed(vitals={"temperature": typed}))
    shown = observation(bundle, "Temperature")
    assert shown["valueQuantity"]["code"] == "[degF]"
    assert [c["code"] for c in shown["code"]["coding"]] == ["8310-5", "8332-9"]
    assert shown["bodySite"] == {"text": "rectal"}
    assert "38.5 °C" in shown["note"][0]["text"]


def test_what_was_not_done_has_no_value_and_says_why():
    bundle = exported(rich())
    reason = observation(bundle, "Temperature")["dataAbsentReason"]
    assert reason["text"] == "refused"
    assert reason["coding"][0]["code"] == "not-performed"
    assert "valueQuantity" not in observation(bundle, "Temperature")


@pytest.mark.parametrize(("reason", "code"), ABSENT_CODES.items())
def test_a_reason_has_the_code_whose_definition_it_meets(reason, code):
    said = absent(reason)
    assert said["text"] == reason
    assert [one["code"] for one in said["coding"]] == ([code] if code else [])


def test_every_reason_offered_keeps_its_words_and_no_other_code_is_used():
    offered = {
        reason
        for species in available()
        for vital in load_protocol(species).protocol.vitals
        for reason in vital.not_done_reasons
    }
    codes = set(ABSENT_CODES.values())
    for reason in (*offered, *NOT_EXAMINED_REASONS):
        assert absent(reason)["text"] == reason
        assert {one["code"] for one in absent(reason)["coding"]} <= codes
    for reason in NOT_EXAMINED_REASONS:
        assert absent(reason)["coding"][0]["code"] == "not-performed"


def test_the_words_outside_the_range_stand_only_with_a_flag_that_says_so():
    row = next(r for r in PROTOCOL.intervals if r.measure_id == "heart_rate")
    reading = parse_reading("300", "beat/min", HEART_RATE)
    for level in FlagLevel:
        flag = Flag(level, "as shown", (row.interval_id,), (row.source_id,), True)
        bundle = exported(closed(vitals={"heart_rate": VitalEntry(reading, flag=flag)}))
        one = observation(bundle, "Heart rate")
        is_outside = level in (FlagLevel.BELOW, FlagLevel.ABOVE)
        said = [{"text": "outside the published range"}] if is_outside else None
        assert one.get("interpretation") == said
        (published,) = one["referenceRange"]
        assert Decimal(published["low"]["value"]) == row.low
        assert Decimal(published["high"]["value"]) == row.high
        assert published["text"].endswith("; recalled, not checked)")


def test_every_part_says_what_was_found_asserted_or_left_out():
    bundle = exported(rich())
    parts = [o for o in resources(bundle, "Observation") if "bodySite" not in o]
    found = next(o for o in parts if "wound" in o.get("valueString", ""))
    assert found["valueString"] == "wound, veterinarian to look"
    (rest,) = found["component"]
    assert rest["valueString"] == "no abnormality found: the rest even"
    left = next(
        o for o in parts if o.get("note", [{}])[0].get("text", "")[:5] == "Noted"
    )
    assert left["dataAbsentReason"]["text"] == "unsafe"
    assert "valueString" not in left
    sentence = "no abnormality found: looks even; not painful"
    assert any(o.get("valueString") == sentence for o in parts)
    partly = next(
        o for o in parts if o.get("component", [{}])[0].get("dataAbsentReason")
    )
    assert partly["valueString"] == "no abnormality found: looks even"
    assert partly["component"][0]["dataAbsentReason"]["text"] == "did not hold still"


def test_an_unexamined_part_and_one_of_which_nothing_was_seen_read_as_such():
    key = PROTOCOL.regions[0].answer_keys()[0]
    struck = StruckClause("c", "looks even", "dark")
    nothing = RegionEntry(Conclusion.ASSERTED, struck=(struck,))
    gone = RegionEntry(Conclusion.NOT_PRESENT, reason="amputated")
    for entry, absent_words, value in (
        (RegionEntry(), "not examined", None),
        (nothing, "nothing of this part was seen", None),
        (gone, None, "not present: amputated"),
    ):
        bundle = exported(closed(regions={key: entry}))
        one = next(
            o
            for o in resources(bundle, "Observation")
            if o["category"][0]["text"] == "Physical examination"
        )
        assert one.get("dataAbsentReason", {}).get("text") == absent_words
        assert one.get("valueString") == value


def test_urgent_signs_and_bites_are_flags_with_their_answers():
    bundle = exported(rich())
    sign, bite = resources(bundle, "Flag")
    assert sign["code"]["text"] == "Bleeding"
    assert "told Dr Mar Ondine" in lines_of(sign["text"])[0]
    assert bite["code"]["text"] == "a volunteer, two days ago"


def test_the_document_holds_every_line_of_the_written_record_and_no_other_record():
    exam, protocol, bundle = typical("dog")
    composition = resources(bundle, "Composition")[0]
    written = write_record(exam, protocol)
    assert lines_of(composition["text"])[:-1] == [written.title, *written.headline]
    sections = {s["title"]: lines_of(s["text"]) for s in composition["section"]}
    for section in written.sections:
        assert sections[section.heading] == list(section.lines)
    assert set(sections) - {s.heading for s in written.sections} == {
        "In parts",
        "About this export",
    }


def test_private_notes_are_left_out_unless_asked_for_by_name():
    exam = replace(rich(), private_notes=(PrivateNote("bruises, old", BY),))
    plain = exported(exam)
    asked = exported(exam, for_veterinarian=True)
    assert "bruises" not in json.dumps(plain)
    assert "confidentiality" not in plain["entry"][0]["resource"]
    assert "bruises, old" in json.dumps(asked)
    assert asked["entry"][0]["resource"]["confidentiality"] == "R"
    assert asked["identifier"] != plain["identifier"]
    assert asked["id"] != plain["id"]


def test_people_are_a_name_and_a_claimed_role_and_no_licence_number():
    exam = closed(people=(replace(TECHNICIAN, licence="LICENCE-77"),))
    bundle = exported(exam)
    (person,) = resources(bundle, "Practitioner")
    claim = person["qualification"][0]["code"]["text"]
    assert claim == "technician, as entered on the device"
    assert "not the person" in person["text"]["div"]
    assert "LICENCE-77" not in json.dumps(bundle)


def test_every_resource_of_a_demonstration_says_so_and_no_real_one_does():
    bundle = exported(replace(rich(), is_demo=True))
    for one in (bundle, *(entry["resource"] for entry in bundle["entry"])):
        # HTEST of HL7's v3-ActReason, "test health data"; read.
        assert one["meta"]["security"] == [
            {
                "system": "http://terminology.hl7.org/CodeSystem/v3-ActReason",
                "code": "HTEST",
                "display": "test health data",
            }
        ]
        assert one["meta"]["tag"][0]["display"].startswith("DEMO")
    assert resources(bundle, "Composition")[0]["title"].startswith("DEMO")
    real = exported(rich())
    assert "meta" not in json.dumps(real)
    assert "DEMO" not in json.dumps(real)


def test_the_export_names_the_signed_record_and_says_that_it_is_not_the_record():
    bundle = exported(rich())
    assert bundle["identifier"]["value"] == HASH
    composition = resources(bundle, "Composition")[0]
    source = composition["relatesTo"][0]
    assert source["code"] == "transforms"
    assert source["targetIdentifier"] == bundle["identifier"]
    said = f"{THE_RECORD} {HASH}."
    assert lines_of(composition["text"])[-1] == said
    assert said in lines_of(composition["section"][-1]["text"])


def test_the_same_record_gives_the_same_bytes_and_another_version_other_ids():
    exam = rich()
    once = as_json(exam_bundle(exam, PROTOCOL, HASH))
    assert once == as_json(exam_bundle(exam, PROTOCOL, HASH))
    revised = replace(exam, revision=1, parent_hash=HASH, continues="c" * 32)
    later = json.loads(as_json(exam_bundle(revised, PROTOCOL, "cd" * 32)))
    ids = {entry["fullUrl"] for entry in json.loads(once)["entry"]}
    assert not ids & {entry["fullUrl"] for entry in later["entry"]}
    composition = later["entry"][0]["resource"]
    codes = [part["code"] for part in composition["relatesTo"]]
    assert codes == ["transforms", "replaces", "appends"]
    assert {o["status"] for o in resources(later, "Observation")} == {"amended"}


def test_an_exam_that_is_not_closed_is_not_exported():
    with pytest.raises(DraftExportError):
        exam_bundle(new_exam(), PROTOCOL, HASH)


def test_the_animal_is_a_patient_with_its_species_and_never_called_intact_unasked():
    for sex in Sex:
        animal = replace(new_exam().animal, sex=sex, breed="cross", birth_date="2020")
        (patient,) = resources(exported(closed(animal=animal)), "Patient")
        (extension,) = patient["extension"]
        assert extension["url"].endswith("/StructureDefinition/patient-animal")
        parts = {p["url"]: p["valueCodeableConcept"] for p in extension["extension"]}
        assert parts["species"]["text"] == PROTOCOL.label
        assert parts["breed"]["text"] == "cross"
        assert ("genderStatus" in parts) == ("neutered" in sex.value)
        assert patient["gender"] == (sex.kind or "unknown")
        assert "birthDate" not in patient  # no whole date, so no claim to the day


def test_words_that_a_page_would_run_and_control_characters_stay_plain_text():
    nasty = 'a <b onclick="x">&amp;</b>\x00\x0b\ud800 end'
    found = Finding("f" * 32, nasty, BY)
    key = PROTOCOL.regions[0].answer_keys()[0]
    bundle = exported(closed(regions={key: RegionEntry(findings=(found,))}))
    Bundle.model_validate(bundle)
    BundleOf401(bundle)
    plain = nasty
    for barred in "\x00\x0b\ud800":
        plain = plain.replace(barred, "\ufffd")
    assert any(o.get("valueString") == plain for o in resources(bundle, "Observation"))
    sections = resources(bundle, "Composition")[0]["section"]
    lines = [line for section in sections for line in lines_of(section["text"])]
    assert any(plain in line for line in lines)


def test_an_answer_in_words_or_a_grade_has_no_loinc_code_and_keeps_its_words():
    rate = next(v for v in PROTOCOL.vitals if v.kind is VitalKind.RATE)
    entry = VitalEntry(words=("panting",), values=("panting",))
    exam = closed(scope=Scope.TECHNICIAN, vitals={rate.vital_id: entry})
    one = observation(exported(exam), rate.label)
    assert one["valueCodeableConcept"] == {"text": "panting"}
    assert "coding" not in one["code"]


def test_what_stood_beside_a_value_stands_beside_it_and_nothing_unasked_appears():
    weight = VitalEntry(parse_reading("12 kg", "kg", WEIGHT), is_estimate=True)
    rate = VitalEntry(
        parse_reading("96", "beat/min", HEART_RATE),
        state=RateState.RESTING,
        rhythm="regular",
    )
    exam = closed(vitals={"weight": weight, "heart_rate": rate})
    bundle = exported(exam)
    assert observation(bundle, "Weight")["method"] == {"text": "estimate"}
    beside = observation(bundle, "Heart rate")["component"]
    said = [(part["code"]["text"], part["valueString"]) for part in beside]
    assert said == [("State while it was taken", "resting"), ("Rhythm", "regular")]
    vitals = [
        one["code"]["text"]
        for one in resources(bundle, "Observation")
        if one["category"][0]["text"] == "Vital signs"
    ]
    assert sorted(vitals) == ["Heart rate", "Weight"]


def test_a_vital_that_a_practice_measures_otherwise_has_no_loinc_code():
    vitals = tuple(
        replace(vital, measure=WEIGHT) if vital.vital_id == "heart_rate" else vital
        for vital in PROTOCOL.vitals
    )
    reading = VitalEntry(parse_reading("12 kg", "kg", WEIGHT))
    exam = closed(vitals={"heart_rate": reading})
    one = observation(exported(exam, replace(PROTOCOL, vitals=vitals)), "Heart rate")
    assert one["code"] == {"text": "Heart rate"}


def test_chip_and_tag_are_identifiers_of_the_animal_beside_its_own_id():
    animal = replace(new_exam().animal, chip="999000000000001", tag="DEMO 7")
    (patient,) = resources(exported(closed(animal=animal)), "Patient")
    own, *worn = patient["identifier"]
    assert own["value"].replace("-", "").endswith(animal.animal_id)
    said = [(one["type"]["text"], one["value"]) for one in worn]
    assert said == [("Microchip", "999000000000001"), ("Tag", "DEMO 7")]


def photographed():
    later = Moment(NOW.utc_ms + 300_000, NOW.offset_min)
    added = replace(BY, entered=later)
    photos = (
        Photo("a1" * 32, "the crusts", "nose", "", "", 1_600, 900, 41_000, added),
        Photo("a2" * 32, "the whole animal"),
    )
    return closed(photos=photos, people=(TECHNICIAN,))


def test_a_photograph_is_described_and_named_by_its_hash_and_is_not_inside():
    bundle = exported(photographed())
    BundleOf401(bundle)
    Bundle.model_validate(bundle)
    first, second = resources(bundle, "Media")
    # RFC 6920, section 3: ni, an empty authority, the algorithm, base64url unpadded.
    digest = base64.urlsafe_b64encode(bytes.fromhex("a1" * 32)).decode().rstrip("=")
    assert first["identifier"][0]["value"] == f"ni:///sha-256;{digest}"
    assert first["content"] == {
        "contentType": "image/jpeg",
        "size": 41_000,
        "title": "Nose: the crusts",
    }
    assert (first["width"], first["height"]) == (1_600, 900)
    assert first["bodySite"]["text"] == "Nose"
    (person,) = resources(bundle, "Practitioner")
    assert first["operator"]["reference"] == f"urn:uuid:{person['id']}"
    assert {"width", "operator", "bodySite", "createdDateTime"}.isdisjoint(second)
    assert second["content"]["title"] == "the whole animal"
    assert "data" not in first["content"]


@pytest.mark.reference
def test_a_photograph_says_when_it_was_taken_only_where_somebody_said_so():
    # FHIR R4, Media: created[x] is when it was collected and operator who administered
    # the collection; issued, an instant, is when this version was made available.
    taken, _ = resources(exported(photographed()), "Media")
    assert taken["createdDateTime"] == "2026-09-21T15:13:20.000+01:00"
    assert taken["issued"] == "2026-09-21T15:18:20.000+01:00"
    photo = Photo("a3" * 32, "an older file", attribution=BY)
    bundle = exported(closed(photos=(photo,), people=(TECHNICIAN,)))
    BundleOf401(bundle)
    (added,) = resources(bundle, "Media")
    assert added["issued"] == "2026-09-21T15:13:20.000+01:00"
    assert {"createdDateTime", "operator"}.isdisjoint(added)
    assert "added" in added["text"]["div"]
    assert "taken" not in added["text"]["div"]

"""Codes of open standards: LOINC for vitals, UCUM for units, reasons for no value.

LOINC names what is measured in people; the species stands in the patient. Only codes
that were read in HL7's table of vital signs or on LOINC's page are used: capillary
refill has one for the nail bed, which is no gum, and stays in words. A unit brings its
UCUM code with it. Clinical terminologies that need a licence are not used.
"""

from decimal import Decimal

from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.conversion import is_same_dimension
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.protocol import Vital
from exam_app.export.fhir_shapes import Resource, coding, concept

LOINC = "http://loinc.org"
UCUM = "http://unitsofmeasure.org"
ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
# Wording recalled from LOINC's licence, not compared with its page.
LOINC_NOTICE = (
    "This material contains content from LOINC (http://loinc.org). LOINC is copyright "
    "© Regenstrief Institute, Inc. and the Logical Observation Identifiers Names and "
    "Codes (LOINC) Committee and is available at no cost under the license at "
    "http://loinc.org/license. LOINC® is a registered United States trademark of "
    "Regenstrief Institute, Inc."
)

# Vital, the unit of what the code measures, code and name.
_LOINC = {
    "heart_rate": ("beat/min", "8867-4", "Heart rate"),
    "respiratory_rate": ("breath/min", "9279-1", "Respiratory rate"),
    "temperature": ("degC", "8310-5", "Body temperature"),
    "weight": ("kg", "29463-7", "Body weight"),
    "oxygen_saturation": ("percent", "2708-6", "Oxygen saturation in Arterial blood"),
    "systolic_pressure": ("mmHg", "8480-6", "Systolic blood pressure"),
}
# One code more, by vital and site.
_AT_SITE = {("temperature", "rectal"): coding(LOINC, "8332-9", "Rectal temperature")}

# Offered reasons by the code whose definition they meet; others stay words alone.
_REASONS = {
    ("not-performed", "Not Performed"): (
        "cannot walk",
        "no card",
        "no equipment",
        "no firm ground",
        "no level ground",
        "no scale",
        "no stethoscope",
        "not needed",
        "not shown how",
        "not trained",
        "not trotted",
        "outside my training: for the veterinarian",
        "owner declined",
        "refused",
        "tied up",
        "too stressed",
        "unsafe",
        "would not move",
    ),
    ("not-applicable", "Not Applicable"): (
        "no calf",
        "too young",
        "too young to score",
    ),
    ("unknown", "Unknown"): (
        "eye inflamed",
        "pigmented",
        "too dark",
        "too little seen",
        "too stressed to judge",
        "unreliable",
    ),
}
_CODE_OF_REASON = {words: code for code, said in _REASONS.items() for words in said}
_NOT_PERFORMED = ("not-performed", "Not Performed")


def vital_concept(vital: Vital, entry: VitalEntry) -> Resource:
    """Name a vital in our words, with its LOINC code where there is one.

    The profiles of these codes want a number, so an answer in words has no code.
    """
    known = _LOINC.get(vital.vital_id)
    is_number = entry.reading is not None or not entry.has_value
    if known is None or vital.measure is None or not is_number:
        return concept(vital.label)
    unit, code, name = known
    if not is_same_dimension(vital.measure.unit, unit):
        return concept(vital.label)
    codes = [coding(LOINC, code, name)]
    site = entry.site.partition(",")[0]
    if at_site := _AT_SITE.get((vital.vital_id, site)):
        codes.append(at_site)
    return concept(vital.label, *codes)


def quantity(value: Decimal, unit: str, measure: Measure) -> Resource:
    """Return a number with its digits as typed; a unit unknown to UCUM has no code."""
    number = {"value": value, "unit": measure.label_of(unit)}
    known = measure.unit_named(unit)
    return {**number, "system": UCUM, "code": known.ucum} if known else number


def absent(reason: str) -> Resource:
    """Say in the examiner's words why there is no value, with HL7's code if it fits.

    Own words have no code: nobody here can say which one they mean.
    """
    words = reason or "not examined"
    code = _CODE_OF_REASON.get(words)
    if not reason or words.startswith("stopped early: "):
        code = _NOT_PERFORMED
    return concept(words, coding(ABSENT, *code)) if code else concept(words)

"""The small shapes every exported resource is made of.

Every id follows from the exam's own id, the hash of its signed bytes and a name, so
that the same record gives the same bytes on every machine and at every hour.

Codes of open standards: LOINC for vitals, UCUM for units, reasons for no value. LOINC
names what is measured in people; the species stands in the patient. Only codes that
were read in HL7's table of vital signs or on LOINC's page are used: capillary refill
has one for the nail bed, which is no gum, and stays in words. A unit brings its UCUM
code with it. Clinical terminologies that need a licence are not used.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from html import escape
from typing import Any
from uuid import UUID, uuid5

from exam_app.domain.exam.exam import Correction, Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.conversion import is_same_dimension
from exam_app.domain.measure.known_units import KNOWN_UNITS
from exam_app.domain.measure.units import Measure
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital
from exam_app.domain.wording.correction_wording import marks_of

Resource = dict[str, Any]

URI = "urn:ietf:rfc:3986"
# Our own identifiers belong to no server, so their system is a URN and no address.
OWN = "urn:uuid:17866bd6-d795-4c12-994d-06874c3a0934"
DEMO_WORDS = "DEMO: an invented patient, no real animal"
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


# Control characters but tab and line ends, half pairs and what is no character.
_BARRED = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Exported:
    """One closed exam on its way out.

    Attributes:
        exam_hash: SHA-256 of the signed bytes, in hexadecimal.
        beside: What signed notes say should read otherwise.
    """

    exam: Exam
    protocol: SpeciesProtocol
    exam_hash: str
    beside: tuple[Correction, ...] = ()

    def corrected(self, item: str) -> list[Resource]:
        """Return what was corrected of an item as a note beside its value."""
        mark = marks_of(self.exam, self.beside).get(item)
        return [{"text": mark}] if mark else []

    @property
    def status(self) -> str:
        """``final``, or ``amended`` for a later revision."""
        return "amended" if self.exam.revision else "final"

    def id_of(self, name: str) -> str:
        """Return the id of the resource of that name."""
        return str(uuid5(UUID(self.exam.exam_id), f"{self.exam_hash}/{name}"))

    def reference(self, name: str) -> Resource:
        """Point to the resource of that name within the bundle."""
        return {"reference": f"urn:uuid:{self.id_of(name)}"}

    def subject(self) -> Resource:
        """Point to the animal, or to the group of animals."""
        return self.reference("subject")

    def person(self, person_id: str) -> Resource:
        """Point to a person; one the exam does not name is given by id alone."""
        if self.exam.person(person_id) is None:
            return {"display": person_id}
        return self.reference(f"person/{person_id}")

    def seen(self, by: Attribution | None, *, was_done: bool = True) -> Resource:
        """Say when something was seen and, if it was done, by whom."""
        if by is None:
            return {"effectiveDateTime": when(self.exam.started)}
        if not was_done:
            return {"effectiveDateTime": when(by.observed)}
        return {
            "effectiveDateTime": when(by.observed),
            "performer": [self.person(by.examined_by)],
        }

    def resource(self, kind: str, name: str) -> Resource:
        """Begin a resource; one of a demonstration says so in its ``meta``."""
        meta = demo_meta() if self.exam.is_demo else {}
        return {"resourceType": kind, "id": self.id_of(name), "meta": meta}


def demo_meta() -> Resource:
    """Label test data: HTEST of HL7's v3-ActReason, and in words."""
    system = "http://terminology.hl7.org/CodeSystem/v3-ActReason"
    return {
        "security": [coding(system, "HTEST", "test health data")],
        "tag": [coding(OWN, "demo", DEMO_WORDS)],
    }


def coding(system: str, code: str, display: str) -> Resource:
    """Return one code of a code system."""
    return {"system": system, "code": code, "display": display}


def concept(text: str, *codings: Resource) -> Resource:
    """Return words, with the codes that mean the same."""
    return {"coding": list(codings), "text": text}


_CATEGORIES = "http://terminology.hl7.org/CodeSystem/observation-category"
VITAL_SIGNS = concept("Vital signs", coding(_CATEGORIES, "vital-signs", "Vital Signs"))
EXAM = concept("Physical examination", coding(_CATEGORIES, "exam", "Exam"))


def when(moment: Moment) -> str:
    """Return a time with its offset, to the millisecond."""
    return moment.local().isoformat(timespec="milliseconds")


def narrative(
    paragraphs: Iterable[str], items: Iterable[str] = (), status: str = "additional"
) -> Resource:
    """Return text as XHTML: paragraphs, then a list.

    Args:
        status: ``additional`` where the words say more than the coded parts do.
    """
    said = "".join(f"<p>{_xhtml(line)}</p>" for line in paragraphs if line)
    lines = "".join(f"<li>{_xhtml(line)}</li>" for line in items)
    listed = f"<ul>{lines}</ul>" if lines else ""
    div = f'<div xmlns="http://www.w3.org/1999/xhtml">{said}{listed}</div>'
    return {"status": status, "div": div}


def worded(label: str, text: str) -> Resource:
    """Return a component of an observation whose value is words."""
    return {"code": concept(label), "valueString": text}


def tidy(resource: Resource) -> Resource:
    """Drop what is empty and every character FHIR text may not hold.

    FHIR has no empty text, list or object; control characters are not allowed in it
    nor in XHTML, and stand as U+FFFD so that nothing vanishes unseen.
    """
    return {
        key: part
        for key, value in resource.items()
        if not _is_empty(part := _tidied(value))
    }


def _tidied(value: object) -> object:
    if isinstance(value, str):
        return _BARRED.sub("\ufffd", value).strip()
    if isinstance(value, dict):
        return tidy(value)
    if isinstance(value, list):
        return [part for part in map(_tidied, value) if not _is_empty(part)]
    return value


def _is_empty(value: object) -> bool:
    return value is None or value in ("", [], {})


def _xhtml(line: str) -> str:
    return escape(line, quote=False)


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
    printed = (one for one in KNOWN_UNITS.values() if one.printed == unit)
    # Some measures name a unit by what is printed, as ``in``.
    known = measure.unit_named(unit) or next(printed, None)
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

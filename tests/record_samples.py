"""One typical exam on the dog protocol of the program: six findings, full vitals.

Invented animal and people, marked demo; ids look random so that sizes are honest.
"""

import random  # a fixed stream: sizes and vectors must not change from run to run
from dataclasses import replace
from decimal import Decimal

from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner, Sex
from exam_app.domain.exam.closing import close
from exam_app.domain.exam.exam import (
    Exam,
    clauses_for,
    keys_in_scope,
    required_vitals,
    words_for,
)
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Call, Finding, Severity
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import answer_urgent, assert_no_abnormality
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer
from exam_app.domain.exam.visit import Presentation
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, Setting, VitalEntry
from exam_app.domain.lumps.lumps import (
    Consistency,
    Lump,
    LumpDepth,
    LumpSize,
    LumpTool,
    Mobility,
)
from exam_app.domain.measure.counting import CountAlong
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol, VitalKind
from exam_app.domain.protocol.scales import give_grade

SEED = bytes(range(32))
SALT = bytes(range(32, 64))
OWNER = Owner("Demo Owner", "+00 000 0000", "1 Example Lane", {"second phone": "none"})
START = Moment(1_764_061_200_000, 120)
TYPED = {
    "weight": ("24.6", "kg"),
    "temperature": ("38.6", "degC"),
    "heart_rate": ("96", "beat/min"),
    "pulse_rate": ("96", "beat/min"),
    "respiratory_rate": ("24", "breath/min"),
}
# A typical animal is awake: the middle of that scale must be told at once.
GRADES = {"mentation": "1"}
COUNTS = {"heart_rate": 48, "pulse_rate": 48, "respiratory_rate": 12}


class Steps:
    """Ids and times of one exam, each the next one of a fixed stream."""

    def __init__(self, stream: int = 7) -> None:
        self.stream = random.Random(stream)
        self.clock = START.utc_ms
        self.technician = Person(self.id(), "Ilse Demo", Role.TECHNICIAN, "ID")
        self.veterinarian = Person(self.id(), "Dr Pia Demo", Role.VETERINARIAN, "PD")

    def id(self) -> str:
        return self.stream.randbytes(16).hex()

    def now(self) -> Moment:
        self.clock += self.stream.randrange(4_000, 30_000)
        return Moment(self.clock, START.offset_min)

    def by(self) -> Attribution:
        person, now = self.technician.person_id, self.now()
        return Attribution(person, person, now, now)


def open_exam(steps: Steps, protocol_hash: str, scope: Scope) -> Exam:
    animal = Animal(
        steps.id(),
        "Bramble",
        "dog",
        "mixed breed",
        Sex.FEMALE_NEUTERED,
        1_500,
        "2025-11-25",
        AgeBasis.TOLD,
        colour="brown, white chest",
        chip="900000000000001",
        behaviour="friendly",
        is_demo=True,
    )
    return Exam(
        steps.id(),
        animal,
        scope,
        Setting.CLINIC,
        "dog",
        protocol_hash,
        START,
        steps.technician.person_id,
        "adult",
        people=(steps.technician, steps.veterinarian),
        presentation=Presentation("owner", "coughs at night since a week"),
        is_demo=True,
    )


def with_vitals(exam: Exam, protocol: SpeciesProtocol, steps: Steps) -> Exam:
    for vital in required_vitals(exam, protocol):
        entry = VitalEntry(reason="refused")
        if vital.vital_id in TYPED:
            number, unit = TYPED[vital.vital_id]
            entry = VitalEntry(reading=Reading(number, unit, Decimal(number)))
            if vital.vital_id in COUNTS:
                count = CountAlong(COUNTS[vital.vital_id], 30)
                entry = replace(entry, evidence=count, state=RateState.RESTING)
        elif vital.kind is VitalKind.CHOICE:
            choice = next(c for c in vital.choices if not c.urgent_sign_id)
            entry = VitalEntry(words=(choice.label,), values=(choice.value,))
        elif vital.kind is VitalKind.GRADE:
            scale = protocol.scale(vital.scale_id)
            middle = scale.grades[len(scale.grades) // 2].value
            value = GRADES.get(vital.vital_id, middle)
            entry = VitalEntry(grade=give_grade(scale, value))
        ids = tuple(steps.id() for _ in range(4))
        exam = record_vital(exam, protocol, vital.vital_id, entry, steps.by(), ids)
    return exam


def with_findings(exam: Exam, protocol: SpeciesProtocol, steps: Steps) -> Exam:
    """Six findings: five of terms, one lump, one called for the veterinarian."""
    keys = keys_in_scope(exam, protocol)
    for place, key in enumerate(keys[2 : 2 + 6 * 4 : 4]):
        region = protocol.region(key.partition(".")[0])
        term = next(t for t in region.terms if not t.urgent_sign_id and not t.is_lump)
        finding = Finding(
            steps.id(),
            term.label,
            steps.by(),
            term.term_id,
            qualities=term.qualities[:1],
            place=term.places[0] if term.places else "",
            severity=Severity.SLIGHT if place % 2 else None,
            since="a week" if place == 0 else "",
            call=Call.VETERINARIAN_TO_LOOK if place == 3 else Call.NOTED,
        )
        if place == 5:
            finding = replace(finding, term_id="", words="lump", lump=lump())
        exam = add_finding(exam, protocol, key, finding, steps.id())
    return exam


def lump() -> Lump:
    sizes = (Reading("12", "mm", Decimal(12)), Reading("9", "mm", Decimal(9)))
    size = LumpSize(sizes, LumpTool.CALLIPER, "along the body", "ID")
    return Lump(
        LumpDepth.UNDER_SKIN,
        size,
        consistency=Consistency.SOFT,
        mobility=Mobility.MOVES_FREELY,
    )


def closed_exam(
    protocol: SpeciesProtocol,
    protocol_hash: str,
    scope: Scope = Scope.TECHNICIAN,
    stream: int = 7,
) -> Exam:
    """Return the typical exam, closed by the technician who did it."""
    steps = Steps(stream)
    exam = with_vitals(open_exam(steps, protocol_hash, scope), protocol, steps)
    exam = with_findings(exam, protocol, steps)
    for key in keys_in_scope(exam, protocol):
        if exam.entry(key).state is not RegionState.UNEXAMINED:
            continue
        region = protocol.region(key.partition(".")[0])
        clauses = clauses_for(exam, region)
        struck = ((clauses[0].clause_id, "did not hold still"),)
        is_struck = key == "mouth" and len(clauses) > 1
        exam = assert_no_abnormality(
            exam,
            protocol,
            (key,),
            words_for(exam),
            steps.by(),
            struck if is_struck else (),
        )
    for entry in exam.urgent:
        told = UrgentAnswer(
            AnswerKind.TOLD, steps.by(), "Dr Pia Demo", "in person", steps.now()
        )
        exam = answer_urgent(exam, entry.entry_id, told)
    return close(exam, protocol, steps.technician, steps.now())

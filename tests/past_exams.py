"""Closed exams of one dog over the months, for whatever shows an animal over time."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.signing import store_closed
from exam_app.domain.animal.signalment import AgeBasis, Animal, Sex
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import mark_not_present
from exam_app.domain.exam.visit import Given, Plan
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, Setting, VitalEntry
from exam_app.domain.lumps.lumps import LUMP_LENGTH, Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.measure.units import Reading, parse_reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.protocol.scales import give_grade
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import to_plain
from tests.exam_samples import TECHNICIAN

DOG = load_protocol("dog")
BRAMBLE = Animal(
    "c" * 32,
    "Bramble Demo",
    "dog",
    sex=Sex.FEMALE_NEUTERED,
    age_days=1500,
    age_basis=AgeBasis.TOLD,
    is_demo=True,
)
FIRST_DAY = datetime(2026, 1, 12, 9, 30, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Visit:
    """What is known of one exam in the past; what is empty was not noted.

    Attributes:
        wound: Which kind, in the examiner's own words.
        cut: Where, of a wound by the protocol's own find.
        docked: Whether the tail was said not to be there.
    """

    day: int
    weight: str = ""
    is_estimate: bool = False
    heart: str = ""
    state: RateState = RateState.RESTING
    temperature: str = ""
    condition: str = ""
    pain: str = ""
    lump: str = ""
    wound: str = ""
    cut: str = ""
    given: str = ""
    recheck: str = ""
    docked: bool = False


# A dog that gained weight, raced once, and had a lump and two wounds.
VISITS = (
    Visit(0, "23.6", heart="88", temperature="38.4", condition="5", pain="0"),
    Visit(40, "24", is_estimate=True, heart="96", temperature="38.9", wound="fresh"),
    Visit(41, heart="92", given="wound gel", recheck="in ten days", pain="2"),
    Visit(
        110,
        "24.4",
        heart="190",
        temperature="39.9",
        condition="6",
        lump="12",
        cut="back",
    ),
    Visit(200, "25.1", heart="100", temperature="38.6", condition="6", lump="14"),
)


def exam_of(visit: Visit, number: int = 0, animal=BRAMBLE):
    """A closed exam with these values, stopped early for all the rest."""
    at = Moment.from_datetime(FIRST_DAY + timedelta(days=visit.day))
    by = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, at, at)
    order = ExamOrder(animal, Scope.TECHNICIAN, Setting.CLINIC)
    protocol, exam_id = DOG.protocol, f"{number + 1:032x}"
    exam = begin_exam(order, protocol, DOG.content_hash, TECHNICIAN, exam_id, at)
    for vital_id, entry in entries_of(visit):
        ids = tuple(f"{number:08x}{n:024x}" for n in range(8))
        exam = record_vital(exam, protocol, vital_id, entry, by, ids)
    for place, found in enumerate(_finds(visit, by, number)):
        exam = add_finding(exam, protocol, "skin_coat", found, f"{place + 1:032x}")
    if visit.docked:
        exam = mark_not_present(exam, protocol, "tail", "docked", by, "f" * 32)
    given = (Given(visit.given, by, given_by="the owner"),) if visit.given else ()
    plan = Plan(recheck=visit.recheck) if visit.recheck else None
    exam = replace(exam, given=given, plan=plan, urgent=())
    exam = stop_early(exam, protocol, StopReason.OWNER_STOPPED, "", by)
    return close(exam, protocol, TECHNICIAN, at)


def entries_of(visit):
    """The vitals of a visit, by id."""
    if visit.weight:
        reading = Reading(visit.weight, "kg", Decimal(visit.weight))
        yield "weight", VitalEntry(reading=reading, is_estimate=visit.is_estimate)
    if visit.heart:
        reading = Reading(visit.heart, "beat/min", Decimal(visit.heart))
        yield "heart_rate", VitalEntry(reading=reading, state=visit.state)
    if visit.temperature:
        reading = Reading(visit.temperature, "degC", Decimal(visit.temperature))
        yield "temperature", VitalEntry(reading=reading, site="rectal")
    for vital_id, value in (
        ("body_condition", visit.condition),
        ("pain", visit.pain),
    ):
        if value:
            scale = DOG.protocol.scale(DOG.protocol.vital(vital_id).scale_id)
            yield vital_id, VitalEntry(grade=give_grade(scale, value))


def _finds(visit, by, number):
    region = DOG.protocol.region("skin_coat")
    if visit.lump:
        term = next(term for term in region.terms if term.is_lump)
        size = LumpSize(
            (parse_reading(visit.lump, "mm", LUMP_LENGTH),), LumpTool.CALLIPER, "", "AR"
        )
        lump = Lump(LumpDepth.UNDER_SKIN, size)
        name = f"{number:016x}{1:016x}"
        yield Finding(
            name, term.label, by, term_id=term.term_id, place="left flank", lump=lump
        )
    if visit.wound:
        yield Finding(f"{number:016x}{2:016x}", f"wound, {visit.wound}", by)
    if visit.cut:
        term = next(term for term in region.terms if term.term_id == "wound")
        yield Finding(
            f"{number:016x}{3:016x}",
            term.label,
            by,
            term_id=term.term_id,
            qualities=("cut",),
            place=visit.cut,
        )


def keep_visits(vault, visits=VISITS, animal=BRAMBLE, first=0):
    """Close these exams of one animal, as the app does; their ids count from first."""
    with vault.transaction():
        vault.animals.put(to_plain(animal))
        vault.protocols.put(DOG.content_hash, DOG.content)
        for number, visit in enumerate(visits, first):
            store_closed(vault, exam_of(visit, number, animal), DOG.protocol)

"""A small invented protocol and exams on it, for tests of the exam's rules.

The numbers are invented for arithmetic only; published ranges are tested elsewhere.
"""

from decimal import Decimal

from exam_app.domain.animal.signalment import AgeBasis, Animal, Sex
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.measure.units import Measure
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.intervals import ReferenceInterval
from exam_app.domain.protocol.protocol import (
    Choice,
    Clause,
    LifeStage,
    Region,
    Scope,
    Source,
    SpeciesProtocol,
    Term,
    Vital,
    VitalKind,
)
from exam_app.domain.protocol.scales import Grade, Scale
from exam_app.domain.protocol.urgent_signs import UrgentSign

STAFF = (Scope.TECHNICIAN, Scope.VETERINARIAN)
ALL = (Scope.INTAKE, *STAFF)
NOW = Moment(1_790_000_000_000, 60)
TECHNICIAN = Person("a" * 32, "Ines Corvo", Role.TECHNICIAN, "IC")
VETERINARIAN = Person("b" * 32, "Dr Mar Ondine", Role.VETERINARIAN, "MO", "X-1")
BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NOW, NOW)
HASH = "0" * 64


def region(region_id, label, scopes=ALL, **more):
    clauses = (
        Clause(f"{region_id}_look", f"{label.lower()} even", "looks even", ALL),
        Clause(f"{region_id}_feel", f"{label.lower()} not painful", "", STAFF),
    )
    terms = (
        Term(f"{region_id}_wound", "wound", "sore", ("fresh", "old")),
        Term(f"{region_id}_lump", "lump", "lump", is_lump=True),
        Term(f"{region_id}_bleed", "bleeding", "blood", urgent_sign_id="bleeding"),
    )
    return Region(region_id, label, label, "Group", scopes, clauses, terms, **more)


WEIGHT = Measure("weight", "Weight", "Weight", "kg", ("kg", "lb"), Decimal("0.1"))
TEMPERATURE = Measure(
    "temperature",
    "Temperature",
    "Temperature",
    "degC",
    ("degC", "degF"),
    Decimal("0.1"),
)
HEART_RATE = Measure(
    "heart_rate", "Heart rate", "Heartbeat", "beat/min", ("beat/min",), Decimal(1)
)


def row(name, measure, low, high, states=()):
    return ReferenceInterval(
        interval_id=name,
        measure_id=measure.measure_id,
        low=Decimal(low),
        high=Decimal(high),
        unit=measure.unit,
        life_stages=("adult",),
        settings=(),
        states=states,
        statistic="range",
        source_id="invented",
        provenance="memory",
    )


PROTOCOL = SpeciesProtocol(
    protocol_id="sample",
    version=1,
    species="dog",
    label="Dog",
    life_stages=(LifeStage("young", "Young", 0, 365), LifeStage("adult", "Adult", 365)),
    regions=(
        region("nose", "Nose"),
        region("eyes", "Eyes", sides=("left", "right"), loss_is_finding=True),
        region("heart", "Heart", STAFF),
        region("male_part", "Sheath", sexes=("male",)),
        region("tail", "Tail"),
    ),
    vitals=(
        Vital(
            "weight",
            "Weight",
            "Weight",
            VitalKind.MEASURE,
            ALL,
            ALL,
            measure=WEIGHT,
            is_body_weight=True,
        ),
        Vital(
            "temperature",
            "Temperature",
            "Temperature",
            VitalKind.MEASURE,
            STAFF,
            STAFF,
            measure=TEMPERATURE,
            sites=("rectal", "ear"),
        ),
        Vital(
            "heart_rate",
            "Heart rate",
            "Heartbeat",
            VitalKind.RATE,
            STAFF,
            (),
            measure=HEART_RATE,
        ),
        Vital(
            "gums",
            "Gum colour",
            "Gum colour",
            VitalKind.CHOICE,
            ALL,
            (),
            choices=(
                Choice("pink", "pink"),
                Choice("white", "white", urgent_sign_id="white_gums"),
            ),
        ),
    ),
    scales=(
        Scale(
            "size",
            "size",
            "size",
            (Grade("1", "small"), Grade("2", "large")),
            "invented",
            "memory",
        ),
    ),
    intervals=(
        row("t1", TEMPERATURE, "37.7", "38.5"),
        row("h1", HEART_RATE, "60", "120", ("resting",)),
    ),
    urgent_signs=(
        UrgentSign("bleeding", "Bleeding", "Bleeding", "press on it, tell now"),
        UrgentSign("white_gums", "White gums", "White gums", "tell now"),
        UrgentSign(
            "hot",
            "Very hot",
            "Very hot",
            "cool, tell now",
            vital_id="temperature",
            above="41.0",
            life_stages=("adult",),
        ),
    ),
    cautions=(),
    sources=(Source("invented", "Invented numbers for tests"),),
)

ANIMAL = Animal(
    "c" * 32,
    "Bramble",
    "dog",
    sex=Sex.FEMALE,
    age_days=1500,
    age_basis=AgeBasis.TOLD,
    is_demo=True,
)


def new_exam(scope=Scope.TECHNICIAN, **more):
    fields = {
        "exam_id": "e" * 32,
        "animal": ANIMAL,
        "scope": scope,
        "setting": Setting.CLINIC,
        "protocol_id": "sample",
        "protocol_hash": HASH,
        "started": NOW,
        "started_by": TECHNICIAN.person_id,
        "life_stage": "adult",
        "people": (TECHNICIAN,),
    }
    return Exam(**{**fields, **more})

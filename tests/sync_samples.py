"""A technician's day: typical exams that differ as animals and findings do.

Invented animals and people, marked demo; ids look random so that sizes are honest.
"""

import random  # fixed streams: sizes and vectors must not change from run to run
from dataclasses import replace
from decimal import Decimal

from exam_app.domain.animal.signalment import Owner, Sex
from exam_app.domain.exam.closing import close
from exam_app.domain.exam.exam import (
    clauses_for,
    keys_in_scope,
    required_vitals,
    words_for,
)
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Call, Finding, Severity
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import answer_urgent, assert_no_abnormality
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer
from exam_app.domain.exam.visit import Presentation
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.counting import CountAlong
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope, VitalKind
from exam_app.domain.protocol.scales import give_grade
from exam_app.record.ids_within import DRAWN_LENGTH, id_within
from exam_app.record.records import close_and_sign
from exam_app.record.salted_blocks import owner_block
from sync.bundle.contents import Contents, OwnerPart
from tests.record_samples import Steps, lump, open_exam

NAMES = (
    *("Bramble", "Ridge", "Pim", "Lantern", "Moss", "Vetch", "Tansy", "Corrin"),
    *("Sorrel", "Fennick", "Juniper", "Wick", "Dunlin", "Ottoline", "Saffron"),
    *("Burdock", "Teasel", "Larch", "Mica", "Quill"),
)
BREEDS = ("mixed breed", "mixed breed, small", "spaniel, mixed", "terrier", "collie")
COLOURS = ("brown, white chest", "black", "black and tan", "white", "brindle")
COMPLAINTS = (
    "coughs at night since a week",
    "yearly check and vaccination",
    "limps on the left hind leg since yesterday",
    "scratches the ears",
    "does not eat since two days",
    "check before planned dental work",
    "loose stool since the weekend",
    "lump felt by the owner",
)


class DaySteps(Steps):
    """Ids and times of one exam on a day when the same people work.

    Once the exam has an id, ids are made within it, as the app makes them.
    """

    def __init__(self, stream, place=0, day=0):
        self.exam_id = ""
        super().__init__(stream)
        people = random.Random(1_000_003 + day)
        self.technician = Person(
            people.randbytes(16).hex(), "Ilse Demo", Role.TECHNICIAN, "ID"
        )
        self.veterinarian = Person(
            people.randbytes(16).hex(), "Dr Pia Demo", Role.VETERINARIAN, "PD"
        )
        self.clock += place * 1_320_000 + day * 86_400_000

    def id(self):
        drawn = self.stream.randbytes(16)
        if not self.exam_id:
            return drawn.hex()
        return id_within(bytes.fromhex(self.exam_id), drawn[:DRAWN_LENGTH]).hex()


def _rate(chance, lowest, highest):
    seconds = chance.choice((30, 30, 30, 60, 15))
    count = round(chance.uniform(lowest, highest) * seconds / 60)
    return str(count * 60 // seconds), CountAlong(count, seconds)


def _vital(vital, protocol, chance):
    if vital.vital_id == "weight":
        kilograms = f"{chance.uniform(4, 42):.1f}"
        return VitalEntry(reading=Reading(kilograms, "kg", Decimal(kilograms)))
    if vital.vital_id == "temperature" and chance.random() < 0.9:
        celsius = f"{chance.gauss(38.6, 0.35):.1f}"
        return VitalEntry(reading=Reading(celsius, "degC", Decimal(celsius)))
    bounds = {"heart_rate": (70, 150), "respiratory_rate": (14, 40)}.get(vital.vital_id)
    if bounds:
        number, evidence = _rate(chance, *bounds)
        unit = "beat/min" if vital.vital_id == "heart_rate" else "breath/min"
        return VitalEntry(
            reading=Reading(number, unit, Decimal(number)),
            evidence=evidence,
            state=chance.choice((RateState.RESTING, RateState.ALERT)),
        )
    if vital.kind is VitalKind.CHOICE:
        quiet = [c for c in vital.choices if not c.urgent_sign_id]
        choice = quiet[0] if chance.random() < 0.7 else chance.choice(quiet)
        return VitalEntry(words=(choice.label,), values=(choice.value,))
    if vital.kind is VitalKind.GRADE:
        grades = protocol.scale(vital.scale_id).grades
        middle = len(grades) // 2 + chance.choice((-1, 0, 0, 0, 1))
        grade = grades[min(max(middle, 0), len(grades) - 1)]
        return VitalEntry(grade=give_grade(protocol.scale(vital.scale_id), grade.value))
    return VitalEntry(reason=chance.choice(("refused", "too stressed")))


def _finding(region, place, chance, steps):
    term = chance.choice([t for t in region.terms if not t.urgent_sign_id])
    finding = Finding(
        steps.id(),
        term.label,
        steps.by(),
        term.term_id,
        qualities=tuple(chance.sample(term.qualities, min(1, len(term.qualities)))),
        place=chance.choice(term.places) if term.places else "",
        severity=chance.choice((None, Severity.SLIGHT)),
        since=chance.choice(("", "", "a week", "2 days")),
        call=Call.VETERINARIAN_TO_LOOK if place == 3 else Call.NOTED,
    )
    if term.is_lump:
        finding = replace(finding, term_id="", words="lump", lump=lump())
    return finding


def closed_exam(
    loaded, stream, place=0, scope=Scope.TECHNICIAN, day=0, *, has_ids_within=True
):
    """Return one exam: the scope's regions and vitals, six findings.

    Args:
        has_ids_within: False for ids as versions before packing 2 drew them.
    """
    protocol, chance = loaded.protocol, random.Random(stream * 7_919 + 1)
    steps = DaySteps(stream, place, day)
    exam = open_exam(steps, loaded.content_hash, scope)
    steps.exam_id = exam.exam_id if has_ids_within else ""
    species = protocol.species if hasattr(protocol, "species") else exam.animal.species
    animal = replace(
        exam.animal,
        name=chance.choice(NAMES),
        species=species,
        breed=chance.choice(BREEDS),
        sex=chance.choice(list(Sex)),
        age_days=chance.randrange(400, 4_000),
        colour=chance.choice(COLOURS),
        chip=f"9000000{chance.randrange(10**8):08d}",
    )
    told = Presentation("owner", chance.choice(COMPLAINTS))
    started = Moment(steps.clock, 120)
    exam = replace(exam, animal=animal, presentation=told, started=started)
    for vital in required_vitals(exam, protocol):
        entry = _vital(vital, protocol, chance)
        ids = tuple(steps.id() for _ in range(4))
        exam = record_vital(exam, protocol, vital.vital_id, entry, steps.by(), ids)
    keys = keys_in_scope(exam, protocol)
    found = [k for k in keys if protocol.region(k.partition(".")[0]).terms]
    for number, key in enumerate(sorted(chance.sample(found, 6), key=keys.index)):
        region = protocol.region(key.partition(".")[0])
        finding = _finding(region, number, chance, steps)
        exam = add_finding(exam, protocol, key, finding, steps.id())
    exam = _rest_asserted(exam, protocol, steps, chance)
    for entry in exam.urgent:
        answer = UrgentAnswer(
            AnswerKind.TOLD, steps.by(), "Dr Pia Demo", "in person", steps.now()
        )
        exam = answer_urgent(exam, entry.entry_id, answer)
    return close(exam, protocol, steps.technician, steps.now())


def _rest_asserted(exam, protocol, steps, chance):
    for key in keys_in_scope(exam, protocol):
        if exam.entry(key).state is not RegionState.UNEXAMINED:
            continue
        clauses = clauses_for(exam, protocol.region(key.partition(".")[0]))
        struck = ()
        if len(clauses) > 1 and chance.random() < 0.06:
            struck = ((clauses[-1].clause_id, "did not hold still"),)
        exam = assert_no_abnormality(
            exam, protocol, (key,), words_for(exam), steps.by(), struck
        )
    return exam


def owner_of(chance):
    number = f"+00 {chance.randrange(10**3):03d} {chance.randrange(10**4):04d}"
    return Owner(f"{chance.choice(NAMES)} Demo", number, "1 Example Lane")


def day_contents(
    loaded,
    seed,
    count,
    first=0,
    *,
    with_owners=True,
    day=0,
    scope=Scope.TECHNICIAN,
    has_ids_within=True,
):
    """Return a day's exams signed by one device, with the owners beside them."""
    chance = random.Random(first * 31 + 5)
    records, owners = [], []
    for place in range(count):
        stream = first + place
        exam = closed_exam(
            loaded, stream, place, scope, day, has_ids_within=has_ids_within
        )
        owner, salt = owner_of(chance), chance.randbytes(32)
        made = close_and_sign(exam, loaded.protocol, seed, owner, salt)
        records.append(made.signed)
        owners.append(OwnerPart(made.exam_hash, salt, owner_block(owner)))
    beside = tuple(owners) if with_owners else ()
    return Contents(records=tuple(records), owners=beside)

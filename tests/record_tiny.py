"""The protocol and exam of the stored vectors and of FORMAT.md's worked example.

Signed vectors rest on every word of it: it never changes. Invented animal and people;
the limits are invented for arithmetic only.
"""

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from exam_app.crypto import door
from exam_app.domain.animal.body_marks import (
    BodyMark,
    CloserPlace,
    CloserView,
    MarkView,
    OwnSide,
)
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner, Sex
from exam_app.domain.exam.exam import Closing, Correction, Exam
from exam_app.domain.exam.findings import Call, EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.region_states import Conclusion, RegionEntry, StruckClause
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.exam.visit import BiteHistory, Bitten, Photo, PrivateNote
from exam_app.domain.exam.vitals import EarlierCount, RateState, Setting, VitalEntry
from exam_app.domain.lumps.lumps import Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.measure.counting import ClockStart, TapTimes
from exam_app.domain.measure.units import Measure, Reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.intervals import Flag, ReferenceInterval
from exam_app.domain.protocol.limits import FlagLevel
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
from exam_app.record.notes import Note, NoteKind

VECTORS = Path(__file__).parent / "vectors" / "record"
SEED = bytes(range(32))
PUBLIC_KEY = door.signing_public_key(SEED)
OTHER_PUBLIC_KEY = door.signing_public_key(bytes(32))
SALT = bytes(range(32, 64))
OWNER = Owner("Demo Owner", "+00 000 0000")
PROTOCOL_HASH = door.sha256(b"the tiny protocol of the vectors").hex()
ALL = (Scope.INTAKE, Scope.TECHNICIAN, Scope.VETERINARIAN)
TITLE = "Invented limits for examples"

HEART_RATE = Measure(
    "heart_rate", "Heart rate", "Heartbeat", "beat/min", ("beat/min",), Decimal(1)
)
NOSE = Region(
    "nose",
    "Nose",
    "Nose",
    "Head",
    ALL,
    (
        Clause("air", "air moves through both nostrils", "breathes through it", ALL),
        Clause("dry", "no discharge", "nothing runs from it", ALL),
    ),
    (Term("discharge", "discharge", "runny", ("watery", "bloody"), ("left nostril",)),),
)
EYES = Region(
    "eyes",
    "Eyes",
    "Eyes",
    "Head",
    ALL,
    (
        Clause("lids", "lids and lashes", "eyelids", ALL),
        Clause("cornea", "cornea clear", "", ALL),
    ),
    (Term("redness", "redness", "red eye", urgent_sign_id="red_eye"),),
    sides=("left", "right"),
)
TINY = SpeciesProtocol(
    "tiny",
    1,
    "dog",
    "Dog",
    (LifeStage("adult", "adult", 365),),
    (NOSE, EYES),
    (
        Vital(
            "heart_rate",
            "Heart rate",
            "Heartbeat",
            VitalKind.RATE,
            ALL,
            measure=HEART_RATE,
        ),
        Vital(
            "gums",
            "Gum colour",
            "Gum colour",
            VitalKind.CHOICE,
            ALL,
            choices=(Choice("pink", "pink"), Choice("white", "white")),
            not_done_reasons=("refused",),
        ),
    ),
    (Scale("size", "size", "size", (Grade("1", "small"),), "invented", "memory"),),
    (
        ReferenceInterval(
            "hr1",
            "heart_rate",
            Decimal(60),
            Decimal(120),
            "beat/min",
            (),
            (),
            (),
            "range",
            "invented",
            "memory",
        ),
    ),
    (UrgentSign("red_eye", "Red eye", "Red eye", "tell the veterinarian today"),),
    (),
    (Source("invented", TITLE),),
)

START = Moment(1_764_061_200_000, 120)
TECHNICIAN = Person("0123456789abcdef" * 2, "Tana Demo", Role.TECHNICIAN, "TD")


def by(seconds: int, late: int = 0) -> Attribution:
    seen = Moment(START.utc_ms + seconds * 1_000, START.offset_min)
    entered = Moment(seen.utc_ms + late * 1_000, START.offset_min)
    return Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, seen, entered)


FINDING = Finding(
    "f1" * 16, "redness", by(90), "redness", side="left", call=Call.VETERINARIAN_TO_LOOK
)
EXAM = Exam(
    "e1" * 16,
    Animal("a1" * 16, "Bruno", "dog", sex=Sex.MALE, is_demo=True),
    Scope.TECHNICIAN,
    Setting.CLINIC,
    "tiny",
    PROTOCOL_HASH,
    START,
    TECHNICIAN.person_id,
    "adult",
    people=(TECHNICIAN,),
    regions={
        "nose": RegionEntry(
            Conclusion.ASSERTED,
            ("air moves through both nostrils",),
            (StruckClause("dry", "no discharge", "licks all the time"),),
            attribution=by(60),
        ),
        "eyes.left": RegionEntry(
            Conclusion.OPEN, findings=(FINDING,), attribution=by(90)
        ),
        "eyes.right": RegionEntry(
            Conclusion.ASSERTED,
            ("lids and lashes", "cornea clear"),
            attribution=by(95),
        ),
    },
    vitals={
        "heart_rate": VitalEntry(
            reading=Reading("100.0", "beat/min", Decimal("100.0")),
            evidence=TapTimes(
                (0, 600, 1_200, 1_801, 2_400, 3_000), ClockStart.FIRST_BEAT
            ),
            state=RateState.ALERT,
            flag=Flag(
                FlagLevel.WITHIN,
                "100/min: within the published range 60–120/min "
                f"({TITLE}; not checked)",
                ("hr1",),
                ("invented",),
                unchecked=True,
            ),
            attribution=by(30, late=700),
        ),
        "gums": VitalEntry(reason="refused", attribution=by(40)),
    },
    urgent=(
        UrgentEntry(
            "b1" * 16,
            "Red eye",
            by(90),
            "red_eye",
            "tell the veterinarian today",
            f"region:eyes.left:{'f1' * 16}",
            answers=(
                UrgentAnswer(
                    AnswerKind.TOLD,
                    by(120),
                    "Dr Pia Demo",
                    "in person",
                    Moment(START.utc_ms + 120_000, 120),
                ),
            ),
        ),
    ),
    closing=Closing(TECHNICIAN.person_id, Moment(START.utc_ms + 180_000, 120)),
    is_demo=True,
)

# Another patient: an age in the number and unit it was told in.
PRIVATE_SALT = bytes(range(64, 96))
TOLD_PRIVATELY = replace(
    EXAM, private_notes=(PrivateNote("rope mark round the neck", by(40)),)
)
AGE_TOLD = replace(
    EXAM,
    animal=replace(
        EXAM.animal,
        age_days=3287,
        age_on="2025-11-25",
        age_basis=AgeBasis.TOLD,
        age_number="9",
        age_unit="years",
    ),
)


# A result in a claim's place, a claim that was added, an earlier find by its term.
FELT_FOR = replace(
    EXAM,
    regions={
        **EXAM.regions,
        "nose": RegionEntry(
            Conclusion.ASSERTED,
            asserted=("air moves through both nostrils",),
            instead=(StruckClause("dry", "no discharge", "looked for, not seen"),),
            attribution=by(30),
        ),
    },
    earlier=(
        EarlierFinding(
            "e2" * 16,
            "f2" * 16,
            "eyes.left",
            "2025-01-02",
            "redness",
            EarlierOutcome.SAME,
            term_id="redness",
        ),
    ),
    added_claims=("eyes/cornea",),
    instead_claims=("nose/dry",),
)

# A flag of several lines, and an earlier estimate that was counted anew.
COUNTED_ANEW = replace(
    EXAM,
    vitals={
        **EXAM.vitals,
        "heart_rate": VitalEntry(
            reading=Reading("130", "beat/min", Decimal(130)),
            state=RateState.ALERT,
            flag=Flag(
                FlagLevel.ABOVE,
                "130/min: above the published range\n"
                f"Above 60–120/min ({TITLE}; recalled, not checked)",
                ("hr1",),
                ("invented",),
                unchecked=True,
            ),
            earlier=(
                EarlierCount(
                    Reading("150", "beat/min", Decimal(150)),
                    None,
                    RateState.ALERT,
                    by(20),
                    is_estimate=True,
                ),
            ),
            attribution=by(30),
        ),
    },
)

# A revision that says what it changed, and a note that says what should read otherwise.
CORRECTED = replace(
    EXAM,
    revision=1,
    parent_hash=door.sha256(b"the record that is corrected").hex(),
    corrections=(
        Correction("Gum colour", "not done: refused", "pink", "ticked wrong", by(240)),
    ),
)


def correcting_note(exam_hash: str) -> Note:
    wrong = Correction("Heart rate", "100.0/min", "110/min", "miscounted")
    text = "Correction of Heart rate. Recorded: 100.0/min. Should read: 110/min."
    note = note_about(exam_hash)
    return replace(
        note,
        kind=NoteKind.ADDENDUM,
        text=text,
        asks_for=(),
        corrections=(wrong,),
    )


def note_about(exam_hash: str) -> Note:
    return Note(
        "c1" * 16,
        NoteKind.RECHECK_REQUEST,
        EXAM.exam_id,
        exam_hash,
        Person("d1" * 16, "Dr Pia Demo", Role.VETERINARIAN, "PD"),
        Moment(START.utc_ms + 3_600_000, 120),
        "Please look at the left eye again tomorrow.",
        ("eyes.left",),
        is_demo=True,
    )


def erasure_of(exam_hash: str) -> Note:
    return Note(
        "c2" * 16,
        NoteKind.ADDENDUM,
        EXAM.exam_id,
        exam_hash,
        Person("d1" * 16, "Dr Pia Demo", Role.VETERINARIAN, "PD"),
        Moment(START.utc_ms + 7_200_000, 120),
        "The owner asked for it.",
        is_demo=True,
        erased=("name", "phone"),
    )


def keep(protocol_hash: str) -> SpeciesProtocol | None:
    """Return the tiny protocol for its hash, as a store would."""
    return TINY if protocol_hash == PROTOCOL_HASH else None


# Two persons bitten, each with what belongs to them.
TWO_BITTEN = replace(
    EXAM,
    bite=BiteHistory(
        bit_or_scratched="the owner",
        when="at noon",
        first_aid="not washed yet",
        examiner_bitten="left thumb",
        examiner_when="2025-11-25 09:00",
        examiner_name="Tana Demo",
        washed="washed at once",
        reported="the health office",
    ),
)

# Three persons bitten, each of whom somebody else was told.
BITTEN_BLOCKS = replace(
    EXAM,
    bite=BiteHistory().with_blocks(
        (
            Bitten(
                "the owner", "2025-11-24 18:00", "washed at once", told="a physician"
            ),
            Bitten("a child", "2025-11-25, time not known", told="nobody yet"),
            Bitten(
                "left thumb",
                "2025-11-25 09:00",
                name="Tana Demo",
                told="the health office",
                is_examiner=True,
            ),
        )
    ),
)

# A mark of this exam, and an earlier one measured again, which has the mark it had.
CALLIPER = LumpSize(
    (Reading("12", "mm", Decimal(12)),), LumpTool.CALLIPER, "along the body", "Kim Demo"
)
AGAIN = replace(
    CALLIPER,
    dimensions=(Reading("14", "mm", Decimal(14)),),
    measured_by="Tana Demo",
)
EARLIER_MARK = BodyMark(2, MarkView.LEFT_HEAD, 0, 1000)
MARKED = replace(
    EXAM,
    regions={
        **EXAM.regions,
        "eyes.left": replace(
            EXAM.regions["eyes.left"],
            findings=(
                replace(FINDING, mark=BodyMark(3, MarkView.LEFT, 166, 208)),
                Finding(
                    "f3" * 16,
                    "lump",
                    by(100),
                    side="left",
                    lump=Lump(LumpDepth.IN_SKIN, AGAIN),
                    mark=EARLIER_MARK,
                    same_as="f2" * 16,
                ),
            ),
        ),
    },
    earlier=(
        EarlierFinding(
            "e2" * 16,
            "f2" * 16,
            "eyes.left",
            "2025-01-02",
            "lump, mark 2, left view of the head",
            lump=Lump(LumpDepth.IN_SKIN, CALLIPER),
            mark=EARLIER_MARK,
        ),
        EarlierFinding(
            "e2" * 16,
            "f4" * 16,
            "nose",
            "2025-01-02",
            "wound, mark 1, top view",
            EarlierOutcome.SAME,
            mark=BodyMark(1, MarkView.TOP, 500, 20),
        ),
    ),
    marks_before=2,
)

# Marks with a place on a closer drawing too: of a limb of one side, and of a whole.
MARKED_CLOSER = replace(
    EXAM,
    regions={
        **EXAM.regions,
        "eyes.left": replace(
            EXAM.regions["eyes.left"],
            findings=(
                replace(
                    FINDING,
                    mark=BodyMark(
                        3,
                        MarkView.LEFT,
                        166,
                        208,
                        CloserPlace(
                            CloserView.FORE_FOOT_OUTER, 310, 1000, OwnSide.LEFT
                        ),
                    ),
                ),
            ),
        ),
    },
    earlier=(
        EarlierFinding(
            "e2" * 16,
            "f4" * 16,
            "nose",
            "2025-01-02",
            "wound, mark 2, open mouth, closer drawing",
            mark=BodyMark(
                2, MarkView.RIGHT_HEAD, 0, 1000, CloserPlace(CloserView.MOUTH, 0, 20)
            ),
        ),
    ),
    marks_before=2,
)

PHOTOGRAPHED = replace(
    MARKED,
    photos=(
        Photo(
            "a5" * 32,
            "redness of the lower lid, head held to the light",
            "eyes.left",
            "left",
            FINDING.finding_id,
            1_600,
            1_200,
            312_456,
            by(95, 900),
        ),
        Photo(
            "a6" * 32,
            "nose from the front",
            "nose",
            finding_id="f4" * 16,
            width=900,
            height=1_600,
            size=201_000,
            attribution=by(120),
        ),
        Photo("a7" * 32, "the whole animal, standing"),
    ),
)

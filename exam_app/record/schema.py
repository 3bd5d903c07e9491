"""The one table of the record: an integer key for every field, a number for every word.

Keys and numbers are only ever added. A key that was written once is never used for
anything else, since signed records are read for ever; a test freezes both tables.
"""

from dataclasses import MISSING, dataclass, fields
from enum import Enum
from functools import cache
from typing import Any, get_args

from exam_app.domain.animal.body_marks import (
    MOST_MARKS,
    THOUSANDTHS,
    BodyMark,
    CloserPlace,
    CloserView,
    MarkView,
    OwnSide,
)
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner, Sex
from exam_app.domain.exam.exam import (
    Closing,
    Correction,
    Exam,
    StoppedEarly,
    StopReason,
)
from exam_app.domain.exam.findings import (
    Call,
    EarlierFinding,
    EarlierOutcome,
    Finding,
    Severity,
)
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.region_states import Conclusion, RegionEntry, StruckClause
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.exam.visit import (
    BiteHistory,
    Bitten,
    Care,
    ChipScan,
    Given,
    GroupFacts,
    Intake,
    Photo,
    Plan,
    Presentation,
    PrivateNote,
    Procedure,
    Sample,
)
from exam_app.domain.exam.vitals import EarlierCount, RateState, Setting, VitalEntry
from exam_app.domain.lumps.lumps import (
    Consistency,
    Lump,
    LumpDepth,
    LumpPain,
    LumpSize,
    LumpTool,
    Mobility,
    Surface,
)
from exam_app.domain.measure.counting import ClockStart, CountAlong, TapTimes
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.intervals import Flag
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.protocol.scales import Graded
from exam_app.record.notes import Note, NoteKind
from exam_app.record.plain_form import field_types

FieldMap = dict[Any, Any]


def _keys(names: str) -> dict[str, int]:
    """Number the fields from 1 in the order given."""
    return {name: key for key, name in enumerate(names.split(), start=1)}


FIELD_KEYS: dict[type, dict[str, int]] = {
    # Keys below 24 take one byte; the rarer fields stand last.
    Exam: _keys(
        "exam_id animal scope setting protocol_id protocol_hash started started_by"
        " life_stage focus people regions vitals urgent earlier presentation intake"
        " given samples plan closing remark is_demo photos stopped continues open_keys"
        " revision parent_hash bite procedures care private_notes group group_exam"
        " asked_vitals added_claims instead_claims corrections marks_before"
    ),
    Animal: _keys(
        "animal_id name species breed sex age_days age_on age_basis birth_date colour"
        " chip tag place behaviour dangers absent is_demo is_group dam age_method"
        " age_number age_unit"
    ),
    Person: _keys("person_id name role initials licence"),
    Attribution: _keys("observed examined_by entered_by entered"),
    RegionEntry: _keys(
        "conclusion asserted attribution struck findings reason remark is_parked"
        " instead"
    ),
    StruckClause: _keys("clause_id text reason"),
    Finding: _keys(
        "finding_id term_id words attribution side qualities place extent severity"
        " since note call grades lump mark same_as"
    ),
    BodyMark: _keys("number view x y closer"),
    CloserPlace: _keys("view x y limb"),
    Graded: _keys("scale_id value label"),
    Lump: _keys("depth size second_size consistency mobility surface pain"),
    LumpSize: _keys("dimensions tool direction measured_by"),
    Reading: _keys("typed unit value"),
    EarlierFinding: _keys(
        "exam_id finding_id key date summary outcome lump term_id mark"
    ),
    VitalEntry: _keys(
        "reading grade words values reason evidence state site rhythm beats_felt"
        " is_estimate was_implausible_confirmed note flag earlier attribution"
    ),
    EarlierCount: _keys("reading evidence state attribution is_estimate"),
    # One numbering for both, so that a key tells which of the two it is.
    CountAlong: {"count": 1, "seconds": 2},
    TapTimes: {"offsets_ms": 3, "clock": 4},
    Flag: _keys("level text interval_ids source_ids unchecked"),
    UrgentEntry: _keys("entry_id sign_id label action attribution origin note answers"),
    UrgentAnswer: _keys("kind attribution whom how at instruction was_read_back"),
    Presentation: _keys(
        "presented_by complaint history consent_to consent_by consent_how"
    ),
    GroupFacts: _keys("present examined affected dead chosen feed housing note"),
    Intake: _keys("kind found_where found_when hold_until scans"),
    ChipScan: _keys("slot numbers passes scanner attribution not_done"),
    BiteHistory: _keys(
        "bit_or_scratched when rabies_vaccine quarantine examiner_bitten washed"
        " reported examiner_when rabies_concern first_aid examiner_name bitten"
    ),
    Bitten: _keys("who when first_aid name told is_examiner"),
    Given: _keys(
        "product attribution dose route site at lot expiry ordered_by reason withdrawal"
        " given_by"
    ),
    Sample: _keys("kind attribution label test result"),
    Plan: _keys("assessment differentials plan recheck owner_told"),
    Procedure: _keys("what attribution where note"),
    Care: _keys("isolation nothing_by_mouth medication_due"),
    PrivateNote: _keys("text attribution"),
    Photo: _keys("sha256 caption key side finding_id width height size attribution"),
    StoppedEarly: _keys("reason note attribution"),
    Closing: _keys("closed_by at"),
    Correction: _keys("item was now reason attribution"),
    Owner: _keys("name phone address other"),
    Note: _keys(
        "note_id kind exam_id exam_hash author written text asks_for is_demo"
        " corrections erased"
    ),
}

# The number of a word is its place, from 0.
WORD_ORDER: dict[type[Enum], tuple[Enum, ...]] = {
    kind: tuple(kind[name] for name in names.split())
    for kind, names in {
        Scope: "INTAKE TECHNICIAN VETERINARIAN FOCUSED GROUP",
        Setting: "CLINIC HOME FARM SHELTER",
        Sex: "UNKNOWN FEMALE FEMALE_NEUTERED MALE MALE_NEUTERED",
        AgeBasis: "UNKNOWN BIRTH_DATE TOLD ESTIMATED",
        Role: "VETERINARIAN TECHNICIAN VOLUNTEER",
        Conclusion: "OPEN ASSERTED NOT_EXAMINED NOT_PRESENT",
        Severity: "SLIGHT MODERATE MARKED",
        Call: "NOTED VETERINARIAN_TO_LOOK URGENT",
        EarlierOutcome: "GONE SAME CHANGED NOT_LOOKED_FOR",
        RateState: "ASLEEP RESTING ALERT RESTRAINED AFTER_EXERTION HOT",
        ClockStart: "BUTTON FIRST_BEAT",
        FlagLevel: "NONE BELOW NEAR_LOW WITHIN NEAR_HIGH ABOVE",
        LumpDepth: "IN_SKIN UNDER_SKIN DEEP NOT_SURE",
        LumpTool: "CALLIPER RULER TAPE BY_EYE",
        Consistency: "SOFT FIRM HARD FLUID MIXED",
        Mobility: "MOVES_FREELY MOVES_WITH_SKIN FIXED NOT_SURE",
        Surface: "SMOOTH UNEVEN HAIRLESS OPEN",
        LumpPain: "NONE_SHOWN SHOWN NOT_TESTED",
        AnswerKind: "TOLD TRIED AM_VETERINARIAN",
        StopReason: "URGENT UNSAFE OWNER_STOPPED ESCAPED DIED VETERINARIAN_STOPPED",
        MarkView: "LEFT RIGHT TOP UNDER LEFT_HEAD RIGHT_HEAD",
        CloserView: "FORELIMB_OUTER FORELIMB_INNER HINDLIMB_OUTER HINDLIMB_INNER"
        " FORE_FOOT_OUTER FORE_FOOT_INNER FORE_FOOT_UNDER"
        " HIND_FOOT_OUTER HIND_FOOT_INNER HIND_FOOT_UNDER FOOT_UNDER"
        " UDDER MAMMARY MOUTH",
        OwnSide: "LEFT RIGHT",
        NoteKind: "ADDENDUM ACKNOWLEDGEMENT RECHECK_REQUEST",
    }.items()
}


class Form(Enum):
    """How a text is spelled when it is no ordinary text."""

    ID = "UUID as 16 bytes"
    HASH = "SHA-256 as 32 bytes"
    PERSON = "place among the exam's people, or an id"
    ABSOLUTE = "milliseconds since 1970 and the offset, instead of since the start"
    STEPS = "the first number, then each difference"
    SENTENCE = "the claims made, as bits, or a list of texts"
    PARTS = "a text cut at the source titles it names"
    ORIGIN = "a text that ends in a UUID, as text and 16 bytes"
    MARK_NUMBER = "an integer from 1 to 9999"
    MARK_COUNT = "an integer from 0 to 9999"
    THOUSANDTHS = "an integer from 0 to 1000"
    PIXELS = "an integer from 0 to 65535"
    BYTE_COUNT = "an integer from 0 to 2147483647"


# The least and the most of a whole number that is written as it is.
BOUNDS = {
    Form.MARK_NUMBER: (1, MOST_MARKS),
    Form.MARK_COUNT: (0, MOST_MARKS),
    Form.THOUSANDTHS: (0, THOUSANDTHS),
    # A JPEG says its width and its height in 16 bits each.
    Form.PIXELS: (0, 65_535),
    Form.BYTE_COUNT: (0, 2**31 - 1),
}

FORMS: dict[tuple[type[Any], str], Form] = {
    (Exam, "exam_id"): Form.ID,
    (Exam, "protocol_hash"): Form.HASH,
    (Exam, "started"): Form.ABSOLUTE,
    (Exam, "started_by"): Form.ID,
    (Exam, "continues"): Form.ID,
    (Exam, "group_exam"): Form.ID,
    (Exam, "parent_hash"): Form.HASH,
    (Exam, "marks_before"): Form.MARK_COUNT,
    (Animal, "animal_id"): Form.ID,
    (Person, "person_id"): Form.ID,
    (Attribution, "examined_by"): Form.PERSON,
    (Attribution, "entered_by"): Form.PERSON,
    (Closing, "closed_by"): Form.PERSON,
    (RegionEntry, "asserted"): Form.SENTENCE,
    (Flag, "text"): Form.PARTS,
    (Finding, "finding_id"): Form.ID,
    (Finding, "same_as"): Form.ID,
    (BodyMark, "number"): Form.MARK_NUMBER,
    (BodyMark, "x"): Form.THOUSANDTHS,
    (BodyMark, "y"): Form.THOUSANDTHS,
    (CloserPlace, "x"): Form.THOUSANDTHS,
    (CloserPlace, "y"): Form.THOUSANDTHS,
    (EarlierFinding, "exam_id"): Form.ID,
    (EarlierFinding, "finding_id"): Form.ID,
    (UrgentEntry, "entry_id"): Form.ID,
    (UrgentEntry, "origin"): Form.ORIGIN,
    (Photo, "sha256"): Form.HASH,
    (Photo, "finding_id"): Form.ID,
    (Photo, "width"): Form.PIXELS,
    (Photo, "height"): Form.PIXELS,
    (Photo, "size"): Form.BYTE_COUNT,
    (TapTimes, "offsets_ms"): Form.STEPS,
    (Note, "note_id"): Form.ID,
    (Note, "exam_id"): Form.ID,
    (Note, "exam_hash"): Form.HASH,
    (Note, "written"): Form.ABSOLUTE,
}


@dataclass(frozen=True, slots=True)
class Slot:
    """One field of a class as the table sees it.

    Attributes:
        kind: The type of its value.
        is_required: Whether a record must hold it.
        is_none_at_absence: Whether it has no default and stands for None if left out.
    """

    name: str
    key: int
    kind: Any
    form: Form | None
    default: object
    is_required: bool
    is_none_at_absence: bool


@cache
def slots_of(kind: Any) -> tuple[Slot, ...]:  # noqa: ANN401
    """Return every field of a class with its key, type, form and default."""
    return tuple(_slot(kind, field) for field in fields(kind))


def _slot(kind: Any, field: Any) -> Slot:  # noqa: ANN401
    default = field.default
    has_none = field.default is MISSING and field.default_factory is MISSING
    if field.default_factory is not MISSING:
        default = field.default_factory()
    hint = field_types(kind)[field.name]
    is_required = has_none and type(None) not in get_args(hint)
    is_none_at_absence = has_none and not is_required
    if is_none_at_absence:
        default = None
    form = FORMS.get((kind, field.name))
    key = FIELD_KEYS[kind][field.name]
    return Slot(field.name, key, hint, form, default, is_required, is_none_at_absence)

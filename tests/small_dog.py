"""A dog of three regions and two vitals, invented for tests of the screens."""

from decimal import Decimal

from exam_app.app.exam_editor import Edit, change_maker
from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.exam.transitions import assert_no_abnormality
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.measure.units import Measure
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import (
    Caution,
    Clause,
    LifeStage,
    Region,
    Scope,
    SpeciesProtocol,
    Term,
    Vital,
    VitalKind,
)
from exam_app.domain.protocol.urgent_signs import UrgentSign

ALL = (Scope.INTAKE, Scope.TECHNICIAN, Scope.VETERINARIAN)
STAFF = (Scope.TECHNICIAN, Scope.VETERINARIAN)

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
    (
        Term("discharge", "discharge", "runny", ("serous", "bloody")),
        Term("bleeding", "bleeding", urgent_sign_id="bleeding"),
    ),
    look=("both nostrils",),
    awake_limits=("the back of the nose is not seen",),
)
EYES = Region(
    "eyes",
    "Eyes",
    "Eyes",
    "Head",
    ALL,
    (Clause("lids", "lids and lashes", "eyelids", ALL),),
    (
        Term("redness", "redness", "red eye", places=("upper lid", "lower lid")),
        Term("lump", "lump", is_lump=True),
    ),
    sides=("left", "right"),
    loss_is_finding=True,
)
HEART = Region(
    "heart",
    "Heart",
    "Heart",
    "Chest",
    STAFF,
    (Clause("murmur", "no murmur heard", scopes=STAFF),),
    (Term("murmur", "murmur"),),
)
WEIGHT = Vital(
    "weight",
    "Weight",
    "Weight",
    VitalKind.MEASURE,
    ALL,
    STAFF,
    Measure("weight", "Weight", "Weight", "kg", ("kg", "lb"), Decimal("0.1")),
    is_body_weight=True,
)
DOG = SpeciesProtocol(
    "dog",
    1,
    "dog",
    "Dog",
    (LifeStage("young", "young", 0, 365), LifeStage("adult", "adult", 365)),
    (NOSE, EYES, HEART),
    (WEIGHT,),
    (),
    (),
    (UrgentSign("bleeding", "bleeding", "bleeding", "tell the veterinarian now"),),
    (Caution("bite", "bite", "may bite when the mouth is opened"),),
    (),
)
TECHNICIAN = Person("a" * 32, "Tana Demo", Role.TECHNICIAN, "TD")
COLLEAGUE = Person("b" * 32, "Uli Demo", Role.VETERINARIAN, "UD")
BRUNO = Animal("c" * 32, "Bruno Demo", "dog", sex=Sex.MALE, is_demo=True)
NINE_O_CLOCK = Moment(1_764_061_200_000, 0)


def new_exam(scope: Scope = Scope.TECHNICIAN, **fields: object) -> Exam:
    """Start an exam of the invented dog."""
    return Exam(
        "d" * 32,
        BRUNO,
        scope,
        Setting.CLINIC,
        "dog",
        "0" * 64,
        NINE_O_CLOCK,
        TECHNICIAN.person_id,
        people=(TECHNICIAN,),
        is_demo=True,
        **fields,
    )


@change_maker
def no_abnormality(exam: Exam, edit: Edit, keys, struck=()) -> Exam:
    """Assert what an exam says of one part, or of both sides of one."""
    return assert_no_abnormality(
        exam, edit.protocol, keys, words_for(exam), edit.by, struck
    )

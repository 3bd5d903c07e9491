"""What may stand on a kennel card: never an owner, never a private note."""

from exam_app.domain.exam import Exam
from exam_app.domain.people import Role
from exam_app.domain.protocol import Scope
from exam_app.domain.signalment import age_words
from exam_app.domain.units import Reading

Line = tuple[str, str]


def kennel_card(exam: Exam, *, was_seen_by_veterinarian: bool) -> tuple[Line, ...]:
    """Return the lines of a kennel card as (label, text), most pressing first.

    Args:
        exam: The animal's newest exam, open or closed.
        was_seen_by_veterinarian: Whether any record of this animal was examined or
            acknowledged by a veterinarian.
    """
    animal = exam.animal
    age = "not known" if animal.age_days is None else age_words(animal.age_days)
    warnings = _warnings(exam, was_seen_by_veterinarian)
    lines = (
        ("Number", animal.tag),
        ("Name", animal.name),
        ("Sex", animal.sex.value),
        ("Age", age),
        ("Weight", _weight(exam)),
        ("Taken in", f"{exam.started.local():%Y-%m-%d}" if exam.intake else ""),
        ("Hold until", exam.intake.hold_until if exam.intake else ""),
        ("Medication due", exam.care.medication_due if exam.care else ""),
        ("Can hurt you", animal.dangers),
    )
    return (*warnings, *((label, text) for label, text in lines if text))


def is_by_veterinarian(exam: Exam) -> bool:
    """Return whether a veterinarian examined in this exam."""
    starter = exam.person(exam.started_by)
    is_veterinarian = starter is not None and starter.role is Role.VETERINARIAN
    return is_veterinarian and exam.scope is not Scope.INTAKE


def _warnings(exam: Exam, was_seen: bool) -> tuple[Line, ...]:
    care = exam.care
    bite = exam.bite.bit_or_scratched if exam.bite else ""
    lines = (
        ("BITE OR SCRATCH", bite),
        ("ISOLATION", care.isolation if care else ""),
        ("NOTHING BY MOUTH", care.nothing_by_mouth if care else ""),
        ("VETERINARIAN", "" if was_seen else "not yet seen by a veterinarian"),
    )
    return tuple((label, text) for label, text in lines if text)


def _weight(exam: Exam) -> str:
    entry = exam.vital("weight")
    if entry.reading is None:
        return entry.reason and f"not weighed: {entry.reason}"
    estimate = " (estimate)" if entry.is_estimate else ""
    return f"{_typed(entry.reading)}{estimate}"


def _typed(reading: Reading) -> str:
    has_unit = any(letter.isalpha() for letter in reading.typed)
    return reading.typed if has_unit else f"{reading.typed} {reading.unit}"

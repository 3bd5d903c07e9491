"""Graded scales: a grade belongs to its scale and is never shown without it.

Two scales of the same name can run from 1 to 5 and from 1 to 9, so a grade keeps
the scale's id, and no grade is ever turned into a grade of another scale. Where a
conversion is published, the number it gives is shown beside the grade that was given.
A scale of numbers can have a grade in words too, which is neither more nor less than
any number and is compared with nothing.
"""

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from exam_app.domain.errors import UnknownGradeError
from exam_app.language.catalogue import tr


@dataclass(frozen=True, slots=True)
class Grade:
    """One grade: its value as text (``"7"``, ``"mild"``) and what it looks like.

    ``said`` are other ways to say it in a line that is typed or dictated.
    """

    value: str
    label: str
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ScaleConversion:
    """A published rule that gives the number of another scale: times a, plus b.

    Args:
        ends: Ends of the other scale, as ``1 to 5``.
    """

    ends: str
    times: Decimal
    plus: Decimal
    source_id: str


@dataclass(frozen=True, slots=True)
class Scale:
    """A graded scale as a protocol describes it.

    Args:
        plain_label: The label in plain words.
        grades: In the order of the scale, lowest first; at least two.
        provenance: ``read`` or ``memory``.
        conversions: Published rules that give the number of another scale.
    """

    scale_id: str
    label: str
    plain_label: str
    grades: tuple[Grade, ...]
    source_id: str
    provenance: str
    note: str = ""
    conversions: tuple[ScaleConversion, ...] = ()


@dataclass(frozen=True, slots=True)
class Graded:
    """A grade that was given: the scale's id, the value, and the label then shown."""

    scale_id: str
    value: str
    label: str


def give_grade(scale: Scale, value: str) -> Graded:
    """Return the grade of that value.

    Raises:
        UnknownGradeError: The scale has no such grade.
    """
    for grade in scale.grades:
        if grade.value == value:
            return Graded(scale.scale_id, grade.value, grade.label)
    raise UnknownGradeError(f"{scale.scale_id} has no grade {value}")


def show_grade(graded: Graded, scale: Scale, *, is_plain: bool = False) -> str:
    """Return a grade with its scale: ``body condition 7/9: ribs hard to feel``.

    A scale that starts at zero shows both ends, since ``4/5`` would hide a sixth
    grade: ``lameness 4 (0 to 5)``. A grade in words is shown as the word. Where a
    conversion is published its number follows: ``(3.5 on 1 to 5 by conversion)``.

    Raises:
        UnknownGradeError: The grade is not of this scale.
    """
    if graded.scale_id != scale.scale_id:
        raise UnknownGradeError(f"{scale.scale_id} has no grade {graded.value}")
    name = tr(scale.plain_label if is_plain else scale.label)
    value = _value_with_ends(graded.value, scale)
    text = f"{name} {value}"
    if graded.label != graded.value:
        known = [grade.label for grade in scale.grades]
        text += f": {tr(graded.label) if graded.label in known else graded.label}"
    return text + "".join(
        tr(" ({number} on {ends} by conversion)", number=number, ends=tr(rule.ends))
        for rule in scale.conversions
        if (number := converted(graded, rule)) is not None
    )


def converted(graded: Graded, rule: ScaleConversion) -> Decimal | None:
    """Return the number a published rule gives for a grade; None for a word.

    It is a number to read beside the grade, never a grade of the other scale.
    """
    value = grade_number(graded.value)
    return None if value is None else (value * rule.times + rule.plus).normalize()


def scale_problems(scale: Scale) -> tuple[str, ...]:
    """Return every fault of a scale, in plain words; empty when it can be used."""
    values = [grade.value for grade in scale.grades]
    repeated = sorted({value for value in values if values.count(value) > 1})
    problems = [f"grade {value} appears more than once" for value in repeated]
    if len(values) < 2:
        problems.append("a scale has at least two grades")
    if not all(value.strip() for value in values):
        problems.append("a grade has no value")
    unnamed = (grade.value for grade in scale.grades if not grade.label.strip())
    problems += [f"grade {value} has no label" for value in unnamed]
    numbers = [n for value in values if (n := grade_number(value)) is not None]
    if numbers != sorted(numbers):
        problems.append("the grades are not in order, lowest first")
    return tuple(problems)


def grade_number(value: str) -> Decimal | None:
    """Return a grade's value as the number it is, or None for a grade in words."""
    try:
        return Decimal(value)
    except InvalidOperation:
        return None


def _value_with_ends(value: str, scale: Scale) -> str:
    numbered = [g.value for g in scale.grades if grade_number(g.value) is not None]
    first = scale.grades[0].value
    if first not in numbered or grade_number(value) is None:
        return value
    is_from_one = grade_number(first) == 1
    last = numbered[-1]
    if is_from_one:
        return f"{value}/{last}"
    return tr("{value} ({first} to {last})", value=value, first=first, last=last)

"""Numbers as typed, their units, and exact conversion between units.

Rules kept here: what was typed is kept and never guessed at; a point or a comma is the
decimal mark, and groups of three may be set apart by a space; what can be read two ways
is refused with the reason, since ``1,234`` is either just over one or over a thousand,
and a dose may hang on it. Arithmetic is exact (fractions, never floats), so 101.3 °F is
38.5 °C and nothing else; a result is rounded once, to the item's own step, halves away
from zero; a unit of another dimension is refused, and beats, breaths and contractions
are dimensions of their own.
"""

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from exam_app.domain.errors import ReadingError
from exam_app.domain.measure.conversion import (
    convert,
    is_same_unit,
    plain_number,
    require_unit,
    round_to_step,
    with_unit,
)
from exam_app.domain.measure.known_units import (
    KNOWN_UNITS,
    PER_MINUTE,
    Unit,
    plain_word,
)
from exam_app.language.catalogue import to_translate, tr


@dataclass(frozen=True, slots=True)
class StageLimits:
    """What is expected at some stages of life: wide, a typing guard and no flag.

    Attributes:
        life_stages: The stages it holds for; at least one.
        low, high: Beyond these the typing is asked about, in the measure's unit.
        source_id: Where it comes from; mostly common practice.
    """

    life_stages: tuple[str, ...]
    low: Decimal
    high: Decimal
    source_id: str = "common_practice"


@dataclass(frozen=True, slots=True)
class Measure:
    """One thing that is measured, as a protocol describes it.

    Args:
        plain_label: The label in plain words.
        unit: The unit readings are compared in, such as ``kg`` or ``beat/min``.
        units_offered: Units on the screen, in order; the first is the default.
        precision: The step a value is rounded to before comparing, in ``unit``.
        plausible_low, plausible_high: Beyond these the typing is asked about.
        plausible: Narrower limits of the stages of life; an age that is not known
            is held to the two above, which are the widest.
        units: Units named here that do not come with the program.
    """

    measure_id: str
    label: str
    plain_label: str
    unit: str
    units_offered: tuple[str, ...]
    precision: Decimal
    plausible_low: Decimal | None = None
    plausible_high: Decimal | None = None
    plausible: tuple[StageLimits, ...] = ()
    units: tuple[Unit, ...] = ()

    def unit_named(self, unit: str) -> Unit | None:
        """Return what is known of a unit: the file's own, else the program's."""
        own = (known for known in self.units if known.unit_id == unit)
        return next(own, KNOWN_UNITS.get(unit))

    @property
    def counts(self) -> str:
        """What a rate in its unit counts, or empty."""
        known = self.unit_named(self.unit)
        return known.counts if known else ""

    def label_of(self, unit: str) -> str:
        """Return a unit as it is printed here."""
        known = self.unit_named(unit)
        return known.printed if known else unit

    def expected_at(self, life_stage: str) -> tuple[Decimal | None, Decimal | None]:
        """Return what is expected at a stage of life, as low and high in ``unit``.

        Args:
            life_stage: The stage; empty, or one without limits of its own, is held
                to the widest.
        """
        for limits in self.plausible:
            if life_stage in limits.life_stages:
                return limits.low, limits.high
        return self.plausible_low, self.plausible_high


@dataclass(frozen=True, slots=True)
class Reading:
    """One value as typed.

    Args:
        typed: The text as typed, without the spaces around it.
        unit: The unit typed, or the one chosen beside the field.
        value: The number typed, in ``unit``, with its digits unchanged.
    """

    typed: str
    unit: str
    value: Decimal


def parse_reading(typed: str, default_unit: str, measure: Measure) -> Reading:
    """Read one value as typed; a unit in the text wins over the one chosen.

    Args:
        typed: ``10.2``, ``10,2 kg``, ``101.3 F``, ``1 200 g`` or ``22 lb 9 oz``.
        default_unit: The unit chosen beside the field.
        measure: What is being measured.

    Returns:
        The reading. Of two numbers the unit is the larger one, and the value is
        exact: 22 lb 9 oz is 22.5625 lb.

    Raises:
        ReadingError: The text is no single value; ``reason`` says why.
        UnitMismatchError: The unit measures something else.
    """
    parts = read_parts(typed)
    value, unit = parts[0][0], _unit_of(parts[0][1], default_unit, measure)
    require_unit(measure.measure_id, unit, measure.unit)
    if len(parts) > 1:
        value += _smaller_part(parts, unit, measure)
    return Reading(typed.strip(), unit, value)


def _unit_of(word: str, default_unit: str, measure: Measure) -> str:
    """Return the unit a word means, in the measure's own spelling if it has one."""
    if not word:
        return default_unit
    offered = (measure.unit, *measure.units_offered)
    if word in offered:
        return word
    plain = plain_word(word)
    if plain in PER_MINUTE and measure.counts:
        return measure.unit
    every = (*measure.units, *KNOWN_UNITS.values())
    unit = next((u.unit_id for u in every if plain in u.every_word()), None)
    if unit is None:
        raise ReadingError(tr("what follows the number is no unit known here"))
    return next((own for own in offered if is_same_unit(own, unit)), unit)


def _smaller_part(
    parts: tuple[tuple[Decimal, str], ...], unit: str, measure: Measure
) -> Decimal:
    """Return the second number of ``22 lb 9 oz`` in the unit of the first."""
    (whole, _), (number, word) = parts[:2]
    smaller = _unit_of(word, "", measure)
    every = (*measure.units, *KNOWN_UNITS.values())
    fits = any(
        is_same_unit(known.unit_id, unit) and is_same_unit(known.smaller, smaller)
        for known in every
        if known.smaller
    )
    if len(parts) > 2 or not fits:
        raise ReadingError(tr("two numbers need units such as 22 lb 9 oz"))
    ratio = convert(Decimal(1), unit, smaller)
    if whole != int(whole) or number >= ratio:
        raise ReadingError(
            tr(
                "write whole {unit} and fewer than {ratio} {smaller}",
                unit=unit,
                ratio=ratio,
                smaller=smaller,
            )
        )
    return number / Decimal(int(ratio))


def in_unit(reading: Reading, unit: str, precision: Decimal) -> Decimal:
    """Return a reading in a unit, rounded once to the item's step.

    Args:
        unit: The unit wanted, of the same dimension.
        precision: The step to round to, in ``unit``; halves go away from zero.

    Returns:
        The value with the step's own number of decimals.

    Raises:
        UnitMismatchError: The reading measures something else.
    """
    return round_to_step(convert(reading.value, reading.unit, unit), precision)


def is_plausible(reading: Reading, measure: Measure, life_stage: str = "") -> bool:
    """Say whether a reading lies within the measure's typing guard, ends included.

    An implausible reading is asked about, never refused, and is no finding.

    Args:
        life_stage: The animal's stage of life; empty when its age is not known.

    Raises:
        UnitMismatchError: The reading measures something else.
    """
    value = convert(reading.value, reading.unit, measure.unit)
    low, high = measure.expected_at(life_stage)
    is_low = low is not None and value < Fraction(low)
    is_high = high is not None and value > Fraction(high)
    return not is_low and not is_high


def in_other_units(
    reading: Reading, measure: Measure, life_stage: str = ""
) -> tuple[Reading, ...]:
    """Return the same number in each other unit in which it would be expected.

    Nothing is guessed: these are choices to offer where the number as typed is far
    off. Two numbers, such as 22 lb 9 oz, say their units and are not read otherwise.

    Args:
        life_stage: The animal's stage of life; empty when its age is not known.

    Returns:
        In the order the units are offered; each typed as the number alone.
    """
    parts = read_parts(reading.typed)
    if len(parts) > 1:
        return ()
    number = plain_number(parts[0][0])
    others = (
        Reading(number, unit, reading.value)
        for unit in dict.fromkeys((*measure.units_offered, measure.unit))
        if not is_same_unit(unit, reading.unit)
    )
    return tuple(other for other in others if is_plausible(other, measure, life_stage))


def show(reading: Reading, measure: Measure, *, is_estimate: bool = False) -> str:
    """Return the text as typed with its unit, and the compared value if it differs.

    Returns:
        ``10.2 kg``, or ``22 lb 9 oz (10.2 kg)`` when the unit is not the measure's;
        an estimate as ``about 10.2 kg``.

    Raises:
        UnitMismatchError: The reading measures something else.
    """
    value = in_unit(reading, measure.unit, measure.precision)
    text = reading.typed
    if text[-1:].isdigit():
        text = with_unit(text, measure.label_of(reading.unit))
    if not is_same_unit(reading.unit, measure.unit):
        label = measure.label_of(measure.unit)
        text = f"{text} ({with_unit(plain_number(value), label)})"
    return tr("about {value}", value=text) if is_estimate else text


_LONGEST_TEXT = 40
_MOST_DIGITS = 12
_MINUS_SIGNS = "-\u2010\u2011\u2012\u2013\u2212"
_MARK_AFTER_WORD = re.compile(r"(?<=[^\W\d_])[.,](?=\s|$)")
_PART = re.compile(r"([0-9.,](?:[0-9.,\s]*[0-9.,])?)\s*([^0-9.,]*)")
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:\s[0-9]{3})+(?:[.,][0-9]+)?")
_COMMA_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")


def read_parts(typed: str) -> tuple[tuple[Decimal, str], ...]:
    """Return the numbers in a text, each with the word that follows it.

    Args:
        typed: The text of one field; the spaces around it do not matter.

    Returns:
        One pair per number, in the order typed; at least one. The word is empty
        when none follows, and otherwise as typed without the spaces around it.

    Raises:
        ReadingError: The text is empty, too long, negative, holds no number, or
            can be read in more than one way.
    """
    text = typed.strip()
    _refuse(
        (not text, to_translate("nothing was typed")),
        (
            len(text) > _LONGEST_TEXT,
            to_translate("the text is too long for one reading"),
        ),
        (
            any(unicodedata.category(mark) == "Cc" for mark in text),
            to_translate("it holds a character that cannot be shown"),
        ),
        (
            any(mark.isnumeric() and not mark.isascii() for mark in text),
            to_translate("use the digits 0 to 9"),
        ),
        (text[:1] in _MINUS_SIGNS, to_translate("it is below zero")),
        (
            not any(mark.isdigit() for mark in text),
            to_translate("there is no number in it"),
        ),
    )
    text = _MARK_AFTER_WORD.sub(" ", text).strip()
    parts, end = [], 0
    while end < len(text):
        match = _PART.match(text, end)
        if match is None:
            raise ReadingError(tr("a number comes first, then its unit"))
        parts.append((_number(match[1]), match[2].strip()))
        end = match.end()
    return tuple(parts)


def _refuse(*checks: tuple[bool, str]) -> None:
    """Refuse a text by the first reason that is met."""
    for is_met, reason in checks:
        if is_met:
            raise ReadingError(tr(reason))


def _number(token: str) -> Decimal:
    """Return the number in a token of digits, spaces and decimal marks."""
    marks = [mark for mark in token if mark in ".,"]
    spaced = any(mark.isspace() for mark in token)
    _refuse(
        (
            len(set(marks)) > 1,
            to_translate(
                "a point and a comma together can be read two ways: "
                "write it without a mark for thousands"
            ),
        ),
        (len(marks) > 1, to_translate("there is more than one decimal mark")),
        (token[-1] in ".,", to_translate("the number is unfinished")),
        (
            spaced and not _GROUPED.fullmatch(token),
            to_translate("there are two numbers without a unit between them"),
        ),
        (
            _COMMA_THOUSANDS.fullmatch(token) is not None,
            to_translate(
                "a comma before three digits can be read two ways: "
                "write it with a point, or without a mark for thousands"
            ),
        ),
        (
            sum(mark.isdigit() for mark in token) > _MOST_DIGITS,
            to_translate("there are too many digits"),
        ),
    )
    digits = re.sub(r"\s", "", token).replace(",", ".")
    return Decimal("0" + digits if digits.startswith(".") else digits)

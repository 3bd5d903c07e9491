"""Sums beside an exam: which there are, what each asks, what comes of what is typed.

Nothing is filled in but the weight this exam already has, and nothing is kept unless a
person says so.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from exam_app.app.forms.form import Ask, Kind
from exam_app.domain.animal.ages import words_since
from exam_app.domain.animal.due_dates import (
    DueWindow,
    age_in_days,
    due_windows,
    read_day,
)
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.measure.conversion import plain_number
from exam_app.domain.measure.dose_volume import SYRINGE_STEPS, Prescription, dose_volume
from exam_app.domain.measure.sums import (
    Sum,
    fluid_deficit,
    lump_volume,
    maintenance_fluid,
    resting_energy,
    shock_index,
    weight_change,
)
from exam_app.domain.measure.units import Measure, in_unit, parse_reading
from exam_app.protocols.published_tables import pregnancy_windows, table_sources

FOR_VETERINARIAN = "For the veterinarian, who decides."
_WEIGHT = Measure("weight", "Weight", "Weight", "kg", ("kg", "lb"), Decimal("0.01"))
_SIZE = Measure("size", "Size", "Size", "mm", ("mm", "cm", "inch"), Decimal("0.1"))
_NUMBER = Measure("number", "Number", "Number", "", ("",), Decimal("0.01"))


def _ask(name: str, label: str, hint: str = "", start: str = "") -> Ask:
    return Ask(name, label, hint=hint, kind=Kind.MEASURED, start=start)


@dataclass(frozen=True, slots=True)
class SumKind:
    """One sum that is offered.

    Attributes:
        work: Gives the result's lines, or raises an ``ExamError``.
    """

    key: str
    label: str
    asks: tuple[Ask, ...]
    work: Callable[[Mapping[str, str]], tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Worked:
    """What came of a sum: its lines, or the problem with what was typed."""

    lines: tuple[str, ...] = ()
    problem: str = ""


def kinds_for(exam: Exam, today: date) -> tuple[SumKind, ...]:
    """Return the sums that make sense for this animal, in the order offered."""
    species = exam.animal.species
    weight = _ask("weight", "Weight", "10.2 kg or 22 lb 9 oz", _weight_text(exam))
    kinds = [
        SumKind("dose", "Dose volume", _dose_fields(weight), _dose),
        SumKind("change", "Change of weight", _change_fields(weight), _change),
        SumKind("age", "Age", (_day("birth", "Born on"),), _age(today)),
        SumKind("lump", "Lump volume", _lump_fields(), _lump),
    ]
    if pregnancy_windows(species):
        served = (_day("service", "Served on"),)
        kinds.append(SumKind("due", "Due date", served, _due(species, today)))
    if species in {"dog", "cat"}:
        kinds += [
            SumKind("energy", "Resting energy", (weight,), _energy),
            SumKind("deficit", "Fluid deficit", _deficit_fields(weight), _deficit),
            SumKind("fluid", "Maintenance fluid", (weight,), _fluid(species)),
            SumKind("index", "Shock index", _index_fields(exam), _index(species)),
        ]
    return tuple(kinds)


def work_out(kind: SumKind, typed: Mapping[str, str]) -> Worked:
    """Do a sum, or say plainly what is missing or cannot be read."""
    for ask in kind.asks:
        if not typed.get(ask.name, "").strip() and not ask.hint.startswith("May"):
            return Worked(problem=f"{ask.label}: not typed yet.")
    try:
        return Worked(kind.work(typed))
    except ExamError as refusal:
        reason = getattr(refusal, "reason", "")
        return Worked(problem=f"{reason}. {refusal.advice}".lstrip(". "))


def _weight_text(exam: Exam) -> str:
    reading = exam.vital("weight").reading
    if reading is None:
        return ""
    has_unit = not reading.typed[-1:].isdigit()
    return reading.typed if has_unit else f"{reading.typed} {reading.unit}"


def _kg(typed: str) -> Decimal:
    return in_unit(parse_reading(typed, "kg", _WEIGHT), "kg", _WEIGHT.precision)


def _number(typed: str) -> Decimal:
    return parse_reading(typed, "", _NUMBER).value


def _lines(found: Sum) -> tuple[str, ...]:
    source = table_sources().get(found.source_id)
    named = f"Source: {source.title}." if source else ""
    note = found.note
    tail = FOR_VETERINARIAN if found.is_for_veterinarian else ""
    return tuple(
        line
        for line in (
            f"{found.label}: {found.shown}",
            f"{found.written} = {found.shown}",
            " ".join(part for part in (note, tail, named) if part),
        )
        if line
    )


def _dose_fields(weight: Ask) -> tuple[Ask, ...]:
    return (
        _ask("prescriber", "Prescribed by", "Who ordered it."),
        _ask("dose", "Prescribed dose", "0.2 mg/kg"),
        _ask("concentration", "Concentration on the label", "5 mg/mL"),
        weight,
        _ask(
            "step",
            "Marks of the syringe, mL",
            f"One of {', '.join(SYRINGE_STEPS)}.",
            "0.1",
        ),
    )


def _dose(typed: Mapping[str, str]) -> tuple[str, ...]:
    ordered = Prescription(typed["prescriber"], typed["dose"], typed["concentration"])
    reading = parse_reading(typed["weight"], "kg", _WEIGHT)
    found = dose_volume(ordered, reading, _number(typed["step"]))
    return (
        f"Draw up {found.drawn_ml} mL ({found.off_percent} % from the exact volume)",
        f"{found.written} = {found.exact_ml} mL",
        f"Arithmetic only, prescribed by {typed['prescriber'].strip()}. "
        "Check product, dose and route with the order.",
    )


def _change_fields(weight: Ask) -> tuple[Ask, ...]:
    return (_ask("before", "Weight before", "With its unit."), weight)


def _change(typed: Mapping[str, str]) -> tuple[str, ...]:
    return _lines(weight_change(_kg(typed["before"]), _kg(typed["weight"])))


def _day(name: str, label: str) -> Ask:
    return _ask(name, label, "Year-month-day: 2026-03-14")


def _age(today: date) -> Callable[[Mapping[str, str]], tuple[str, ...]]:
    def work(typed: Mapping[str, str]) -> tuple[str, ...]:
        born = read_day(typed["birth"])
        days = age_in_days(born, today)
        return (f"Age today: {words_since(born, today)} ({days} days)",)

    return work


def _due(species: str, today: date) -> Callable[[Mapping[str, str]], tuple[str, ...]]:
    def work(typed: Mapping[str, str]) -> tuple[str, ...]:
        windows = pregnancy_windows(species)
        found = due_windows(windows, read_day(typed["service"]), today)
        return tuple(_due_line(due) for due in found)

    return work


def _due_line(due: DueWindow) -> str:
    window, source = due.window, table_sources()[due.window.source_id]
    recalled = "; recalled, not checked" * (source.provenance == "memory")
    note = f"; {window.note}" if window.note else ""
    named = f"({source.title}{recalled}{note})"
    if due.about is not None:
        days = f"about {plain_number(window.mean_days or Decimal(0))} days"
        return f"About {due.about}: {days}, one number without a window {named}"
    days = f"{window.low_days} to {window.high_days} days"
    return f"{due.earliest} to {due.latest}: {days} {named}"


def _lump_fields() -> tuple[Ask, ...]:
    return (
        _ask("length", "Longest size", "In mm, cm or in."),
        _ask("width", "Across it", "In mm, cm or in."),
        _ask("height", "Height", "May be left empty."),
    )


def _lump(typed: Mapping[str, str]) -> tuple[str, ...]:
    names = [name for name in ("length", "width", "height") if typed.get(name)]
    sizes = [
        in_unit(parse_reading(typed[name], "mm", _SIZE), "mm", _SIZE.precision)
        for name in names
    ]
    return _lines(lump_volume(tuple(sizes)))


def _energy(typed: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(
        line for found in resting_energy(_kg(typed["weight"])) for line in _lines(found)
    )


def _deficit_fields(weight: Ask) -> tuple[Ask, ...]:
    percent = _ask("percent", "Dehydration, %", "As the veterinarian stated it.")
    return (weight, percent)


def _deficit(typed: Mapping[str, str]) -> tuple[str, ...]:
    return _lines(fluid_deficit(_kg(typed["weight"]), _number(typed["percent"])))


def _fluid(species: str) -> Callable[[Mapping[str, str]], tuple[str, ...]]:
    def work(typed: Mapping[str, str]) -> tuple[str, ...]:
        return _lines(maintenance_fluid(species, _kg(typed["weight"])))

    return work


def _index_fields(exam: Exam) -> tuple[Ask, ...]:
    heart = exam.vital("heart_rate").reading
    return (
        _ask("heart", "Heart rate", "A minute.", str(heart.value) if heart else ""),
        _ask("systolic", "Systolic pressure, mmHg", "Measured, never assumed."),
    )


def _index(species: str) -> Callable[[Mapping[str, str]], tuple[str, ...]]:
    def work(typed: Mapping[str, str]) -> tuple[str, ...]:
        heart, systolic = _number(typed["heart"]), _number(typed["systolic"])
        return _lines(shock_index(species, heart, systolic))

    return work

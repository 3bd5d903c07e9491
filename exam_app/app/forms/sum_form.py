"""Sums beside an exam: which there are, what each asks, what comes of what is typed.

Nothing is filled in but the weight this exam already has, and nothing is kept unless a
person says so.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import partial

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
from exam_app.domain.measure.sums import (
    SYRINGE_STEPS,
    Prescription,
    Sum,
    dose_volume,
    fluid_deficit,
    lump_volume,
    maintenance_fluid,
    resting_energy,
    shock_index,
    weight_change,
)
from exam_app.domain.measure.units import Measure, in_unit, parse_reading
from exam_app.protocols.loader import pregnancy_windows, table_sources

FOR_VETERINARIAN = "For the veterinarian, who decides."
_WEIGHT = Measure("weight", "Weight", "Weight", "kg", ("kg", "lb"), Decimal("0.01"))
_SIZE = Measure("size", "Size", "Size", "mm", ("mm", "cm", "inch"), Decimal("0.1"))
_NUMBER = Measure("number", "Number", "Number", "", ("",), Decimal("0.01"))


_DAY = "Year-month-day: 2026-03-14"
# Label and hint by field; what may be left empty says so first.
_FIELDS = {
    "prescriber": ("Prescribed by", "Who ordered it."),
    "dose": ("Prescribed dose", "0.2 mg/kg"),
    "concentration": ("Concentration on the label", "5 mg/mL"),
    "step": ("Marks of the syringe, mL", f"One of {', '.join(SYRINGE_STEPS)}."),
    "before": ("Weight before", "With its unit."),
    "weight": ("Weight", "10.2 kg or 22 lb 9 oz"),
    "birth": ("Born on", _DAY),
    "service": ("Served on", _DAY),
    "length": ("Longest size", "In mm, cm or in."),
    "width": ("Across it", "In mm, cm or in."),
    "height": ("Height", "May be left empty."),
    "percent": ("Dehydration, %", "As the veterinarian stated it."),
    "heart": ("Heart rate", "A minute."),
    "systolic": ("Systolic pressure, mmHg", "Measured, never assumed."),
}
Texts = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class SumKind:
    """One sum that is offered.

    Attributes:
        work: Gives the result's lines, or raises an ``ExamError``.
    """

    key: str
    label: str
    asks: tuple[Ask, ...]
    work: Callable[[Texts], tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Worked:
    """What came of a sum: its lines, or the problem with what was typed."""

    lines: tuple[str, ...] = ()
    problem: str = ""


def kinds_for(exam: Exam, today: date) -> tuple[SumKind, ...]:
    """Return the sums that make sense for this animal, in the order offered."""
    species = exam.animal.species
    heart = exam.vital("heart_rate").reading
    begun = {
        "step": "0.1",
        "weight": _weight_text(exam),
        "heart": str(heart.value) if heart else "",
    }

    def kind(
        key: str, label: str, names: str, work: Callable[[Texts], tuple[str, ...]]
    ) -> SumKind:
        asks = (
            Ask(n, name, hint=hint, kind=Kind.MEASURED, start=begun.get(n, ""))
            for n, (name, hint) in ((n, _FIELDS[n]) for n in names.split())
        )
        return SumKind(key, label, tuple(asks), work)

    kinds = [
        kind("dose", "Dose volume", "prescriber dose concentration weight step", _dose),
        kind("change", "Change of weight", "before weight", _change),
        kind("age", "Age", "birth", partial(_age, today)),
        kind("lump", "Lump volume", "length width height", _lump),
    ]
    if pregnancy_windows(species):
        kinds.append(kind("due", "Due date", "service", partial(_due, species, today)))
    if species in {"dog", "cat"}:
        fluid, index = partial(_fluid, species), partial(_index, species)
        kinds += [
            kind("energy", "Resting energy", "weight", _energy),
            kind("deficit", "Fluid deficit", "weight percent", _deficit),
            kind("fluid", "Maintenance fluid", "weight", fluid),
            kind("index", "Shock index", "heart systolic", index),
        ]
    return tuple(kinds)


def work_out(kind: SumKind, typed: Texts) -> Worked:
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


def _lines(*sums: Sum) -> tuple[str, ...]:
    lines = []
    for found in sums:
        source = table_sources().get(found.source_id)
        named = f"Source: {source.title}." if source else ""
        tail = FOR_VETERINARIAN if found.is_for_veterinarian else ""
        lines += [
            f"{found.label}: {found.shown}",
            f"{found.written} = {found.shown}",
            " ".join(part for part in (found.note, tail, named) if part),
        ]
    return tuple(filter(None, lines))


def _dose(typed: Texts) -> tuple[str, ...]:
    ordered = Prescription(typed["prescriber"], typed["dose"], typed["concentration"])
    reading = parse_reading(typed["weight"], "kg", _WEIGHT)
    found = dose_volume(ordered, reading, _number(typed["step"]))
    return (
        f"Draw up {found.drawn_ml} mL ({found.off_percent} % from the exact volume)",
        f"{found.written} = {found.exact_ml} mL",
        f"Arithmetic only, prescribed by {typed['prescriber'].strip()}. "
        "Check product, dose and route with the order.",
    )


def _change(typed: Texts) -> tuple[str, ...]:
    return _lines(weight_change(_kg(typed["before"]), _kg(typed["weight"])))


def _age(today: date, typed: Texts) -> tuple[str, ...]:
    born = read_day(typed["birth"])
    days = age_in_days(born, today)
    return (f"Age today: {words_since(born, today)} ({days} days)",)


def _due(species: str, today: date, typed: Texts) -> tuple[str, ...]:
    served, windows = read_day(typed["service"]), pregnancy_windows(species)
    return tuple(map(_due_line, due_windows(windows, served, today)))


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


def _lump(typed: Texts) -> tuple[str, ...]:
    told = (typed.get(name) for name in ("length", "width", "height"))
    sizes = (parse_reading(text, "mm", _SIZE) for text in told if text)
    return _lines(lump_volume(tuple(in_unit(s, "mm", _SIZE.precision) for s in sizes)))


def _energy(typed: Texts) -> tuple[str, ...]:
    return _lines(*resting_energy(_kg(typed["weight"])))


def _deficit(typed: Texts) -> tuple[str, ...]:
    return _lines(fluid_deficit(_kg(typed["weight"]), _number(typed["percent"])))


def _fluid(species: str, typed: Texts) -> tuple[str, ...]:
    return _lines(maintenance_fluid(species, _kg(typed["weight"])))


def _index(species: str, typed: Texts) -> tuple[str, ...]:
    heart, systolic = _number(typed["heart"]), _number(typed["systolic"])
    return _lines(shock_index(species, heart, systolic))

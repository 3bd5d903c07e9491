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
from exam_app.language.catalogue import in_english, to_translate, tr
from exam_app.protocols.loader import pregnancy_windows, table_sources

FOR_VETERINARIAN = to_translate("For the veterinarian, who decides.")
_WEIGHT = Measure("weight", "Weight", "Weight", "kg", ("kg", "lb"), Decimal("0.01"))
_SIZE = Measure("size", "Size", "Size", "mm", ("mm", "cm", "inch"), Decimal("0.1"))
_NUMBER = Measure("number", "Number", "Number", "", ("",), Decimal("0.01"))


_DAY = to_translate("Year-month-day: 2026-03-14")
# Label and hint by field.
_FIELDS = {
    "prescriber": (to_translate("Prescribed by"), to_translate("Who ordered it.")),
    "dose": (to_translate("Prescribed dose"), "0.2 mg/kg"),
    "concentration": (to_translate("Concentration on the label"), "5 mg/mL"),
    "step": (
        to_translate("Marks of the syringe, mL"),
        to_translate("One of {steps}."),
    ),
    "before": (to_translate("Weight before"), to_translate("With its unit.")),
    "weight": (to_translate("Weight"), to_translate("10.2 kg or 22 lb 9 oz")),
    "birth": (to_translate("Born on"), _DAY),
    "service": (to_translate("Served on"), _DAY),
    "length": (to_translate("Longest size"), to_translate("In mm, cm or in.")),
    "width": (to_translate("Across it"), to_translate("In mm, cm or in.")),
    "height": (to_translate("Height"), to_translate("May be left empty.")),
    "percent": (
        to_translate("Dehydration, %"),
        to_translate("As the veterinarian stated it."),
    ),
    "heart": (to_translate("Heart rate"), to_translate("A minute.")),
    "systolic": (
        to_translate("Systolic pressure, mmHg"),
        to_translate("Measured, never assumed."),
    ),
}
_MAY_BE_EMPTY = frozenset({"height"})
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
    """What came of a sum: its lines, or the problem with what was typed.

    Attributes:
        kept: What an exam keeps of the lines, in English.
    """

    lines: tuple[str, ...] = ()
    problem: str = ""
    kept: str = ""


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
            Ask(
                n,
                name,
                hint=tr(hint, steps=", ".join(SYRINGE_STEPS)),
                kind=Kind.MEASURED,
                start=begun.get(n, ""),
            )
            for n, (name, hint) in ((n, _FIELDS[n]) for n in names.split())
        )
        return SumKind(key, label, tuple(asks), work)

    kinds = [
        kind(
            "dose",
            tr("Dose volume"),
            "prescriber dose concentration weight step",
            _dose,
        ),
        kind("change", tr("Change of weight"), "before weight", _change),
        kind("age", tr("Age"), "birth", partial(_age, today)),
        kind("lump", tr("Lump volume"), "length width height", _lump),
    ]
    if pregnancy_windows(species):
        kinds.append(
            kind("due", tr("Due date"), "service", partial(_due, species, today))
        )
    if species in {"dog", "cat"}:
        fluid, index = partial(_fluid, species), partial(_index, species)
        kinds += [
            kind("energy", tr("Resting energy"), "weight", _energy),
            kind("deficit", tr("Fluid deficit"), "weight percent", _deficit),
            kind("fluid", tr("Maintenance fluid"), "weight", fluid),
            kind("index", tr("Shock index"), "heart systolic", index),
        ]
    return tuple(kinds)


def work_out(kind: SumKind, typed: Texts) -> Worked:
    """Do a sum, or say plainly what is missing or cannot be read."""
    for ask in kind.asks:
        if not typed.get(ask.name, "").strip() and ask.name not in _MAY_BE_EMPTY:
            return Worked(problem=tr("{label}: not typed yet.", label=tr(ask.label)))
    try:
        lines = kind.work(typed)
    except ExamError as refusal:
        reason = tr(getattr(refusal, "reason", ""))
        return Worked(problem=f"{reason}. {tr(refusal.advice)}".lstrip(". "))
    with in_english():
        return Worked(lines, kept="; ".join(kind.work(typed)[:2]))


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
        named = tr("Source: {title}.", title=source.title) if source else ""
        tail = tr(FOR_VETERINARIAN) if found.is_for_veterinarian else ""
        lines += [
            f"{tr(found.label)}: {found.shown}",
            f"{found.written} = {found.shown}",
            " ".join(part for part in (tr(found.note), tail, named) if part),
        ]
    return tuple(filter(None, lines))


def _dose(typed: Texts) -> tuple[str, ...]:
    ordered = Prescription(typed["prescriber"], typed["dose"], typed["concentration"])
    reading = parse_reading(typed["weight"], "kg", _WEIGHT)
    found = dose_volume(ordered, reading, _number(typed["step"]))
    return (
        tr(
            "Draw up {drawn} mL ({off} % from the exact volume)",
            drawn=found.drawn_ml,
            off=found.off_percent,
        ),
        f"{found.written} = {found.exact_ml} mL",
        tr(
            "Arithmetic only, prescribed by {prescriber}. "
            "Check product, dose and route with the order.",
            prescriber=typed["prescriber"].strip(),
        ),
    )


def _change(typed: Texts) -> tuple[str, ...]:
    return _lines(weight_change(_kg(typed["before"]), _kg(typed["weight"])))


def _age(today: date, typed: Texts) -> tuple[str, ...]:
    born = read_day(typed["birth"])
    days = age_in_days(born, today)
    return (
        tr(
            "Age today: {age} ({days} days)",
            age=words_since(born, today),
            days=days,
        ),
    )


def _due(species: str, today: date, typed: Texts) -> tuple[str, ...]:
    served, windows = read_day(typed["service"]), pregnancy_windows(species)
    return tuple(map(_due_line, due_windows(windows, served, today)))


def _due_line(due: DueWindow) -> str:
    window, source = due.window, table_sources()[due.window.source_id]
    recalled = tr("recalled, not checked") if source.provenance == "memory" else ""
    parts = (source.title, recalled, tr(window.note))
    named = "; ".join(part for part in parts if part)
    if due.about is not None:
        return tr(
            "About {day}: about {days} days, one number without a window ({source})",
            day=due.about,
            days=plain_number(window.mean_days or Decimal(0)),
            source=named,
        )
    return tr(
        "{earliest} to {latest}: {low} to {high} days ({source})",
        earliest=due.earliest,
        latest=due.latest,
        low=window.low_days,
        high=window.high_days,
        source=named,
    )


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

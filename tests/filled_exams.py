"""Exams with every field filled, from the types of the fields themselves.

A field that is added later is filled without a word here. Every text is a word of its
own, so that it is found again in what was written.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, Field, fields, is_dataclass, replace
from datetime import date
from decimal import Decimal
from enum import Enum
from functools import partial
from itertools import count
from typing import Any, get_args, get_origin
from zlib import crc32

from exam_app.domain.animal.ages import days_of_age
from exam_app.domain.animal.body_marks import (
    BodyMark,
    CloserPlace,
    CloserView,
    MarkView,
    OwnSide,
)
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import EarlierFinding, Finding
from exam_app.domain.exam.people import Person
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.visit import Photo
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.lumps.lumps import LumpSize
from exam_app.domain.measure.counting import CountAlong, TapTimes
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.scales import Graded
from exam_app.record.plain_form import field_types, without_none
from exam_app.record.schema import FORMS, Form

Path = tuple[str, ...]
Put = Callable[[Any], Any]
SYLLABLES = ("ba", "ke", "di", "fo", "gu", "lam", "nep", "pir", "ros", "tuk")
# What must fit its protocol or itself to be an exam at all; the rest is drawn.
REGION_KEYS = ("nose", "eyes.left", "eyes.right", "heart", "tail")
VITAL_IDS = ("weight", "temperature", "heart_rate", "gums")
UNITS = {"weight": "lb", "temperature": "degF", "heart_rate": "beat/min"}
AGE_ON = date(2026, 12, 30)
OTHERS = {
    "years": "months",
    "lb": "kg",
    "degF": "degC",
    "mm": "cm",
    "2.5": "3.5",
    AGE_ON.isoformat(): "2026-03-04",
    "2019-05-06": "2018-05-06",
}


def word(number: int) -> str:
    """Return a word of its own for a number, of letters only."""
    return "q" + "".join(SYLLABLES[int(digit)] for digit in f"{number:04}")


def _closer(number: int) -> CloserPlace:
    """Return a place on a closer drawing of a limb."""
    limbs = [view for view in CloserView if view.aspect]
    view, limb = limbs[number % len(limbs)], [*OwnSide][number % 2]
    return CloserPlace(view, number % 400, number % 350, limb)


class Filler:
    """Fills dataclasses; ``turn`` chooses which word of a list each one gets."""

    def __init__(self, turn: int) -> None:
        self.turn = turn
        self._numbers = count(1 + turn)

    def exam(self) -> Exam:
        """Return an exam with every field filled."""
        people = tuple(replace(self.filled(Person), person_id=c * 32) for c in "012")
        return replace(
            self.filled(Exam),
            people=people,
            regions=dict(zip(REGION_KEYS, self._regions(), strict=True)),
            vitals={name: self._vital(name) for name in VITAL_IDS},
            focus=("nose", "eyes", "heart"),
            open_keys=REGION_KEYS,
        )

    def filled(self, kind: Any, unit: str = "mm") -> Any:
        """Return a dataclass with every field filled."""
        values = {}
        for field in fields(kind):
            number = next(self._numbers)
            if self._is_left_out(field, number):
                continue
            fixed = self._fixed(kind, field.name, number, unit)
            hint = field_types(kind)[field.name]
            values[field.name] = self._value(hint, unit) if fixed is None else fixed
        return kind(**values)

    def _is_left_out(self, field: Field[Any], number: int) -> bool:
        """Every second exam leaves out some of what it may: it hides something else."""
        has_default = field.default is not MISSING
        drawn = crc32(f"{self.turn} {number}".encode()) % (2 + self.turn % 3)
        return has_default and self.turn % 2 == 1 and drawn == 0

    def _fixed(self, kind: type, name: str, number: int, unit: str) -> Any:
        form = FORMS.get((kind, name))
        if (kind, name) == (BodyMark, "x"):
            # On the midline of a view from above, so that any closer drawing fits.
            return 480 + number % 40
        if form in (Form.PERSON, Form.ID):
            return "012"[number % 3] * 32
        if form is Form.HASH:
            return "012"[number % 3] * 64
        if form is Form.THOUSANDTHS:
            return number % 400
        return {
            (BodyMark, "view"): MarkView.TOP,
            (BodyMark, "closer"): _closer(number),
            (Animal, "age_on"): AGE_ON.isoformat(),
            (Animal, "birth_date"): "2019-05-06",
            (Animal, "age_days"): days_of_age(Decimal("2.5"), "years", AGE_ON),
            (Animal, "age_number"): "2.5",
            (Animal, "age_unit"): "years",
            (Photo, "key"): "nose",
            (EarlierFinding, "key"): "nose",
            (EarlierFinding, "term_id"): "nose_lump",
            (Finding, "term_id"): "nose_lump",
            (Graded, "scale_id"): "size",
            (Graded, "value"): "1",
            (Reading, "unit"): unit,
            (Reading, "typed"): str(100 + number % 100),
            (Reading, "value"): Decimal(100 + number % 100),
            (LumpSize, "dimensions"): (Reading("21", "mm", Decimal(21)),),
            (CountAlong, "seconds"): 30,
            (TapTimes, "offsets_ms"): (0, 600, 1_200, 1_801, 2_400, 3_000),
        }.get((kind, name))

    def _regions(self) -> Iterator[RegionEntry]:
        whole: RegionEntry = self.filled(RegionEntry)
        yield whole
        yield replace(self.filled(RegionEntry), findings=())
        yield replace(self.filled(RegionEntry), findings=(), struck=(), reason="")
        yield replace(self.filled(RegionEntry), findings=(), asserted=(), struck=())
        yield replace(self.filled(RegionEntry), struck=(), asserted=(), instead=())

    def _vital(self, vital_id: str) -> VitalEntry:
        entry = self.filled(VitalEntry, UNITS.get(vital_id, ""))
        if vital_id == "gums":
            return replace(entry, reading=None, evidence=None, grade=None, earlier=())
        return entry if self.turn % 2 else replace(entry, flag=None)

    def _value(self, hint: Any, unit: str) -> Any:
        kind, arguments = without_none(hint), get_args(hint)
        origin = get_origin(kind)
        if kind in _PLAIN:
            return _PLAIN[kind](next(self._numbers))
        if is_dataclass(kind):
            unit = unit or "mm"
            return self.filled(kind, unit)
        if origin is tuple:
            return (self._value(get_args(kind)[0], unit),)
        if origin is not None and issubclass(origin, Mapping):
            return {word(next(self._numbers)): self._value(get_args(kind)[1], unit)}
        if isinstance(kind, type) and issubclass(kind, Enum):
            members = list(kind)
            return members[(self.turn + next(self._numbers)) % len(members)]
        return self._value(arguments[self.turn % 2], unit)


_PLAIN: dict[Any, Callable[[int], Any]] = {
    str: word,
    int: lambda number: number,
    bool: lambda number: bool(number % 2),
    Decimal: Decimal,
    Moment: lambda number: Moment(1_790_000_000_000 + number * 97_000_000, 60),
}


def other(value: Any, number: int) -> Any:
    """Return another value of the same kind, a recognisable one."""
    if isinstance(value, Enum):
        members = list(type(value))
        step = 1 + number % (len(members) - 1)
        return members[(members.index(value) + step) % len(members)]
    if isinstance(value, str):
        return _other_text(value, number)
    if isinstance(value, bool):
        return not value
    if isinstance(value, Moment):
        return Moment(value.utc_ms + 91_000_000, value.offset_min)
    return value * 2


def _other_text(value: str, number: int) -> str:
    if value in OTHERS:
        return OTHERS[value]
    if len(value) in (32, 64):
        return {"0": "1", "1": "2", "2": "0"}[value[-1]] * len(value)
    return str(int(value) + 3) if value.isdigit() else word(9_000 + number % 999)


def leaves(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any, Put]]:
    """Yield every value of an exam: its path, itself, and how to put another there.

    A path names fields and no places in a list: ``("given", "attribution", "at")``.
    """
    parts = list(_parts(value))
    if not parts and value not in (None, (), {}):
        yield path, value, lambda new: new
    for name, part, put in parts:
        for below, leaf, put_below in leaves(part, (*path, *name)):
            yield below, leaf, _through(put, put_below)


def _through(put: Put, put_below: Put) -> Put:
    return lambda new: put(put_below(new))


def _parts(value: Any) -> Iterator[tuple[Path, Any, Put]]:
    """Yield what a value is made of, each with how to put another in its place."""
    if is_dataclass(value) and not isinstance(value, Moment):
        for field in fields(value):
            put = partial(_with_field, value, field.name)
            yield (field.name,), getattr(value, field.name), put
    elif isinstance(value, tuple):
        for place, part in enumerate(value):
            yield (), part, partial(_with_item, value, place)
    elif isinstance(value, Mapping):
        for key, part in value.items():
            yield (), part, partial(_with_value, value, key)


def _with_field(whole: Any, name: str, new: Any) -> Any:
    return replace(whole, **{name: new})


def _with_item(whole: Any, place: int, new: Any) -> Any:
    return (*whole[:place], new, *whole[place + 1 :])


def _with_value(whole: Any, key: str, new: Any) -> Any:
    return {**whole, key: new}

"""The units that come with the program, in one table; a practice's file brings more.

A unit's id is an expression that pint knows and what a record stores. Beats, breaths
and contractions are dimensions of our own, which UCUM counts as plain numbers. Codes
are those of UCUM's specification, from memory, and an independent grammar parses them
in the tests.
"""

import unicodedata
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: how it is typed, printed and coded.

    Attributes:
        unit_id: The expression pint reads, such as ``kPa`` or ``beat/min``; what it
            converts to follows from its dimension.
        ucum: Its code in UCUM.
        label: As printed; empty where that is the id.
        words: Spellings that are typed, small and without spaces; the id and the
            label are understood without being named.
        counts: What a rate in this unit counts (``heart``), or empty.
        smaller: The unit of a second number, as the ounces of ``22 lb 9 oz``.
    """

    unit_id: str
    ucum: str
    label: str = ""
    words: tuple[str, ...] = ()
    counts: str = ""
    smaller: str = ""

    @property
    def printed(self) -> str:
        """The unit as printed."""
        return self.label or self.unit_id

    def every_word(self) -> frozenset[str]:
        """Return every spelling that means this unit, as ``plain_word`` writes it."""
        # What "/min" counts, the measure says.
        label = "" if self.counts else self.label
        spelled = (self.unit_id, label, *self.words)
        return frozenset(plain_word(word) for word in spelled if word)


def plain_word(typed: str) -> str:
    """Return a typed unit without case and spaces, its look-alikes made one."""
    marked = typed.replace("\u00ba", "°")
    return "".join(unicodedata.normalize("NFKC", marked).casefold().split())


_UNITS = (
    Unit(
        "kg", "kg", words=("kgs", "kilo", "kilos", "kilogram", "kilograms"), smaller="g"
    ),
    Unit("g", "g", words=("gram", "grams")),
    Unit("lb", "[lb_av]", words=("lbs", "pound", "pounds"), smaller="oz"),
    Unit("oz", "[oz_av]", words=("ounce", "ounces")),
    Unit("degC", "Cel", "°C", ("c", "celsius", "degreescelsius")),
    Unit("degF", "[degF]", "°F", ("f", "fahrenheit", "degreesfahrenheit")),
    Unit("mm", "mm", words=("millimetre", "millimetres", "millimeter", "millimeters")),
    Unit("cm", "cm", words=("centimetre", "centimetres", "centimeter", "centimeters")),
    Unit("inch", "[in_i]", "in", ("inches", '"', "\u2033")),
    Unit("s", "s", words=("sec", "secs", "second", "seconds")),
    Unit(
        "beat/min",
        "/min",
        "/min",
        ("bpm", "beats", "beats/min", "beatsperminute"),
        counts="heart",
    ),
    Unit(
        "breath/min",
        "/min",
        "/min",
        ("breaths", "breaths/min", "breathsperminute"),
        counts="breath",
    ),
    Unit(
        "contraction/min",
        "/min",
        "/min",
        ("contractions/min",),
        counts="contraction",
    ),
    Unit("mmHg", "mm[Hg]"),
    Unit("percent", "%", "%"),
    Unit("mmol/L", "mmol/L", words=("mmol",)),
    Unit("mg/dL", "mg/dL"),
)
KNOWN_UNITS = MappingProxyType({unit.unit_id: unit for unit in _UNITS})
PER_MINUTE = ("/min", "/minute", "permin", "perminute", "aminute")


def unit_label(unit: str) -> str:
    """Return a unit as it is printed: ``°C``, ``/min``, ``kg``."""
    return KNOWN_UNITS[unit].printed if unit in KNOWN_UNITS else unit

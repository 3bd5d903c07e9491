"""Check the units of a file that is new here: each is known, coded, and no other's.

A protocol that a record already names is not held to this: it stays readable.
"""

import re
from collections.abc import Iterator

from exam_app.domain.measure.conversion import is_same_dimension, is_same_unit
from exam_app.domain.measure.known_units import KNOWN_UNITS, PER_MINUTE, Unit
from exam_app.domain.protocol.protocol import SpeciesProtocol

Keyed = tuple[str, str]
# UCUM writes in ASCII without spaces; whether a code is theirs cannot be told here.
_UCUM = re.compile(r"[!-~]+")


def unit_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield every fault of the units that a file names or brings, as key and reason."""
    for vital in protocol.vitals:
        measure = vital.measure
        if measure is None:
            continue
        key = f"vitals({vital.vital_id}).measure"
        for unit in dict.fromkeys((measure.unit, *measure.units_offered)):
            if measure.unit_named(unit) is None and is_same_dimension(unit, unit):
                yield key, f"unit {unit!r} has no code: add [[units]] with id and ucum"
        others = list(KNOWN_UNITS.values())
        for own in measure.units:
            for why in (*_own_faults(own), *_clashes(own, others)):
                yield f"units({own.unit_id})", why
            others.append(own)


def _own_faults(unit: Unit) -> Iterator[str]:
    if not _UCUM.fullmatch(unit.ucum):
        yield "ucum: its code in UCUM is ASCII without spaces"
    if unit.counts or unit.smaller:
        yield "counts and smaller belong to units that come with the program"
    if unit.label != unit.label.strip():
        yield "label: begins or ends with a space"


def _clashes(unit: Unit, others: list[Unit]) -> Iterator[str]:
    words = unit.every_word()
    for other in others:
        if is_same_unit(unit.unit_id, other.unit_id):
            yield f"is {other.unit_id}, which there is already"
        elif words & other.every_word():
            shared = ", ".join(sorted(words & other.every_word()))
            yield f"{shared} means {other.unit_id} already"
    if words.intersection(PER_MINUTE):
        yield "per minute means what the vital counts"

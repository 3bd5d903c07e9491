"""A lump while it is being described: sizes typed, tool, direction, feel."""

import re
from collections.abc import Mapping
from enum import StrEnum

from exam_app.app.forms.form import Ask, choice, starts
from exam_app.domain.errors import LumpSizeError
from exam_app.domain.lumps.lumps import (
    LUMP_LENGTH,
    Consistency,
    Lump,
    LumpDepth,
    LumpPain,
    LumpSize,
    LumpTool,
    Mobility,
    Surface,
    require_lump_size,
)
from exam_app.domain.measure.units import Reading, parse_reading

UNITS = (("mm", "mm"), ("cm", "cm"), ("in", "in"))
_DIRECTIONS = tuple(
    (way, way.capitalize())
    for way in ("along the body", "across the body", "top to bottom")
)
_BETWEEN = re.compile(r"\s*(?:x|×|\*|/|;|\bby\b)\s*", re.IGNORECASE)
# What was felt, by field: the lump's own field and its words.
_FELT: dict[str, tuple[str, type[StrEnum]]] = {
    "feel": ("consistency", Consistency),
    "moves": ("mobility", Mobility),
    "surface": ("surface", Surface),
    "pain": ("pain", LumpPain),
}


def _words_of(kind: type[StrEnum]) -> tuple[tuple[str, str], ...]:
    return tuple(
        (item.value, item.value.replace("_", " ").capitalize()) for item in kind
    )


ASKS = (
    Ask(
        "typed",
        "Size, longest first",
        hint="For example 12 x 8; one to three sizes.",
        identifier="lump-size",
    ),
    choice("unit", "", UNITS, start="mm", columns=3),
    choice("tool", "", _words_of(LumpTool), is_clearable=True, columns=4),
    choice(
        "direction",
        "The longest lies",
        _DIRECTIONS,
        is_clearable=True,
    ),
    Ask(
        "second",
        "Second reading",
        hint="Take the calliper off and measure again; may be left empty.",
    ),
    choice("depth", "How deep", _words_of(LumpDepth), is_clearable=True),
    choice("feel", "Feel", _words_of(Consistency), is_clearable=True),
    choice("moves", "Under the fingers", _words_of(Mobility), is_clearable=True),
    choice("surface", "Surface", _words_of(Surface), is_clearable=True),
    choice("pain", "Pain on touch", _words_of(LumpPain), is_clearable=True),
)
_STARTS = starts(ASKS)


def texts_of(lump: Lump | None) -> dict[str, str]:
    """Return a lump as it stands in the fields; nothing where there is none."""
    if lump is None:
        return {}
    felt = {name: getattr(lump, of) for name, (of, _) in _FELT.items()}
    return {
        "typed": _typed(lump.size),
        "second": _typed(lump.second_size) if lump.second_size else "",
        "unit": lump.size.dimensions[0].unit,
        "tool": lump.size.tool.value,
        "direction": lump.size.direction,
        "depth": lump.depth.value,
        **{name: chosen.value for name, chosen in felt.items() if chosen},
    }


def _typed(size: LumpSize) -> str:
    return " x ".join(reading.typed for reading in size.dimensions)


def read_sizes(typed: str, unit: str) -> tuple[Reading, ...]:
    """Read one to three sizes; a unit at the end holds for all that have none.

    Raises:
        ReadingError, UnitMismatchError: A size cannot be read.
        LumpSizeError: There is none, or more than three.
    """
    parts = [part for part in _BETWEEN.split(typed.strip()) if part]
    if not parts:
        raise LumpSizeError("no size was typed")
    last = parse_reading(parts[-1], unit, LUMP_LENGTH)
    return tuple(parse_reading(part, last.unit, LUMP_LENGTH) for part in parts)


def lump_of(texts: Mapping[str, str], measured_by: str) -> Lump:
    """Return the lump that fields describe; one left out holds what it starts with.

    Args:
        texts: ``typed`` and ``second`` are one to three sizes each, as ``12 x 8``, of
            which each may carry its own unit.
        measured_by: Name of who measured.

    Raises:
        LumpSizeError: No size, more than three, one that is zero, or no tool.
        ReadingError, UnitMismatchError: A size cannot be read.
    """
    texts = {**_STARTS, **texts}
    if not texts["tool"]:
        raise LumpSizeError("choose what it was measured with; by eye is an answer")
    felt = {of: kind(texts[n]) for n, (of, kind) in _FELT.items() if texts[n]}
    return Lump(
        depth=LumpDepth(texts["depth"] or LumpDepth.NOT_SURE),
        size=_size(texts, "typed", measured_by),
        second_size=(
            _size(texts, "second", measured_by) if texts["second"].strip() else None
        ),
        **felt,  # type: ignore[arg-type]
    )


def _size(texts: Mapping[str, str], name: str, measured_by: str) -> LumpSize:
    size = LumpSize(
        dimensions=read_sizes(texts[name], texts["unit"]),
        tool=LumpTool(texts["tool"]),
        direction=texts["direction"].strip(),
        measured_by=measured_by,
    )
    require_lump_size(size)
    return size

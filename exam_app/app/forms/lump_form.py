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
from exam_app.language.catalogue import to_translate, tr

UNITS = (("mm", "mm"), ("cm", "cm"), ("in", "in"))
_DIRECTIONS = (
    ("along the body", to_translate("Along the body")),
    ("across the body", to_translate("Across the body")),
    ("top to bottom", to_translate("Top to bottom")),
)
_DEPTHS = (
    (LumpDepth.IN_SKIN.value, to_translate("In skin")),
    (LumpDepth.UNDER_SKIN.value, to_translate("Under skin")),
    (LumpDepth.DEEP.value, to_translate("Deep")),
    (LumpDepth.NOT_SURE.value, to_translate("Not sure")),
)
TOOLS = (
    (LumpTool.CALLIPER.value, to_translate("Calliper")),
    (LumpTool.RULER.value, to_translate("Ruler")),
    (LumpTool.TAPE.value, to_translate("Tape")),
    (LumpTool.BY_EYE.value, to_translate("By eye")),
)
_CONSISTENCIES = (
    (Consistency.SOFT.value, to_translate("Soft")),
    (Consistency.FIRM.value, to_translate("Firm")),
    (Consistency.HARD.value, to_translate("Hard")),
    (Consistency.FLUID.value, to_translate("Fluid")),
    (Consistency.MIXED.value, to_translate("Mixed")),
)
_MOBILITIES = (
    (Mobility.MOVES_FREELY.value, to_translate("Moves freely")),
    (Mobility.MOVES_WITH_SKIN.value, to_translate("Moves with skin")),
    (Mobility.FIXED.value, to_translate("Fixed")),
    (Mobility.NOT_SURE.value, to_translate("Not sure")),
)
_SURFACES = (
    (Surface.SMOOTH.value, to_translate("Smooth")),
    (Surface.UNEVEN.value, to_translate("Uneven")),
    (Surface.HAIRLESS.value, to_translate("Hairless")),
    (Surface.OPEN.value, to_translate("Open")),
)
_PAINS = (
    (LumpPain.NONE_SHOWN.value, to_translate("None shown")),
    (LumpPain.SHOWN.value, to_translate("Shown")),
    (LumpPain.NOT_TESTED.value, to_translate("Not tested")),
)
_BETWEEN = re.compile(r"\s*(?:x|×|\*|/|;|\bby\b)\s*", re.IGNORECASE)
# What was felt, by field: the lump's own field and its words.
_FELT: dict[str, tuple[str, type[StrEnum]]] = {
    "feel": ("consistency", Consistency),
    "moves": ("mobility", Mobility),
    "surface": ("surface", Surface),
    "pain": ("pain", LumpPain),
}


ASKS = (
    Ask(
        "typed",
        to_translate("Size, longest first"),
        hint=to_translate("For example 12 x 8; one to three sizes."),
        identifier="lump-size",
    ),
    choice("unit", "", UNITS, start="mm", columns=3),
    choice("tool", "", TOOLS, is_clearable=True, columns=4),
    choice(
        "direction",
        to_translate("The longest lies"),
        _DIRECTIONS,
        is_clearable=True,
    ),
    Ask(
        "second",
        to_translate("Second reading"),
        hint=to_translate(
            "Take the calliper off and measure again; may be left empty."
        ),
    ),
    choice("depth", to_translate("How deep"), _DEPTHS, is_clearable=True),
    choice("feel", to_translate("Feel"), _CONSISTENCIES, is_clearable=True),
    choice(
        "moves",
        to_translate("Under the fingers"),
        _MOBILITIES,
        is_clearable=True,
    ),
    choice("surface", to_translate("Surface"), _SURFACES, is_clearable=True),
    choice("pain", to_translate("Pain on touch"), _PAINS, is_clearable=True),
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
        raise LumpSizeError(tr("no size was typed"))
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
        raise LumpSizeError(tr("choose what it was measured with; by eye is an answer"))
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

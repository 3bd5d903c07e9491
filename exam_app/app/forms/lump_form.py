"""A lump while it is being described: sizes typed, tool, direction, feel."""

import re
from dataclasses import dataclass

from exam_app.app.forms.form import Ask, choice
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

DIRECTIONS = ("along the body", "across the body", "top to bottom")
UNITS = (("mm", "mm"), ("cm", "cm"), ("in", "in"))
_BETWEEN = re.compile(r"\s*(?:x|×|\*|/|;|\bby\b)\s*", re.IGNORECASE)


def words_of(kind: type, **plain: str) -> tuple[tuple[str, str], ...]:
    """Return an enum's values with labels; ``plain`` replaces single labels."""
    return tuple(
        (item.value, plain.get(item.value, item.value.replace("_", " ").capitalize()))
        for item in kind  # type: ignore[attr-defined]
    )


DEPTHS = words_of(LumpDepth)
TOOLS = words_of(LumpTool)
FEELS = words_of(Consistency)
MOVES = words_of(Mobility)
SURFACES = words_of(Surface)
PAINS = words_of(LumpPain)


ASKS = (
    Ask(
        "typed",
        "Size, longest first",
        hint="For example 12 x 8. One to three sizes; never multiplied.",
        identifier="lump-size",
    ),
    choice("unit", "", UNITS),
    choice("tool", "Measured with", TOOLS, is_clearable=True),
    choice(
        "direction",
        "The longest lies",
        tuple((way, way.capitalize()) for way in DIRECTIONS),
        is_clearable=True,
    ),
    Ask(
        "second",
        "Second reading",
        hint="Take the calliper off and measure again; may be left empty.",
    ),
    choice("depth", "How deep", DEPTHS, is_clearable=True),
    choice("feel", "Feel", FEELS, is_clearable=True),
    choice("moves", "Under the fingers", MOVES, is_clearable=True),
    choice("surface", "Surface", SURFACES, is_clearable=True),
    choice("pain", "Pain on touch", PAINS, is_clearable=True),
)


@dataclass(frozen=True, slots=True)
class LumpForm:
    """What the sheet holds; nothing is chosen beforehand but the unit.

    Attributes:
        typed: One to three sizes, as ``12 x 8``; each may carry its own unit.
        second: The same measured again; empty when it was not.
        direction: How the longest lay.
    """

    typed: str = ""
    second: str = ""
    unit: str = "mm"
    tool: str = ""
    direction: str = ""
    depth: str = ""
    feel: str = ""
    moves: str = ""
    surface: str = ""
    pain: str = ""


def form_of(lump: Lump | None) -> LumpForm:
    """Return the form that holds a lump again."""
    if lump is None:
        return LumpForm()
    return LumpForm(
        typed=_typed(lump.size),
        second=_typed(lump.second_size) if lump.second_size else "",
        unit=lump.size.dimensions[0].unit,
        tool=lump.size.tool.value,
        direction=lump.size.direction,
        depth=lump.depth.value,
        feel=lump.consistency.value if lump.consistency else "",
        moves=lump.mobility.value if lump.mobility else "",
        surface=lump.surface.value if lump.surface else "",
        pain=lump.pain.value if lump.pain else "",
    )


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


def lump_of(form: LumpForm, measured_by: str) -> Lump:
    """Return the lump a form describes.

    Raises:
        LumpSizeError: No size, more than three, one that is zero, or no tool.
        ReadingError, UnitMismatchError: A size cannot be read.
    """
    if not form.tool:
        raise LumpSizeError("choose what it was measured with; by eye is an answer")
    size = _size(form, form.typed, measured_by)
    second = _size(form, form.second, measured_by) if form.second.strip() else None
    return Lump(
        depth=LumpDepth(form.depth) if form.depth else LumpDepth.NOT_SURE,
        size=size,
        second_size=second,
        consistency=Consistency(form.feel) if form.feel else None,
        mobility=Mobility(form.moves) if form.moves else None,
        surface=Surface(form.surface) if form.surface else None,
        pain=LumpPain(form.pain) if form.pain else None,
    )


def _size(form: LumpForm, typed: str, measured_by: str) -> LumpSize:
    size = LumpSize(
        dimensions=read_sizes(typed, form.unit),
        tool=LumpTool(form.tool),
        direction=form.direction.strip(),
        measured_by=measured_by,
    )
    require_lump_size(size)
    return size

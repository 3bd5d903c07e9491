"""The words a lump is described with; they describe and never name."""

from enum import StrEnum


class LumpDepth(StrEnum):
    """How deep a lump lies."""

    IN_SKIN = "in_skin"
    UNDER_SKIN = "under_skin"
    DEEP = "deep"
    NOT_SURE = "not_sure"


class LumpTool(StrEnum):
    """What a lump was measured with."""

    CALLIPER = "calliper"
    RULER = "ruler"
    TAPE = "tape"
    BY_EYE = "by_eye"


class Consistency(StrEnum):
    """How a lump feels."""

    SOFT = "soft"
    FIRM = "firm"
    HARD = "hard"
    FLUID = "fluid"
    MIXED = "mixed"


class Mobility(StrEnum):
    """How a lump moves under the fingers."""

    MOVES_FREELY = "moves_freely"
    MOVES_WITH_SKIN = "moves_with_skin"
    FIXED = "fixed"
    NOT_SURE = "not_sure"


class Surface(StrEnum):
    """What the skin over a lump looks like."""

    SMOOTH = "smooth"
    UNEVEN = "uneven"
    HAIRLESS = "hairless"
    OPEN = "open"


class LumpPain(StrEnum):
    """What the animal shows when a lump is touched."""

    NONE_SHOWN = "none_shown"
    SHOWN = "shown"
    NOT_TESTED = "not_tested"


TOOL_WORDS = {
    LumpTool.CALLIPER: "calliper",
    LumpTool.RULER: "ruler",
    LumpTool.TAPE: "tape",
    LumpTool.BY_EYE: "by eye",
}

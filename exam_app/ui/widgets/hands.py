"""How high a control is, for bare hands and for dirty gloves.

One pair of hands is at the screen, since only one tab is ever unlocked; a control
that is made for them asks here, and nobody hands their state on.
"""

from dataclasses import dataclass
from typing import Literal

from exam_app.app.observed import Observed
from exam_app.ui.shell.theme import (
    CONTROL_HEIGHT,
    EXAM_CONTROL_HEIGHT,
    GLOVED_CONTROL_HEIGHT,
)

# The stored setting.
GLOVES = "gloves"
# As anywhere; as in the exam; as in the exam, and larger for dirty gloves.
Size = Literal["usual", "exam", "hands"]


@dataclass(eq=False)
class Hands(Observed):
    """Whether the hands are gloved and dirty: few, large buttons then."""

    gloved: bool = False


HANDS = Hands()


def control_height(size: Size) -> int:
    """Return how high a control of this size is now, in pixels."""
    if size == "hands" and HANDS.gloved:
        return GLOVED_CONTROL_HEIGHT
    return CONTROL_HEIGHT if size == "usual" else EXAM_CONTROL_HEIGHT

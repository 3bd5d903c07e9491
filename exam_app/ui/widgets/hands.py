"""How high a control is, for bare hands and for dirty gloves.

One pair of hands is at the screen, since only one tab is ever unlocked; a control
that is made for them asks here, and nobody hands their state on.
"""

from dataclasses import dataclass
from typing import Literal

from exam_app.ui.shell.theme import (
    CONTROL_HEIGHT,
    EXAM_CONTROL_HEIGHT,
    GLOVED_CONTROL_HEIGHT,
)

# The stored setting.
GLOVES = "gloves"
# As anywhere; as in the exam; as in the exam, and larger for dirty gloves; as anywhere,
# and larger for dirty gloves: what a thumb answers with at the foot of the exam.
Size = Literal["usual", "exam", "hands", "thumb"]


@dataclass(slots=True)
class Hands:
    """What is known of the hands; a button asks when it is made.

    Attributes:
        gloved: Whether they are gloved and dirty: few, large buttons then. Once this is
            another, the screen is shown anew.
        has_keys: Whether a key has led from control to control.
    """

    gloved: bool = False
    has_keys: bool = False


HANDS = Hands()


def control_height(size: Size) -> int:
    """Return how high a control of this size is now, in pixels."""
    if size in ("hands", "thumb") and HANDS.gloved:
        return GLOVED_CONTROL_HEIGHT
    return EXAM_CONTROL_HEIGHT if size in ("exam", "hands") else CONTROL_HEIGHT

"""A mark on the drawing of an animal: the view it stands on, and where.

A place is kept in thousandths of the drawing, of its width across and of its height
down, so that it holds for a screen of any size. Parts and sides are said by the finding
that a mark belongs to; the drawing itself is in no record.
"""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.animal.body_drawing import WIDTH, BodyView, Point
from exam_app.domain.errors import MarkError

THOUSANDTHS = 1000
MOST_MARKS = 9999
# As near to the middle of a view from above or below, a side is not told.
_MIDLINE = 40


class MarkView(StrEnum):
    """The drawing that a mark stands on, named as ``BodyView`` is."""

    LEFT = "left"
    RIGHT = "right"
    TOP = "top"
    UNDER = "under"
    LEFT_HEAD = "left_head"
    RIGHT_HEAD = "right_head"

    @property
    def words(self) -> str:
        """Name it as the record does: ``left view``, ``left view of the head``."""
        name, _, is_head = self.value.partition("_")
        return f"{name} view of the head" if is_head else f"{name} view"


@dataclass(frozen=True, slots=True)
class BodyMark:
    """One place on one drawing.

    Attributes:
        number: What it is called: 1 to 9999, and no two marks of an animal that are
            known where it is made have the same.
        view: The drawing.
        x: From its left edge, in thousandths of its width: 0 to 1000.
        y: From its upper edge, in thousandths of its height: 0 to 1000.
    """

    number: int
    view: MarkView
    x: int
    y: int

    def __post_init__(self) -> None:
        """Refuse a mark that is nowhere.

        Raises:
            MarkError: A number or a place is out of range, or no whole number.
        """
        # One that is true or false counts as a number to Python.
        whole = all(type(value) is int for value in (self.number, self.x, self.y))
        is_on_it = (
            whole and max(self.x, self.y) <= THOUSANDTHS and min(self.x, self.y) >= 0
        )
        if not is_on_it or not 1 <= self.number <= MOST_MARKS:
            raise MarkError("a mark that is nowhere on its drawing")

    def point(self, drawn: BodyView) -> Point:
        """Return its place as the drawing counts: in thousandths of the width."""
        return self.x * WIDTH / THOUSANDTHS, self.y * drawn.height / THOUSANDTHS

    @property
    def side(self) -> str:
        """The animal's own side it is seen from: left, right, or midline."""
        name = self.view.value.partition("_")[0]
        if name in ("left", "right"):
            return name
        away = self.x - THOUSANDTHS // 2
        if abs(away) <= _MIDLINE:
            return "midline"
        # Seen from below, what is drawn at the left is the animal's right.
        return "left" if (away < 0) is (self.view is MarkView.TOP) else "right"


def mark_at(number: int, drawn: BodyView, point: Point) -> BodyMark:
    """Return the mark of a place on a drawing; one beside it goes to its edge.

    Args:
        number: What it will be called.
        drawn: The view that was tapped.
        point: Where, in thousandths of its width both ways.
    """
    across = round(point[0] * THOUSANDTHS / WIDTH)
    down = round(point[1] * THOUSANDTHS / drawn.height)
    x, y = (min(THOUSANDTHS, max(0, value)) for value in (across, down))
    return BodyMark(number, MarkView(drawn.name), x, y)

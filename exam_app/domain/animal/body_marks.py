"""A mark on the drawing of an animal: the view it stands on, and where.

A place is kept in thousandths of the drawing, of its width across and of its height
down, so that it holds for a screen of any size. Parts and sides are said by the finding
that a mark belongs to; the drawing itself is in no record.

Where marks are too close on the whole body, a mark also has its place on a closer
drawing of a limb, a foot, an udder or a mouth. Its place on the whole body stays: it is
what a reader shows who knows no closer drawing.
"""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.animal.body_drawing import WIDTH, BodyView, Point
from exam_app.domain.errors import MarkError
from exam_app.language.catalogue import to_translate, tr

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
        return tr(_VIEWS[self])


_VIEWS = {
    MarkView.LEFT: to_translate("left view"),
    MarkView.RIGHT: to_translate("right view"),
    MarkView.TOP: to_translate("top view"),
    MarkView.UNDER: to_translate("under view"),
    MarkView.LEFT_HEAD: to_translate("left view of the head"),
    MarkView.RIGHT_HEAD: to_translate("right view of the head"),
}


class CloserView(StrEnum):
    """A closer drawing: what it shows, and from where."""

    FORELIMB_OUTER = "forelimb_outer"
    FORELIMB_INNER = "forelimb_inner"
    HINDLIMB_OUTER = "hindlimb_outer"
    HINDLIMB_INNER = "hindlimb_inner"
    FORE_FOOT_OUTER = "fore_foot_outer"
    FORE_FOOT_INNER = "fore_foot_inner"
    FORE_FOOT_UNDER = "fore_foot_under"
    HIND_FOOT_OUTER = "hind_foot_outer"
    HIND_FOOT_INNER = "hind_foot_inner"
    HIND_FOOT_UNDER = "hind_foot_under"
    FOOT_UNDER = "foot_under"
    UDDER = "udder"
    MAMMARY = "mammary"
    MOUTH = "mouth"

    @property
    def thing(self) -> str:
        """What is drawn, as drawings name it: ``fore_foot``, ``udder``."""
        return self.value if self.aspect == "" else self.value.rpartition("_")[0]

    @property
    def aspect(self) -> str:
        """Where it is seen from: ``outer``, ``inner``, ``under``; empty for a whole."""
        name = self.value.rpartition("_")[2]
        return name if name in ("outer", "inner", "under") else ""


class OwnSide(StrEnum):
    """A side of the animal, its own."""

    LEFT = "left"
    RIGHT = "right"


CLOSER_WHOLES = {
    CloserView.UDDER: to_translate("udder"),
    CloserView.MAMMARY: to_translate("mammary glands"),
    CloserView.MOUTH: to_translate("open mouth"),
}


@dataclass(frozen=True, slots=True)
class CloserPlace:
    """One place on one closer drawing.

    Attributes:
        view: The drawing.
        x: From its left edge, in thousandths of its width: 0 to 1000.
        y: From its upper edge, in thousandths of its height: 0 to 1000.
        limb: Of which side the limb or foot is; None where both sides are drawn.
    """

    view: CloserView
    x: int
    y: int
    limb: OwnSide | None = None

    def __post_init__(self) -> None:
        """Refuse a place that is nowhere, and a limb of no side.

        Raises:
            MarkError: A place is out of range, or the side does not fit the drawing.
        """
        if not _is_place(self.x, self.y) or (self.limb is None) is bool(
            self.view.aspect
        ):
            raise MarkError("a place that is nowhere on its closer drawing")

    @property
    def words(self) -> str:
        """Name it as the record does.

        ``outer side of the left fore foot, closer drawing``.
        """
        words = closer_words(self.view, self.limb)
        return tr("{drawing}, closer drawing", drawing=tr(words))

    @property
    def drawing(self) -> str:
        """The name that the drawn view has: ``fore_foot_outer.left``, ``udder``."""
        return closer_name(self.view, self.limb)

    @property
    def side(self) -> str:
        """The animal's own side of the place: left, right, or midline."""
        # In the mouth and below the udder one sees the animal's right at the left.
        return self.limb.value if self.limb else _own_side(self.x, is_from_above=False)


def drawing_names() -> frozenset[str]:
    """Return every drawing's name as a record keeps it, in English."""
    limbs = (name for one in _CLOSER_LIMBS.values() for name in one.values())
    return frozenset((*_VIEWS.values(), *CLOSER_WHOLES.values(), *limbs))


def closer_name(view: CloserView, limb: OwnSide | None) -> str:
    """Return the name of a closer drawing of one limb, or of a whole."""
    return f"{view.value}.{limb.value}" if limb else view.value


_CLOSER_LIMBS = {
    OwnSide.LEFT: {
        CloserView.FORELIMB_OUTER: to_translate("outer side of the left forelimb"),
        CloserView.FORELIMB_INNER: to_translate("inner side of the left forelimb"),
        CloserView.HINDLIMB_OUTER: to_translate("outer side of the left hindlimb"),
        CloserView.HINDLIMB_INNER: to_translate("inner side of the left hindlimb"),
        CloserView.FORE_FOOT_OUTER: to_translate("outer side of the left fore foot"),
        CloserView.FORE_FOOT_INNER: to_translate("inner side of the left fore foot"),
        CloserView.FORE_FOOT_UNDER: to_translate("under side of the left fore foot"),
        CloserView.HIND_FOOT_OUTER: to_translate("outer side of the left hind foot"),
        CloserView.HIND_FOOT_INNER: to_translate("inner side of the left hind foot"),
        CloserView.HIND_FOOT_UNDER: to_translate("under side of the left hind foot"),
        CloserView.FOOT_UNDER: to_translate("under side of the left foot"),
    },
    OwnSide.RIGHT: {
        CloserView.FORELIMB_OUTER: to_translate("outer side of the right forelimb"),
        CloserView.FORELIMB_INNER: to_translate("inner side of the right forelimb"),
        CloserView.HINDLIMB_OUTER: to_translate("outer side of the right hindlimb"),
        CloserView.HINDLIMB_INNER: to_translate("inner side of the right hindlimb"),
        CloserView.FORE_FOOT_OUTER: to_translate("outer side of the right fore foot"),
        CloserView.FORE_FOOT_INNER: to_translate("inner side of the right fore foot"),
        CloserView.FORE_FOOT_UNDER: to_translate("under side of the right fore foot"),
        CloserView.HIND_FOOT_OUTER: to_translate("outer side of the right hind foot"),
        CloserView.HIND_FOOT_INNER: to_translate("inner side of the right hind foot"),
        CloserView.HIND_FOOT_UNDER: to_translate("under side of the right hind foot"),
        CloserView.FOOT_UNDER: to_translate("under side of the right foot"),
    },
}


def closer_words(view: CloserView, limb: OwnSide | None) -> str:
    """Name a closer drawing: ``outer side of the left fore foot``, ``udder``.

    In English, since a drawing keeps its name; ``tr`` shows it.
    """
    if limb is None:
        return CLOSER_WHOLES.get(view, view.value.replace("_", " "))
    return _CLOSER_LIMBS[limb][view]


def _is_place(*numbers: int) -> bool:
    # One that is true or false counts as a number to Python.
    return all(type(one) is int and 0 <= one <= THOUSANDTHS for one in numbers)


def _own_side(x: int, *, is_from_above: bool) -> str:
    away = x - THOUSANDTHS // 2
    if abs(away) <= _MIDLINE:
        return "midline"
    # Seen from below, what is drawn at the left is the animal's right.
    return "left" if (away < 0) is is_from_above else "right"


@dataclass(frozen=True, slots=True)
class BodyMark:
    """One place on one drawing.

    Attributes:
        number: What it is called: 1 to 9999, and no two marks of an animal that are
            known where it is made have the same.
        view: The drawing.
        x: From its left edge, in thousandths of its width: 0 to 1000.
        y: From its upper edge, in thousandths of its height: 0 to 1000.
        closer: The same place on a closer drawing, where it was marked on one.
    """

    number: int
    view: MarkView
    x: int
    y: int
    closer: CloserPlace | None = None

    def __post_init__(self) -> None:
        """Refuse a mark that is nowhere.

        Raises:
            MarkError: A number or a place is out of range, or no whole number.
        """
        is_number = type(self.number) is int and 1 <= self.number <= MOST_MARKS
        if not is_number or not _is_place(self.x, self.y):
            raise MarkError("a mark that is nowhere on its drawing")
        if self.closer is not None and {self.closer.side, self.side_of_view} == _SIDES:
            raise MarkError("a closer drawing of the other side than the mark's")

    def point(self, drawn: BodyView) -> Point:
        """Return its place as the drawing counts: in thousandths of the width.

        Args:
            drawn: One of ``drawings``.
        """
        closer = self.closer
        is_closer = closer is not None and closer.drawing == drawn.name
        place = closer if closer and is_closer else self
        return place.x * WIDTH / THOUSANDTHS, place.y * drawn.height / THOUSANDTHS

    @property
    def drawings(self) -> tuple[str, ...]:
        """The names of the drawn views that it stands on, the whole body first."""
        return (self.view.value, *([self.closer.drawing] if self.closer else ()))

    @property
    def words(self) -> str:
        """Name its drawing as the record does, the closer one where it has one."""
        return self.closer.words if self.closer else self.view.words

    @property
    def side(self) -> str:
        """The animal's own side it is on: left, right, or midline."""
        return self.closer.side if self.closer else self.side_of_view

    @property
    def side_of_view(self) -> str:
        """The animal's own side it is seen from on the whole body."""
        name = self.view.value.partition("_")[0]
        if name in ("left", "right"):
            return name
        return _own_side(self.x, is_from_above=self.view is MarkView.TOP)


_SIDES = {"left", "right"}


def closer_place(drawn: BodyView, point: Point) -> CloserPlace:
    """Return a place on a closer drawing; one beside it goes to its edge.

    Args:
        drawn: The closer drawing that was tapped.
        point: Where, in thousandths of its width both ways.
    """
    name, _, limb = drawn.name.partition(".")
    place = place_in(drawn, point)
    return CloserPlace(CloserView(name), *place, OwnSide(limb) if limb else None)


def place_in(drawn: BodyView, point: Point) -> tuple[int, int]:
    """Return a place in thousandths of width and height; beside it, its edge.

    Args:
        drawn: The view that was tapped.
        point: Where, in thousandths of its width both ways.
    """
    across = round(point[0] * THOUSANDTHS / WIDTH)
    down = round(point[1] * THOUSANDTHS / drawn.height)
    x, y = (min(THOUSANDTHS, max(0, value)) for value in (across, down))
    return x, y


def mark_at(number: int, drawn: BodyView, point: Point) -> BodyMark:
    """Return the mark of a place on the whole body; one beside it goes to its edge.

    Args:
        number: What it will be called.
        drawn: The view that was tapped.
        point: Where, in thousandths of its width both ways.
    """
    return BodyMark(number, MarkView(drawn.name), *place_in(drawn, point))

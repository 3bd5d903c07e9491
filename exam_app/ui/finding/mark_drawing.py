"""A drawing that is tapped for a place: the choice of a view, the view, its marks.

A tap proposes and takes nothing; the next one moves what was proposed. A tap on a mark
that is there means that mark.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.mark_presenter import (
    VIEW_NAMES,
    Proposal,
    ShownMark,
    drawing_words,
    mark_under,
    new_mark,
    on_view,
    proposals,
    shown_marks,
)
from exam_app.domain.animal.body_drawing import WIDTH, Body, BodyView, Point
from exam_app.domain.animal.body_marks import BodyMark
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import CONTROL_HEIGHT
from exam_app.ui.widgets.body_picture import MARK_SIZE, marked_picture, width_within
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import grid
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.room import SPACE
from exam_app.ui.widgets.slot import Slot

# The title, the choice of a view, and what is asked below the drawing.
_BESIDE = 430
_WIDEST, _NARROWEST = 520, 200
_COLUMNS = 3


def width_in(across: float, down: float, view: BodyView) -> int:
    """Return how wide a view is drawn that is seen whole, in pixels.

    Args:
        across: The window's width.
        down: Its height.
        view: The one that is shown.
    """
    return width_within(across, down - _BESIDE, (view,), (_NARROWEST, _WIDEST))


@dataclass(slots=True, repr=False)
class MarkDrawing:
    """One view of the body at a time, as large as there is room.

    Attributes:
        changed: Called when what was tapped has become another.
        view: Name of the view that is shown.
        place: What was tapped, with the number it will have; None before a tap.
        offered: What that place can mean, the likeliest first.
        tapped: The mark that was tapped in place of that.
    """

    tab: Tab
    editor: ExamEditor
    body: Body
    changed: Callable[[], None]
    view: str = "left"
    place: BodyMark | None = None
    offered: tuple[Proposal, ...] = ()
    tapped: ShownMark | None = None
    slot: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Draw the view that is shown first."""
        self.slot = Slot(self._draw)

    @property
    def drawn(self) -> BodyView:
        """The view that is shown."""
        return self.body.views[self.view]

    def show(self, view: str) -> None:
        """Show another view; what was proposed stays with its own."""
        self.view = view
        self.slot.refresh()

    def take_as_new(self) -> None:
        """Mean a new mark where a known one was tapped."""
        mark = self.tapped.mark if self.tapped else None
        self.tapped = None
        if mark is not None:
            self._propose(mark.point(self.drawn))

    def _width(self) -> int:
        page = self.tab.page
        return width_in(page.width or 0, page.height or 0, self.drawn)

    def _in_thousandths(self, pixels: float) -> float:
        return pixels * WIDTH / self._width()

    def _draw(self) -> ft.Control:
        view, width = self.drawn, self._width()
        placed = on_view(self._marks(), view)
        at: list[Point] = []

        def down(event: ft.TapEvent[ft.GestureDetector]) -> None:
            at[:] = []
            if event.local_position is not None:
                where = event.local_position.x, event.local_position.y
                at.append(view.from_pixels(where, width))

        def lifted() -> None:
            # A finger that began to scroll is lifted without a tap.
            if at:
                self._tapped_at(at[0])

        picture = ft.GestureDetector(
            content=marked_picture(view, width, placed, self.place),
            on_tap_down=down,
            on_tap=lifted,
            exclude_from_semantics=True,
            mouse_cursor=ft.MouseCursor.PRECISE,
        )
        name = for_choice("mark-on", view.name)
        shown = identified(name, picture, label=drawing_words(view, placed))
        return ft.Column([*self._choices(), shown], spacing=SPACE, tight=True)

    def _marks(self) -> tuple[ShownMark, ...]:
        return shown_marks(self.editor.exam, self.editor.protocol)

    def _tapped_at(self, point: Point) -> None:
        reach = self._in_thousandths(MARK_SIZE)
        self.tapped = mark_under(self._marks(), self.drawn, point, reach)
        if self.tapped is None:
            self._propose(point)
            return
        self.place, self.offered = None, ()
        self._say()

    def _propose(self, point: Point) -> None:
        exam, protocol = self.editor.exam, self.editor.protocol
        finger = self._in_thousandths(CONTROL_HEIGHT)
        self.offered = proposals(exam, protocol, self.body, self.drawn, point, finger)
        is_there = bool(self.offered)
        self.place = new_mark(exam, self.drawn, point) if is_there else None
        self._say()

    def _say(self) -> None:
        self.slot.refresh()
        self.changed()

    def _choices(self) -> list[ft.Control]:
        named = [name for name in VIEW_NAMES if name in self.body.views]
        return [grid([self._choice(name) for name in named], _COLUMNS)]

    def _choice(self, name: str) -> ft.Semantics:
        def chosen() -> None:
            self.show(name)

        is_shown = name == self.view
        made = button(
            for_choice("mark-view", name),
            VIEW_NAMES[name],
            chosen,
            kind="main tile" if is_shown else "tile",
            size="thumb",
            expand=1,
        )
        made.selected = is_shown
        return made

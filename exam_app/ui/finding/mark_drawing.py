"""A drawing that is tapped for a place: the choice of a view, the view, its marks.

A tap proposes and takes nothing; the next one moves what was proposed. A tap on a mark
that is there means that mark. Where a part has closer drawings, they take the place of
the whole body until it is chosen again. With keys, arrows move a cross over the drawing
that has the focus, and Enter taps where it stands.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.mark_presenter import (
    VIEW_NAMES,
    CloserOffer,
    Proposal,
    ShownMark,
    closer_label,
    drawing_words,
    mark_under,
    on_view,
    place_words,
    proposals,
    shown_marks,
    view_title,
)
from exam_app.domain.animal.body_drawing import WIDTH, Body, BodyView, Point
from exam_app.domain.animal.body_marks import BodyMark
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import CONTROL_HEIGHT, SCROLLS_NOTHING
from exam_app.ui.widgets.body_picture import MARK_SIZE, marked_picture, width_within
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import grid
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.room import SPACE
from exam_app.ui.widgets.slot import Slot, send
from exam_app.ui.widgets.texts import quiet, stack

# The title, the choice of a view, and what is asked below the drawing; of a closer one
# its name too.
_BESIDE, _NAME = 430, 26
_WIDEST, _NARROWEST = 520, 200
_COLUMNS = 3
# How far an arrow moves the cross, in thousandths of the width; with Shift.
STEP, SMALL_STEP = 50, 5
_ARROWS = {
    "ArrowLeft": (-1, 0),
    "ArrowRight": (1, 0),
    "ArrowUp": (0, -1),
    "ArrowDown": (0, 1),
}
_KEYS = to_translate(
    "Arrow keys move a cross, with Shift in small steps; Enter marks the place."
)


def width_in(across: float, down: float, view: BodyView) -> int:
    """Return how wide a view is drawn that is seen whole, in pixels.

    Args:
        across: The window's width.
        down: Its height.
        view: The one that is shown.
    """
    beside = _BESIDE + _NAME * view.is_closer
    return width_within(across, down - beside, (view,), (_NARROWEST, _WIDEST))


@dataclass(slots=True, repr=False)
class MarkDrawing:
    """One view of the body, or of a part closer, at a time, as large as there is room.

    Attributes:
        changed: Called when what was tapped has become another.
        view: Name of the view that is shown.
        offered: What that place can mean, the likeliest first.
        tapped: The mark that was tapped in place of that.
        closer: The closer drawings to choose from; none on the whole body.
        tapped_at: Where the whole body was tapped, in thousandths of its width.
        control: The choice of a view and the drawing. They stay the same controls, so
            that the drawing keeps the focus.
    """

    tab: Tab
    editor: ExamEditor
    body: Body
    changed: Callable[[], None]
    view: str = "left"
    offered: tuple[Proposal, ...] = ()
    tapped: ShownMark | None = None
    closer: tuple[str, ...] = ()
    tapped_at: Point | None = None
    control: ft.Column = field(init=False)
    _whole: str = "left"
    _near: tuple[Proposal, ...] = ()
    _cross: Point | None = None
    _is_fine: bool = False
    _picture: ft.GestureDetector = field(init=False)
    _keys: ft.KeyboardListener = field(init=False)
    _named: ft.Semantics = field(init=False)
    _choices: Slot = field(init=False)
    _told: ft.Semantics = field(init=False)
    _chosen: ft.Semantics | None = None
    _at: Point | None = None

    def __post_init__(self) -> None:
        """Draw the view that is shown first."""
        self._picture = ft.GestureDetector(
            content=self._drawn(),
            on_tap_down=self._down,
            on_tap=self._lifted,
            exclude_from_semantics=True,
            mouse_cursor=ft.MouseCursor.PRECISE,
        )
        self._keys = ft.KeyboardListener(
            content=self._picture,
            on_key_down=self._pressed,
            on_key_repeat=self._pressed,
            on_key_up=self._released,
        )
        # Arrows scroll what they stand in: this, which has nothing to be scrolled.
        alone = ft.Column([self._keys], scroll=SCROLLS_NOTHING, tight=True)
        self._named = identified("", alone)
        self._name()
        self._choices = Slot(self._draw_choices)
        self._told = identified("mark-cross", quiet(""), live=True)
        self._told.visible = False
        shown = [self._choices.control, self._named, self._told]
        self.control = ft.Column(shown, spacing=SPACE, tight=True)

    @property
    def drawn(self) -> BodyView:
        """The view that is shown."""
        return self.body.drawing(self.view) or self.body.views[self._whole]

    @property
    def place(self) -> BodyMark | None:
        """What was tapped, with the number it will have; None before a tap."""
        return self.offered[0].mark if self.offered else None

    def show(self, view: str) -> None:
        """Show another view; what was proposed stays with its own."""
        self.view = view
        if view in self.body.views:
            self._whole, self.closer = view, ()
        if self._cross is not None:
            self._cross = self._start()
        self._refresh()

    def show_mark(self, shown: ShownMark) -> None:
        """Show the drawing a mark stands on, the closer one where there is one.

        What can be done with it is asked in place of what was proposed.
        """
        self.tapped, self.offered = shown, ()
        for name in reversed(shown.mark.drawings):
            if name in self.body.views:
                self.show(name)
                return
            sets = (names for names in self.body.closer_of.values() if name in names)
            if found := next(sets, ()):
                self._open(found, name)
                return

    def show_closer(self, offer: CloserOffer) -> None:
        """Show a part closer; what was proposed on the whole body is kept for it."""
        near, self.offered = self.offered, ()
        self._open(offer.names, offer.first, near)
        self.changed()
        if self.tab.keys.is_by_key:
            self.tab.give_focus(self._keys)
            self._move_cross(self._start())

    def _open(
        self, names: tuple[str, ...], first: str, near: tuple[Proposal, ...] = ()
    ) -> None:
        if self.view in self.body.views:
            self._whole = self.view
        self.closer, self._near = names, near
        self.show(first)

    def _show_whole(self) -> None:
        """Go back to the whole body, and to what was proposed there."""
        self.offered = self.offered or self._near
        self.show(self._whole)
        self.changed()
        self.tab.give_focus(self._chosen.content if self._chosen else None)

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

    def _drawn(self) -> ft.Control:
        placed = on_view(self._marks(), self.drawn)
        return marked_picture(
            self.drawn, self._width(), placed, self.place, self._cross
        )

    def _name(self) -> None:
        view = self.drawn
        said = drawing_words(view, on_view(self._marks(), view))
        self._named.identifier = for_choice("mark-on", view.name)
        self._named.label = f"{said}. {tr(_KEYS)}"

    def _refresh(self) -> None:
        self._choices.refresh()
        self._name()
        self._draw_anew()

    def _draw_anew(self) -> None:
        """Draw the view and what is said of it, and send both at once."""
        self._picture.content = self._drawn()
        self._tell_cross()
        send(self.control)

    def _marks(self) -> tuple[ShownMark, ...]:
        return shown_marks(self.editor.exam, self.editor.protocol)

    def _down(self, event: ft.TapEvent[ft.GestureDetector]) -> None:
        at = event.local_position
        place = (at.x, at.y) if at else None
        self._at = self.drawn.from_pixels(place, self._width()) if place else None

    def _lifted(self) -> None:
        # A finger that began to scroll is lifted without a tap.
        if self._at is not None:
            self._cross = None
            self._tapped_at(self._at)

    def _pressed(self, event: ft.KeyDownEvent | ft.KeyRepeatEvent) -> None:
        key = event.key.replace(" ", "")
        if key.startswith("Shift"):
            self._is_fine = True
        elif key == "Tab":
            # The keys go on to another control.
            self._move_cross(None)
        elif key in _ARROWS:
            self._step(*_ARROWS[key])
        elif key == "Enter" and isinstance(event, ft.KeyDownEvent):
            self._tapped_at(self._cross or self._start())

    def _released(self, event: ft.KeyUpEvent) -> None:
        key = event.key.replace(" ", "")
        if key.startswith("Shift"):
            self._is_fine = False
        elif key == "Tab":
            # It was pressed on the control before, and let go here.
            self._move_cross(self._cross or self._start())

    def _start(self) -> Point:
        """Where the cross begins: at what is proposed here, else on the drawing."""
        view = self.drawn
        if self.place is not None and view.name in self.place.drawings:
            return self.place.point(view)
        return view.areas[0].label

    def _step(self, across: int, down: int) -> None:
        if self._cross is None:
            self._move_cross(self._start())
            return
        step = SMALL_STEP if self._is_fine else STEP
        x, y = self._cross[0] + across * step, self._cross[1] + down * step
        low = self.drawn.height
        self._move_cross((min(WIDTH, max(0, x)), min(low, max(0, y))))

    def _move_cross(self, place: Point | None) -> None:
        self._cross = place
        self._draw_anew()

    def _tell_cross(self) -> None:
        """Say what is under the cross; nothing where there is none."""
        self._told.visible = self._cross is not None
        if self._cross is not None:
            finger = self._in_thousandths(CONTROL_HEIGHT)
            exam, protocol = self.editor.exam, self.editor.protocol
            at = self.drawn, self._cross
            words = place_words(exam, protocol, self.body, *at, finger)
            self._told.content = quiet(words)

    def _tapped_at(self, point: Point) -> None:
        reach = self._in_thousandths(MARK_SIZE)
        self.tapped = mark_under(self._marks(), self.drawn, point, reach)
        if self.tapped is None:
            self._propose(point)
            return
        self.offered = ()
        self._say()

    def _propose(self, point: Point) -> None:
        exam, protocol = self.editor.exam, self.editor.protocol
        finger, view = self._in_thousandths(CONTROL_HEIGHT), self.drawn
        near = self._near if view.is_closer else ()
        self.offered = proposals(exam, protocol, self.body, view, point, finger, near)
        if not view.is_closer:
            self.tapped_at = point if self.offered else None
        self._say()

    def _say(self) -> None:
        self._draw_anew()
        self.changed()

    def _draw_choices(self) -> ft.Control:
        if not self.closer:
            named = [name for name in VIEW_NAMES if name in self.body.views]
            return grid(
                [self._choice(name, tr(VIEW_NAMES[name])) for name in named], _COLUMNS
            )
        shown = [self._choice(name, closer_label(name)) for name in self.closer]
        back = button(
            "mark-whole",
            tr("Whole body"),
            self._show_whole,
            kind="tile",
            size="thumb",
            expand=1,
        )
        # The side is on no button.
        side = quiet(view_title(self.drawn))
        return stack(grid([*shown, back], _COLUMNS), side, spacing=SPACE)

    def _choice(self, name: str, label: str) -> ft.Semantics:
        def chosen() -> None:
            self.show(name)
            self.tab.give_focus(self._chosen.content if self._chosen else None)

        is_shown = name == self.view
        made = button(
            for_choice("mark-view", name),
            label,
            chosen,
            kind="main tile" if is_shown else "tile",
            size="thumb",
            expand=1,
        )
        made.selected = is_shown
        if is_shown:
            self._chosen = made
        return made


def closer_buttons(
    drawing: MarkDrawing, offers: Sequence[CloserOffer]
) -> list[ft.Semantics]:
    """Make the buttons that show a part closer: ``Closer: left fore foot``."""
    return [_closer_button(drawing, offer) for offer in offers]


def _closer_button(drawing: MarkDrawing, offer: CloserOffer) -> ft.Semantics:
    def shown() -> None:
        drawing.show_closer(offer)

    return button(
        for_choice("mark-closer", offer.first),
        tr("Closer: {part}", part=offer.label),
        shown,
        icon=ft.Icons.ZOOM_IN,
        kind="tile",
        size="thumb",
    )

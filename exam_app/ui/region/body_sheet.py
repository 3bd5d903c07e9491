"""The body as a way in: a sheet with the drawing, which leads to the part tapped."""

from collections.abc import Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.body_presenter import (
    VIEW_LABELS,
    Mark,
    key_words,
    marks,
    not_drawn,
    view_words,
)
from exam_app.app.view.mark_presenter import marks_words, on_view, shown_marks
from exam_app.app.view.region_presenter import label_of
from exam_app.domain.animal.body_drawing import Body, BodyView
from exam_app.language.catalogue import to_translate, tr
from exam_app.protocols.bodies import is_drawn, load_body
from exam_app.ui.finding.drawing_sheet import open_over_drawing
from exam_app.ui.region.mark_sheet import open_marks
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.body_picture import body_picture, width_within
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import grid
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.room import ROOM, sharing_width
from exam_app.ui.widgets.slot import Slot, send
from exam_app.ui.widgets.texts import quiet, side_by_side, stack, strong

# The title and the choice of a view above the drawing, the name and the ways below.
_BESIDE = 290
_WIDEST = 560
# Between two drawings.
GAP = 4
_NARROWEST = 280
_SAID = {
    Mark.FINDING: to_translate("finding"),
    Mark.ANSWERED: to_translate("answered"),
    Mark.OPEN: to_translate("open"),
}
_TAP_A_PART = to_translate("Tap a part; small ones in the lower drawing.")
_LEGEND = to_translate(
    "Plain: open. Hatched: answered. Hatched both ways with !: finding."
)


def has_body(editor: ExamEditor) -> bool:
    """Whether there is a drawing of this exam's species."""
    return is_drawn(editor.protocol.species)


def open_body(tab: Tab, editor: ExamEditor, take: Callable[[str], None]) -> None:
    """Show the drawing over the exam; a tap on a part closes it.

    Args:
        tab: Where it is shown.
        editor: The open exam.
        take: Called with the part and side that was tapped, as ``eyes.left``.
    """
    body = load_body(editor.protocol.species)
    sheet = BodySheet(tab, editor, body, take)
    open_over_drawing(tab, tr("Body"), sheet.drawn, sheet.ways, sheet.below)


def width_in(across: float, down: float, views: tuple[BodyView, ...]) -> int:
    """Return how wide views are drawn that stand below each other, unscrolled.

    Args:
        across: The window's width, in pixels as the width returned.
        down: Its height.
        views: From above to below.
    """
    return width_within(across, down - _BESIDE, views, (_NARROWEST, _WIDEST))


@dataclass(slots=True, repr=False)
class BodySheet:
    """The views of a body, one of them shown with its head drawn closer."""

    tab: Tab
    editor: ExamEditor
    body: Body
    take: Callable[[str], None]
    _view: str = "left"
    _is_list: bool = False
    _name: ft.Text = field(default_factory=lambda: strong(tr(_TAP_A_PART)))
    _drawn: Slot = field(init=False)
    _below: Slot = field(init=False)
    _ways: Slot = field(init=False)
    # What the focus of a key goes to once the sheet shows the other.
    _first: ft.Semantics | None = None

    def __post_init__(self) -> None:
        """Make the places that change."""
        self._drawn = Slot(self._draw)
        self._below = Slot(self._draw_below, hides_empty=True)
        self._ways = Slot(self._draw_ways)

    @property
    def drawn(self) -> ft.Control:
        """The drawings, or the list in their place."""
        return self._drawn.control

    @property
    def ways(self) -> ft.Control:
        """The part that a finger lies on, and the ways on."""
        return self._ways.control

    @property
    def below(self) -> ft.Control:
        """The legend, and the parts that no drawing shows."""
        return self._below.control

    def _draw_below(self) -> ft.Control:
        if self._is_list:
            return ft.Container()
        return stack(quiet(tr(_LEGEND)), *self._others())

    def _draw_ways(self) -> ft.Control:
        turn = self._turn(
            tr("The drawing") if self._is_list else tr("All parts as a list")
        )
        ways = sharing_width([self._mark(), turn], ROOM.sheet)
        name = identified("body-name", self._name, live=True)
        return stack(*([] if self._is_list else [name]), *ways, spacing=8)

    def _mark(self) -> ft.Semantics:
        def opened() -> None:
            open_marks(self.tab, self.editor, self.take)

        return button(
            "body-mark", tr("Mark what was found"), opened, kind="tile", size="thumb"
        )

    def _turn(self, label: str) -> ft.Semantics:
        def turned() -> None:
            self._is_list = not self._is_list
            for slot in (self._drawn, self._below, self._ways):
                slot.refresh()
            self.tab.give_focus(self._first.content if self._first else None)

        return button("body-list", label, turned, kind="tile", size="thumb")

    def _draw(self) -> ft.Control:
        return self._listed() if self._is_list else self._pictures()

    def _listed(self) -> ft.Control:
        """Offer every part and side as a button, for a keyboard or a screen reader."""
        exam, protocol = self.editor.exam, self.editor.protocol
        tiles = [
            self._other(key, f"{key_words(exam, protocol, key)}: {tr(_SAID[mark])}")
            for key, mark in marks(exam, protocol).items()
        ]
        self._first = tiles[0]
        return side_by_side(*tiles, spacing=6)

    def _pictures(self) -> ft.Control:
        exam, protocol = self.editor.exam, self.editor.protocol
        said = marks(exam, protocol)
        names = (self._view, f"{self._view}_head")
        views = tuple(self.body.views[n] for n in names if n in self.body.views)
        page = self.tab.page
        width = width_in(page.width or 0, page.height or 0, views)
        shown_here = shown_marks(exam, protocol)
        placed = {view.name: on_view(shown_here, view) for view in views}
        pictures: list[ft.Control] = [
            body_picture(
                view, width, said, self._touched, self._taken, placed[view.name]
            )
            for view in views
        ]
        marked = marks_words([one for view in views for one in placed[view.name]])
        words = view_words(exam, protocol, views, said)
        words = ". ".join(filter(None, (words, marked)))
        shown = ft.Column(pictures, spacing=GAP, tight=True)
        name = for_choice("body", self._view)
        return ft.Column(
            [self._choices(), identified(name, shown, label=words)],
            spacing=6,
            tight=True,
        )

    def _choices(self) -> ft.Control:
        choices = [self._choice(n) for n in self.body.views if n in VIEW_LABELS]
        self._first = choices[0]
        return grid(choices, len(choices))

    def _choice(self, name: str) -> ft.Semantics:
        def chosen() -> None:
            self._view = name
            self._drawn.refresh()

        made = button(
            for_choice("body-view", name),
            tr(VIEW_LABELS[name]),
            chosen,
            kind="main tile" if name == self._view else "tile",
            expand=1,
        )
        made.selected = name == self._view
        return made

    def _touched(self, key: str) -> None:
        exam, protocol = self.editor.exam, self.editor.protocol
        said = key_words(exam, protocol, key) if key else tr(_TAP_A_PART)
        self._name.value = said
        send(self._name)

    def _taken(self, key: str) -> None:
        self.tab.close_sheet()
        self.take(key)

    def _others(self) -> list[ft.Control]:
        """Offer the parts that no view shows as buttons."""
        exam = self.editor.exam
        found = not_drawn(exam, self.editor.protocol, self.body)
        tiles = [self._other(r.region_id, label_of(exam, r)) for r in found]
        if not tiles:
            return []
        row = side_by_side(*tiles, spacing=6)
        return [quiet(tr("Not on the drawing:")), row]

    def _other(self, part: str, label: str) -> ft.Semantics:
        def tapped() -> None:
            self._taken(part)

        return button(for_choice("body-part", part), label, tapped, kind="tile")

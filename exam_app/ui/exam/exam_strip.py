"""The strip above the list: how much is answered, and the headings, which follow."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_words import progress_words, short_progress
from exam_app.app.view.exam_places import Section, open_counts, sections
from exam_app.language.catalogue import tr
from exam_app.ui.exam.exam_list import name_of
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.visit.visit_rows import AFTER, BEFORE
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import grid
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet

_PROGRESS_WIDTH = 104
# Its share of the room, twice that of urgent where both stand in the strip.
_OF_HEADING = 8
_WIDEST_HEADING = 280


@dataclass(slots=True, repr=False)
class Strip:
    """Progress and headings in one row.

    Attributes:
        jump: Called with a heading, or with the id of a part that was put off.
        progress: How much is answered; in the header where there is no strip.
    """

    tab: Tab
    editor: ExamEditor
    jump: Callable[[str], None]
    control: ft.Container = field(default_factory=ft.Container)
    progress: Slot = field(init=False)
    _heading: Slot | None = None
    _left: dict[str, int] = field(default_factory=dict)
    _now: str = ""
    _sections: tuple[Section, ...] = ()

    def __post_init__(self) -> None:
        """Read which headings this exam has."""
        self._sections = sections(self.editor.exam, self.editor.protocol)
        self._left = self._counts()

    def lay_out(
        self, *, ends: Sequence[ft.Control], is_low: bool, is_widest: bool
    ) -> None:
        """Fill the strip for this window.

        Args:
            ends: What stands at its end.
            is_low: Whether there is no strip, and progress stands in the header.
            is_widest: Whether a share of it is wider than a heading ever needs.
        """
        draw = self._draw_short if is_low else self._draw_progress
        self.progress = Slot(draw, in_place=True)
        self._now = self._section_of(self.editor.view.current.place)
        if is_low:
            self.control.visible = False
            return
        parked = Slot(self._draw_parked, self.editor.view.parked, hides_empty=True)
        share = None if is_widest else _OF_HEADING
        self._heading = Slot(self._draw_heading, in_place=True, expand=share)
        shown = [self.progress.control, self._heading.control, parked.control]
        if is_widest:
            self._heading.control.width = _WIDEST_HEADING * ROOM.text_scale
            # Urgent stays at the end, as wide as beside a share.
            shown.append(ft.Container(expand=_OF_HEADING // 2))
        self.control.content = ft.Row([*shown, *ends], spacing=6)

    @property
    def _titles(self) -> list[str]:
        return [BEFORE, *(one.title for one in self._sections), AFTER]

    def show(self, place: str) -> None:
        """Bring the words up to date, and mark the heading of a place."""
        self.progress.refresh()
        self._now, self._left = self._section_of(place), self._counts()
        if self._heading is not None:
            self._heading.refresh()

    def _counts(self) -> dict[str, int]:
        editor = self.editor
        return open_counts(editor.exam, editor.protocol, self._sections)

    def _section_of(self, place: str) -> str:
        found = (one.title for one in self._sections if place in one.places)
        return next(found, "")

    def _draw_progress(self) -> ft.Control:
        overview = self.editor.overview
        share = overview.done / overview.total if overview.total else 1
        words = progress_words(overview)
        column = ft.Column(
            [quiet(words), ft.ProgressBar(value=share, bar_height=6, border_radius=3)],
            spacing=2,
            tight=True,
            width=_PROGRESS_WIDTH * ROOM.text_scale,
        )
        return identified("exam-progress", column)

    def _draw_short(self) -> ft.Control:
        said = quiet(short_progress(self.editor.overview))
        said.semantics_label = progress_words(self.editor.overview)
        return identified("exam-progress", said)

    def _draw_chip(self, title: str) -> ft.Control:
        left = self._left.get(title)

        def jump() -> None:
            self.tab.close_sheet()
            self.jump(title)

        heading = tr(title)
        label = f"{heading} {left}" if left else heading
        icon = ft.Icons.CHECK if left == 0 else None
        spoken = tr("Go to {heading}", heading=heading)
        if left is not None:
            spoken = (
                tr("Go to {heading}; {left} open", heading=heading, left=left)
                if left
                else tr("Go to {heading}; all answered", heading=heading)
            )
        chip = button(
            for_choice("exam-jump", title.lower().replace(" ", "-")),
            label,
            jump,
            icon=icon,
            spoken=spoken,
            kind="main tile" if title == self._now else "tile",
            size="thumb",
        )
        chip.selected = title == self._now
        return chip

    def _draw_heading(self) -> ft.Control:
        """Draw the heading of the current place, which leads to all of them."""
        left = self._left.get(self._now)
        name = tr(self._now or self._titles[0])
        words = f"{name} {left}" if left else name

        def opened() -> None:
            chips = [self._draw_chip(title) for title in self._titles]
            self.tab.open_sheet(tr("Go to"), grid(chips, 2))

        return button(
            "exam-headings",
            words,
            opened,
            spoken=tr("{heading}: choose another heading", heading=words),
            kind="tile",
            size="thumb",
        )

    def _draw_parked(self) -> ft.Control:
        return next(iter(self.next_parked()), ft.Container())

    def next_parked(self) -> list[ft.Control]:
        """Make the button to what was put off; tapped again, to the one after it."""

        def jump() -> None:
            places = self.editor.view.parked.region_ids
            current = self.editor.view.current.place
            at = places.index(current) + 1 if current in places else 0
            if places:
                self.jump(places[at % len(places)])

        places = self.editor.view.parked.region_ids
        names = ", ".join(name_of(self.editor, place) for place in places)
        leading = button(
            "exam-parked-next",
            f"{len(places)}",
            jump,
            icon=ft.Icons.SCHEDULE,
            spoken=tr("Go to what was put off to later: {names}", names=names),
            kind="tile",
            size="thumb",
        )
        return [leading] if places else []

"""Mark what was found: a tap on the drawing, the part it proposes, then what it is.

A tap proposes part and side in words; the finding is recorded only once they were
confirmed and what was found was chosen, with the same terms as without a mark. A tap on
a mark that is there leads to its finding; on a lump of an earlier record, to measuring
the same one now.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.mark_presenter import (
    CloserOffer,
    Proposal,
    ShownMark,
    closer_offers,
    on_view,
    shown_marks,
)
from exam_app.app.view.photograph_subjects import Subject
from exam_app.domain.exam.exam import keys_offered
from exam_app.domain.protocol.protocol import Region, split_key
from exam_app.domain.wording.exam_wording import mark_words
from exam_app.domain.wording.phrases import capital
from exam_app.language.catalogue import to_translate, tr
from exam_app.protocols.bodies import load_body
from exam_app.ui.finding.drawing_sheet import open_over_drawing
from exam_app.ui.finding.finding_sheet import open_details, open_marked
from exam_app.ui.finding.lump_sheet import open_lump_again
from exam_app.ui.finding.mark_drawing import MarkDrawing, closer_buttons
from exam_app.ui.photographs.kept_sheet import open_photographs, photograph_label
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import Kind, button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.room import ROOM, sharing_width
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, quiet, stack, strong

_HOW = to_translate(
    "Tap where it is. Nothing is kept before you have confirmed the part."
)
_LEGEND = to_translate(
    "Disc: of this exam. Broken square: of an earlier one. Ring: not recorded yet."
)


def open_marks(tab: Tab, editor: ExamEditor, take: Callable[[str], None]) -> None:
    """Show the drawings to be tapped for a mark.

    Args:
        tab: Where it is shown.
        editor: The open exam; its species has a drawing.
        take: Called with a part and side that is to be current, as ``eyes.left``.
    """
    sheet = _MarkSheet(tab, editor, take)
    drawn, title = sheet.drawing.control, tr("Mark what was found")
    open_over_drawing(tab, title, drawn, sheet.asked(), *sheet.listed())


@dataclass(slots=True, repr=False)
class _MarkSheet:
    """The drawing, what its last tap proposes, and every mark as a line."""

    tab: Tab
    editor: ExamEditor
    take: Callable[[str], None]
    drawing: MarkDrawing = field(init=False)
    _panel: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Begin with the view that has the newest mark."""
        body = load_body(self.editor.protocol.species)
        self.drawing = MarkDrawing(self.tab, self.editor, body, self._changed)
        marks = self._marks()
        if marks and marks[-1].mark.view.value in body.views:
            self.drawing.show(marks[-1].mark.view.value)
        self._panel = Slot(self._draw_panel)

    def listed(self) -> list[ft.Control]:
        """Return every mark as a line, with what its shapes mean."""
        lines = [self._line(one) for one in self._marks()]
        return [quiet(tr(_LEGEND)), *lines] if lines else []

    def asked(self) -> ft.Control:
        """Return what is asked of the place or the mark that was tapped."""
        return identified("mark-panel", self._panel.control, live=True)

    def _marks(self) -> tuple[ShownMark, ...]:
        return shown_marks(self.editor.exam, self.editor.protocol)

    def _changed(self) -> None:
        self._panel.refresh()

    def _line(self, shown: ShownMark) -> ft.Control:
        def tapped() -> None:
            self.drawing.show_mark(shown)
            self._panel.refresh()

        icon = ft.Icons.DIAMOND_OUTLINED if shown.is_earlier else ft.Icons.CIRCLE
        name = for_choice("mark-line", shown.finding_id)
        return line_button(name, shown.words, "", tapped, icon=icon)

    def _draw_panel(self) -> ft.Control:
        if (tapped := self.drawing.tapped) is not None:
            return self._of_mark(tapped)
        place = self.drawing.place
        if place is None:
            return quiet(tr(_HOW))
        tiles = [
            self._part(one, is_first=not number)
            for number, one in enumerate(self.drawing.offered)
        ]
        asked = strong(
            tr("{place}. Which part is it?", place=capital(mark_words(place)))
        )
        more = [*tiles[1:], *closer_buttons(self.drawing, self._closer())]
        rows = [across(tiles[0]), *sharing_width(more, ROOM.sheet)]
        return stack(asked, *rows, spacing=8)

    def _closer(self) -> tuple[CloserOffer, ...]:
        """Return the closer drawings of what was tapped on the whole body."""
        drawing = self.drawing
        if drawing.drawn.is_closer:
            return ()
        keys = [one.key for one in drawing.offered]
        return closer_offers(drawing.body, keys, drawing.drawn, drawing.tapped_at)

    def _part(self, offered: Proposal, *, is_first: bool) -> ft.Semantics:
        region = self._region(offered.key)

        def confirmed() -> None:
            if region is not None:
                open_marked(self.tab, self.editor, region, offered.key, offered.mark)

        return button(
            for_choice("mark-part", offered.key),
            offered.label,
            confirmed,
            kind="main tile" if is_first else "tile",
            size="thumb",
        )

    def _region(self, key: str) -> Region | None:
        return self.editor.protocol.region(split_key(key)[0])

    def _of_mark(self, shown: ShownMark) -> ft.Control:
        """Offer what can be done with a mark that is there."""
        first, *ways = self._ways(shown)
        if on_view((shown,), self.drawing.drawn):
            anew = self.drawing.take_as_new
            ways.append(_offer("mark-new", tr("A new mark here"), anew))
        rows = [ft.Row([first]), *sharing_width(ways, ROOM.sheet)]
        return stack(strong(shown.words), *rows, spacing=8)

    def _ways(self, shown: ShownMark) -> list[ft.Control]:
        tab, editor, region = self.tab, self.editor, self._region(shown.key)
        is_asked = shown.key in keys_offered(editor.exam, editor.protocol)
        if region is None or not is_asked:
            return [quiet(tr("Its part is not in this exam."))]
        if not shown.is_earlier:
            found = ((shown.key, shown.finding_id),)
            opened = partial(open_details, tab, editor, region, found)
            first = _offer(
                "mark-finding", tr("Open this finding"), opened, is_main=True
            )
            return [first, self._photograph(shown)]

        def go() -> None:
            tab.close_sheet()
            self.take(shown.key)

        told = _offer("mark-go", tr("Say what became of it"), go)
        if not shown.is_lump:
            return [told, self._photograph(shown)]
        again = partial(open_lump_again, tab, editor, shown.finding_id)
        label = tr("Measure the same lump now")
        first = _offer("mark-measure", label, again, is_main=True)
        return [first, told, self._photograph(shown)]

    def _photograph(self, shown: ShownMark) -> ft.Control:
        subject = Subject(shown.key, shown.finding_id)
        opened = partial(open_photographs, self.tab, self.editor, subject)
        label = photograph_label(self.editor, subject)
        return _offer("mark-photograph", label, opened)


def _offer(
    identifier: str, words: str, act: Callable[[], None], *, is_main: bool = False
) -> ft.Control:
    kind: Kind = "main tile" if is_main else "tile"
    return button(identifier, words, act, kind=kind, size="thumb", expand=1)

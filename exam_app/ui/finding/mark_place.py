"""Mark a finding that is recorded, or put its mark elsewhere, on the drawing."""

from dataclasses import dataclass, field, replace

import flet as ft

from exam_app.app import region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.region_changes import Found, finding_of
from exam_app.app.view.mark_presenter import (
    closer_offers,
    proposed_words,
    why_not_there,
)
from exam_app.domain.animal.body_marks import BodyMark
from exam_app.domain.exam.findings import Finding
from exam_app.domain.wording.exam_wording import found_words, mark_words
from exam_app.domain.wording.phrases import capital
from exam_app.language.catalogue import tr
from exam_app.protocols.bodies import is_drawn, load_body
from exam_app.ui.finding.drawing_sheet import open_over_drawing
from exam_app.ui.finding.mark_drawing import MarkDrawing, closer_buttons
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.room import ROOM, sharing_width
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, quiet, stack, strong


def mark_button(tab: Tab, editor: ExamEditor, find: Found) -> list[ft.Control]:
    """Make the button that marks a finding; nothing where its part is on no drawing."""
    if not _can_be_marked(editor, find):
        return []
    marked = next((one.mark for _, _, one in _findings(editor, find) if one.mark), None)

    def opened() -> None:
        open_mark(tab, editor, find)

    label = (
        tr("Move {mark}", mark=mark_words(marked))
        if marked
        else tr("Mark it on the drawing")
    )
    icon = ft.Icons.PLACE_OUTLINED
    return [button("mark-open", label, opened, icon=icon, kind="tile")]


def _can_be_marked(editor: ExamEditor, find: Found) -> bool:
    species = editor.protocol.species
    if not is_drawn(species):
        return False
    body = load_body(species)
    drawn = {
        area.key
        for view in body.views.values()
        for area in view.areas
        if not area.is_far
    }
    drawn |= body.closer_of.keys()
    return find.region.region_id in body.everywhere or not drawn.isdisjoint(find.keys)


def _findings(editor: ExamEditor, find: Found) -> list[tuple[str, str, Finding]]:
    found = (
        (key, one, finding_of(editor.exam, key, one)) for key, one in find.findings
    )
    return [(key, one, finding) for key, one, finding in found if finding is not None]


def open_mark(tab: Tab, editor: ExamEditor, find: Found) -> None:
    """Show the drawing to be tapped for one finding."""
    sheet = _MarkPlace(tab, editor, find)
    found = _findings(editor, find)
    title = tr("Mark")
    if found:
        title = tr("Mark: {finding}", finding=found_words(found[0][2]))
    open_over_drawing(tab, title, sheet.drawing.control, sheet.asked())


@dataclass(slots=True, repr=False)
class _MarkPlace:
    """Where a recorded finding is: tapped, confirmed, saved."""

    tab: Tab
    editor: ExamEditor
    find: Found
    drawing: MarkDrawing = field(init=False)
    _panel: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Show the view that has its mark, or one of its side."""
        body = load_body(self.editor.protocol.species)
        self.drawing = MarkDrawing(self.tab, self.editor, body, self._changed)
        found = _findings(self.editor, self.find)
        marks = [one.mark for _, _, one in found if one.mark]
        side = found[0][2].side if found else ""
        first = marks[0].view.value if marks else side
        if first in body.views:
            self.drawing.show(first)
        self._panel = Slot(self._draw)

    def asked(self) -> ft.Control:
        """Return what is asked of the place that was tapped."""
        return identified("mark-place", self._panel.control, live=True)

    def _changed(self) -> None:
        if self.drawing.tapped is not None:
            # Another mark may stand at the same place as this one.
            self.drawing.take_as_new()
            return
        self._panel.refresh()

    def _draw(self) -> ft.Control:
        place = self.drawing.place
        if place is None:
            how = tr("Tap where it is. Nothing is kept before you have confirmed it.")
            ways = sharing_width(self._closer(), ROOM.sheet)
            return stack(quiet(how), *ways, spacing=8)
        key, finding_id, finding = self._meant(place)
        exam, protocol = self.editor.exam, self.editor.protocol
        offered = self.drawing.offered
        place = next((one.mark for one in offered if one.key == key), place)
        if why := why_not_there(exam, protocol, key, finding, place, offered):
            return stack(strong(why), *sharing_width(self._closer(), ROOM.sheet))
        name = mark_words(replace(place, number=(finding.mark or place).number))
        part = proposed_words(exam, protocol, key, place)

        async def kept() -> None:
            made = region_changes.mark_placed(key, finding_id, place)
            words = f"{found_words(finding)}: {name}"
            if await self.tab.change_and_close(self.editor, made, words, None):
                self.tab.tell(tr("{mark} is kept.", mark=capital(name)))

        said = strong(
            tr(
                "{part}: {finding}. Another tap moves it.",
                part=part,
                finding=found_words(finding),
            )
        )
        label = tr("Keep {mark}", mark=name)
        return stack(
            said,
            across(button("mark-keep", label, kept, kind="main tile", size="thumb")),
            *sharing_width(self._closer(), ROOM.sheet),
        )

    def _closer(self) -> list[ft.Semantics]:
        """Offer the closer drawings of the finding's own part, on the whole body."""
        drawing = self.drawing
        if drawing.drawn.is_closer:
            return []
        keys = [key for key, _ in self.find.findings]
        at = (drawing.drawn, drawing.tapped_at) if drawing.place else ()
        return closer_buttons(drawing, closer_offers(drawing.body, keys, *at))

    def _meant(self, place: BodyMark) -> tuple[str, str, Finding]:
        """Return the side of the find that is marked: the one that was tapped."""
        found = _findings(self.editor, self.find)
        keys = [one.key for one in self.drawing.offered]
        tapped = (one for one in found if one[0] in keys)
        sided = (one for one in found if one[2].side == place.side)
        return next(tapped, next(sided, found[0]))

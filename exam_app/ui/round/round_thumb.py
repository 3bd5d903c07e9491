"""The animal in hand on a round, by thumb: one question at a time, as in an exam.

What is asked of it stands in the exam's own panes: the current question with its
answers at the foot, what is answered folded above. Where nothing is open the next tag
is asked; nothing but a tap or a tag ends a row.
"""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions, round_exams
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.exam_view import GUARD_SECONDS
from exam_app.app.forms.form import Ask, Form
from exam_app.app.forms.round_cells import NOTE, Column, fill_cell
from exam_app.app.queries.bite_concerns import name_with_concern, those_with_concern
from exam_app.app.view.exam_places import asked_places
from exam_app.domain.exam.exam import Exam
from exam_app.language.catalogue import tr
from exam_app.store.repositories.rows import concern_of
from exam_app.ui.exam.exam_foot import urgent_button
from exam_app.ui.exam.exam_list import ShortList
from exam_app.ui.exam.exam_panes import ExamPanes
from exam_app.ui.round.round_entry import (
    NEXT_TAG_LABEL,
    TAG_LABEL,
    TAG_MISSING,
    set_cursor_after,
)
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import SCROLLS
from exam_app.ui.urgent import urgent_list
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.room import ROOM, least_width, line_width
from exam_app.ui.widgets.slot import Slot, send
from exam_app.ui.widgets.texts import across, stack, strong

Draw = Callable[[], ft.Control]
_SPACE = 6
# Size of the font in which the animal in hand is named.
_NAME = 17


@dataclass(slots=True, repr=False)
class RowByThumb:
    """One animal after another, each answered in a zone at the foot.

    Attributes:
        columns: What is asked of the next row begun; each row keeps its own.
        counts: Draws how many rows there are.
        rows: Draws the open rows, which stand here while no animal is in hand.
        more: Makes the button behind which everything else lies.
        close: Makes the button that closes the finished rows.
        on_change: Called after an animal came in hand, or was put away.
        row: The exam of the animal in hand, or ``None`` when the next tag is asked.
    """

    tab: Tab
    group: ExamEditor
    columns: tuple[Column, ...]
    counts: Draw
    rows: Draw
    more: Draw
    close: Draw
    on_change: Callable[[], None]
    row: ExamEditor | None = None
    _is_end: bool = False
    _was_entered: bool = False
    _tag: Field = field(init=False)
    _begins: ft.Control = field(init=False)
    _ends: ft.Control = field(init=False)
    _head: Slot = field(init=False)
    _body: Slot = field(init=False)
    _foot: Slot = field(init=False)
    _zone: ft.Container = field(init=False)
    _panes: ExamPanes | None = None
    _turn: asyncio.Lock = field(default_factory=asyncio.Lock)

    def __post_init__(self) -> None:
        """Ask for a tag, with what was typed of it before."""
        typed = exam_sessions.typed_in(
            self.tab.session, self.group, "row", tr("Row in hand")
        )
        self._tag = text_field(
            "round-tag",
            tr(TAG_LABEL),
            size="thumb",
            on_submit=self._entered,
            typed=typed,
        )
        self._begins = across(
            button(
                "round-begin",
                tr("Begin this animal"),
                self._begin,
                kind="main tile",
            )
        )
        self._ends = across(
            button("round-next", tr("Done, next animal"), self._done, kind="main tile")
        )
        self._head = Slot(self._draw_head)
        self._body = Slot(self._draw_body, expand=True)
        self._foot = Slot(self._draw_foot)
        asked = [self._tag.control, self._begins, self._ends, self._foot.control]
        self._zone = ft.Container(stack(*asked, spacing=_SPACE))
        self._show_state()

    def control(self) -> ft.Control:
        """Return its place on the screen, which it fills."""
        return ft.Column(
            [self._head.control, self._body.control, self._zone],
            spacing=_SPACE,
            expand=True,
            horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
        )

    def take_up(self, row: ExamEditor | None) -> None:
        """Put another animal in hand, or none."""
        self.row, self._panes, self._is_end = row, None, False
        if row is not None:
            self._panes = self._panes_of(row)
        # A second tap by mistake meets what has come up in its place.
        (row or self.group).view.current.begin_settling()
        self._body.refresh()
        self._head.refresh()
        self._foot.refresh()
        self._show_state()
        if self._panes is not None:
            self._panes.show_current()
        self.on_change()

    def refresh(self) -> None:
        """Draw the counts anew, and the rows where they are shown."""
        self._head.refresh()
        if self.row is None:
            self._body.refresh()

    def choose(self, columns: tuple[Column, ...]) -> None:
        """Ask something else of the rows begun from now on."""
        self.columns = columns

    async def begin_typing(self) -> None:
        """Leave the tag to be tapped: a phone's keyboard is not called up."""

    async def go_on_with(self, exam_id: str) -> None:
        """Take a row of this round in hand again."""
        async with self._turn:
            self.take_up(await exam_sessions.open_exam(self.tab.session, exam_id))

    def _panes_of(self, row: ExamEditor) -> ExamPanes:
        def foot() -> list[ft.Control]:
            return [self.more(), urgent_button(self.tab, row)]

        places = asked_places(row.exam, row.protocol)
        short = ShortList(places, foot, self._ended)
        return ExamPanes(self.tab, row, [], [self._note(row)], short)

    def _ended(self, is_end: bool) -> None:
        if is_end == self._is_end:
            return
        self._is_end = is_end
        self._show_state()
        if is_end:
            self.on_change()
        if is_end and self._was_entered:
            # Whoever ends a tag with Enter, as a reader does, types the next one so;
            # not sooner than a second tap by mistake would have come.
            self.tab.start(set_cursor_after(self._tag, GUARD_SECONDS))

    def _show_state(self) -> None:
        has_row = self.row is not None
        # Two buttons in one place: a tap counts for what it said when it went down.
        self._begins.visible, self._ends.visible = not has_row, has_row
        self._zone.visible = not has_row or self._is_end
        self._tag.entry.label = tr(NEXT_TAG_LABEL) if has_row else tr(TAG_LABEL)
        for control in (self._begins, self._ends, self._zone):
            send(control)

    # What is drawn

    def _draw_head(self) -> ft.Control:
        name = (
            tr("In hand: {name}", name=self._name(self.row))
            if self.row
            else tr("Next animal")
        )
        named = identified("round-in-hand", strong(name))
        # With large text the counts wait until no animal is in hand.
        has_counts = self.row is None or not ROOM.is_large_text
        said = stack(named, *([self.counts()] if has_counts else []), spacing=0)
        said.expand = True
        leave: list[ft.Control] = []
        if self.row is not None:
            label = tr("Other animal")
            spoken = tr("Another animal; this row stays open")
            other = button(
                "round-leave", label, self._leave, spoken=spoken, size="thumb"
            )
            if line_width(name, _NAME) > ROOM.body - least_width(other):
                sign = ft.Icons.SWAP_HORIZ
                other = button(
                    "round-leave", spoken, self._leave, kind="icon", icon=sign
                )
            leave.append(other)
        return ft.Row([said, *leave], spacing=8)

    def _name(self, row: ExamEditor) -> str:
        """Return the animal's name, with the concern that its row would show."""
        animal = row.exam.animal
        bitten = those_with_concern(self.tab.vault, [animal.animal_id])
        return name_with_concern(animal.name, bitten or concern_of(row.exam))

    def _draw_body(self) -> ft.Control:
        if self.row is None or self._panes is None:
            column = ft.Column([self.rows()], scroll=SCROLLS, expand=True)
            column.horizontal_alignment = ft.CrossAxisAlignment.STRETCH
            return column
        banner = urgent_list.banner_slot(self.tab, self.row)
        return ft.Column(
            [banner, self._panes.control()],
            spacing=_SPACE,
            expand=True,
            horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
        )

    def _draw_foot(self) -> ft.Control:
        main = urgent_button(self.tab, self.row) if self.row else self.close()
        return ft.Row([self.more(), main], spacing=_SPACE)

    def _note(self, row: ExamEditor) -> ft.Control:
        def ask() -> None:
            self._ask_note(row)

        def draw() -> ft.Control:
            said, icon = row.exam.remark, ft.Icons.EDIT_NOTE
            words = f"{tr(NOTE.label)}: {said}" if said else tr(NOTE.label)
            tile = button(
                "round-note", words, ask, kind="tile", size="thumb", icon=icon
            )
            return ft.Container(across(tile), padding=ft.Padding.only(top=_SPACE))

        return Slot(draw, row.view.steps).control

    def _ask_note(self, row: ExamEditor) -> None:
        typed = exam_sessions.typed_in(self.tab.session, row, "note", tr(NOTE.label))
        ask = Ask("words", NOTE.label, hint=NOTE.hint, lines=2)
        form = Form((ask,), "round-note", {"words": row.exam.remark}, typed=typed)

        def made(exam: Exam, edit: Edit) -> Exam:
            return fill_cell(exam, edit, NOTE, form["words"])

        async def save() -> None:
            name = f"{row.exam.animal.name}: {tr(NOTE.label)}"
            await self.tab.change_and_close(row, made, name, typed)

        self.tab.open_sheet(
            f"{tr(NOTE.label)}: {row.exam.animal.name}",
            *FormView(form).controls(),
            button("round-note-save", tr("Save"), save, kind="lead", size="hands"),
            typed=typed,
        )

    # What a tap does

    async def _entered(self) -> None:
        self._was_entered = True
        await self._begin_typed()

    async def _begin(self) -> None:
        self._was_entered = False
        if self._tag.value or not self.group.view.current.is_settling:
            await self._begin_typed()

    async def _begin_typed(self) -> None:
        """Begin the row of the tag, once the row in hand is all answered."""
        if not self._tag.value:
            self._tag.show_problem(tr(TAG_MISSING))
            return
        async with self._turn:
            tag = self._tag.value
            if not tag:
                # Begun already by the tap or Enter before.
                return
            row = await round_exams.begin_row(
                self.tab.session, self.group, tag, self.columns
            )
            if self._tag.value == tag:
                self._tag.clear()
                self._tag.show_problem(None)
            self.take_up(row)

    async def _done(self) -> None:
        row = self.row
        if row is None or row.view.current.is_settling:
            return
        if self._tag.value:
            await self._begin()
        else:
            await self._put_away(row)

    async def _leave(self) -> None:
        row = self.row
        if row is not None and not row.view.current.is_settling:
            await self._put_away(row)

    async def _put_away(self, row: ExamEditor) -> None:
        async with self._turn:
            if self.row is row:
                self.take_up(None)

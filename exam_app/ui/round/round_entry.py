"""The animal in hand on a round: its tag, then one cell after another.

A cell is stored when it is left. What cannot be read is said below the cell, stays as
typed and keeps the row from being done.
"""

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions, round_exams
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.forms.round_cells import Column, fill_cell
from exam_app.app.typed_entries import Typed
from exam_app.app.view.round_presenter import cell_text
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot, is_on_page
from exam_app.ui.widgets.texts import quiet, stack


def picks_of(column: Column, on_pick: Callable[[str], Awaitable[None]]) -> ft.Control:
    """Draw the answers that a column offers; a tap answers the cell."""
    if not column.picks:
        return ft.Container()
    base = for_choice("round-pick", column.key.replace(":", "-"))
    buttons = [
        _button(f"{base}-{number}", text, label, on_pick)
        for number, (text, label) in enumerate(column.picks)
    ]
    return ft.Row(buttons, wrap=True, spacing=8, run_spacing=8)


def _button(
    name: str, text: str, label: str, on_pick: Callable[[str], Awaitable[None]]
) -> ft.Control:
    async def tapped() -> None:
        await on_pick(text)

    return button(name, label, tapped, kind="tile")


def is_readable(row: ExamEditor, column: Column, cell: Field) -> bool:
    """Try a cell on the exam without changing it; say below it what is wrong."""
    by, new_id = row.attribution(), exam_sessions.new_id
    try:
        fill_cell(row.exam, Edit(row.protocol, by, new_id), column, cell.value)
    except ExamError as refusal:
        reason = getattr(refusal, "reason", "")
        cell.show_problem(f"{reason}. {refusal.advice}".lstrip(". "))
        return False
    return True


async def set_cursor_after(cell: Field, after_seconds: float) -> None:
    """Set the cursor into a field once what changed around it has been drawn.

    Asked earlier, the field counts as chosen and yet takes no key where a screen
    reader is served: the page moves its parts about and drops the cursor.
    """
    await asyncio.sleep(after_seconds)
    if is_on_page(cell.entry):
        await set_cursor(cell)


async def set_cursor(cell: Field) -> None:
    """Set the cursor into a field that is drawn."""
    await cell.entry.focus()  # type: ignore[no-untyped-call]


_CELL_WIDTH = 230
_FIRST_DRAWN_SECONDS = 0.5
_REDRAWN_SECONDS = 0.1
_NEXT = "Next animal"


@dataclass(slots=True, repr=False)
class RowEntry:
    """What is typed of one animal after another, in fields that stay where they are.

    The next animal is typed in the fields of the last one, and nothing around them is
    drawn anew while a row is typed: where a screen reader is served, the page would
    drop the cursor and keys would be lost.

    Attributes:
        columns: The cells of the next row begun; each row keeps its own.
        on_change: Called after a row was done, or put back.
        row: The exam of the animal in hand, or ``None`` when the next tag is asked.
    """

    tab: Tab
    group: ExamEditor
    columns: tuple[Column, ...]
    on_change: Callable[[], None]
    row: ExamEditor | None = None
    _kept: Typed = field(init=False)
    _tag: Field = field(init=False)
    _cells: dict[str, Field] = field(default_factory=dict)
    _taken: dict[str, str] = field(default_factory=dict)
    _all: Slot = field(init=False)
    _head: ft.Text = field(init=False)
    _urgent: Slot = field(init=False)
    _body: ft.Container = field(init=False)
    _turn: asyncio.Lock = field(default_factory=asyncio.Lock)

    def __post_init__(self) -> None:
        """Begin with what was typed before and not stored."""
        self._kept = exam_sessions.typed_in(
            self.tab.session, self.group, "row", "Row in hand"
        )
        self._head = ft.Text(_NEXT, theme_style=ft.TextThemeStyle.TITLE_LARGE)
        self._urgent = Slot(self._draw_urgent)
        self._all = Slot(self._draw)

    def control(self) -> ft.Control:
        """Return its place on the screen."""
        return self._all.control

    def take_up(self, row: ExamEditor | None) -> None:
        """Put another animal in hand, or none, in the same fields.

        What is typed already while a row begins stays.
        """
        self.row = row
        self._own(row)
        self._write(self._tag, row.exam.animal.tag if row else "")
        for column in self.columns:
            kept = cell_text(row.exam, column) if row else ""
            self._taken[column.key] = kept
            cell = self._cells[column.key]
            is_typed = row is not None and self._kept.value(cell.name)
            if (kept or row is None) and not is_typed:
                self._write(cell, kept)
        self._body.visible = row is not None or self.tab.is_wide
        self._body.update()
        self._head.value = f"In hand: {row.exam.animal.name}" if row else _NEXT
        self._head.update()
        self._urgent.refresh()

    def _own(self, row: ExamEditor | None) -> None:
        """Keep the cells with the tag they are typed for, until the row is done.

        Cells of another animal, left by a restart, are never taken for this one's.
        """
        if row is None:
            return
        tag, before = row.exam.animal.tag, self._kept.value("of")
        if before and before != tag:
            said = "; ".join(cell.value for cell in self._cells.values() if cell.value)
            self.tab.tell(f"Typed for {before} and not stored: {said}")
            self._kept.drop()
            for cell in self._cells.values():
                self._write(cell, "")
        self._kept.note("round-tag", tag)
        self._kept.note("of", tag)

    def choose(self, columns: tuple[Column, ...]) -> None:
        """Take other columns for the rows begun from now on."""
        self.columns = columns
        self._all.refresh()
        self.take_up(self.row)

    async def begin_typing(self) -> None:
        """Set the cursor where typing goes on; a phone's keyboard is not called up."""
        if self.tab.is_wide:
            first = self._cells[self.columns[0].key] if self.row else self._tag
            await set_cursor_after(first, _FIRST_DRAWN_SECONDS)

    @staticmethod
    def _write(entry: Field, text: str) -> None:
        if entry.typed != text or entry.entry.error:
            entry.entry.value, entry.entry.error = text, None
            entry.entry.update()

    def _draw(self) -> ft.Control:
        self._cells = {column.key: self._cell(column) for column in self.columns}
        self._tag = text_field(
            "round-tag",
            "Tag or mark",
            hint="Tab or Enter begins the row; a tag reader that types works here.",
            on_submit=self._entered_tag,
            on_blur=self._left_tag,
            typed=self._kept,
        )
        self._body = ft.Container(
            self._draw_cells(), visible=self.row is not None or self.tab.is_wide
        )
        done = button(
            "round-next", "Done, next animal", self._next, kind="main", size="exam"
        )
        return stack(
            self._head, self._tag.control, self._body, done, self._urgent.control
        )

    def _draw_cells(self) -> ft.Control:
        sentences = [quiet(c.sentence) for c in self.columns if c.sentence]
        if self.tab.is_wide:
            narrow = [
                ft.Container(self._cells[c.key].control, width=_CELL_WIDTH)
                for c in self.columns
            ]
            return stack(*sentences, ft.Row([*narrow], wrap=True, spacing=12))
        return stack(*sentences, *(self._with_picks(c) for c in self.columns))

    def _with_picks(self, column: Column) -> ft.Control:
        cell = self._cells[column.key]

        async def picked(text: str) -> None:
            cell.write(text)
            await self._take(column)

        return stack(cell.control, picks_of(column, picked), spacing=6)

    def _cell(self, column: Column) -> Field:
        async def entered() -> None:
            if await self._take(column):
                await self._go_on(column)

        async def left() -> None:
            await self._take(column)

        return text_field(
            for_choice("round-cell", column.key.replace(":", "-")),
            column.label,
            hint=column.hint,
            keyboard=ft.KeyboardType.VISIBLE_PASSWORD,
            on_submit=entered,
            on_blur=left,
            typed=self._kept,
        )

    def _draw_urgent(self) -> ft.Control:
        """Lead to an urgent sign of this animal, which is answered in its exam."""
        row = self.row
        if row is None or all(entry.is_answered for entry in row.exam.urgent):
            return ft.Container()

        async def whole() -> None:
            await self.tab.go(f"/exam/{row.exam.exam_id}")

        label = "URGENT SIGN: answer it in this animal's exam"
        return button("round-urgent", label, whole, kind="main", size="exam")

    async def _entered_tag(self) -> None:
        if not self._tag.value:
            self._tag.show_problem("Type the tag, or a mark the animal is known by.")
            return
        await self._left_tag()
        if self.tab.is_wide:
            await set_cursor_after(self._cells[self.columns[0].key], _REDRAWN_SECONDS)

    async def _left_tag(self) -> None:
        """Begin the row of the tag; cells typed meanwhile wait their turn."""
        async with self._turn:
            tag = self._tag.value
            if not tag or (self.row and tag == self.row.exam.animal.tag):
                return
            row = await round_exams.begin_row(
                self.tab.session, self.group, tag, self.columns
            )
            self.take_up(row)

    async def _take(self, column: Column) -> bool:
        """Store one cell; returns whether it stands as typed."""
        async with self._turn:
            return await self._store(column)

    async def _store(self, column: Column) -> bool:
        row, cell = self.row, self._cells[column.key]
        typed = cell.value
        if typed == self._taken.get(column.key, ""):
            return True
        if row is None:
            cell.show_problem("Type the tag first, and Enter.")
            return False
        if not is_readable(row, column, cell):
            return False

        def made(exam: Exam, edit: Edit) -> Exam:
            return fill_cell(exam, edit, column, typed)

        signs = len(row.exam.urgent)
        said = f"{row.exam.animal.name}: {column.label}"
        if not await exam_sessions.change(self.tab.session, row, made, said):
            return False
        if cell.entry.error:
            cell.show_problem(None)
        self._kept.forget(cell.name)
        self._taken[column.key] = typed
        if len(row.exam.urgent) != signs:
            self._urgent.refresh()
        return True

    async def _go_on(self, column: Column) -> None:
        place = self.columns.index(column) + 1
        if place < len(self.columns):
            await set_cursor(self._cells[self.columns[place].key])
        else:
            await self._next()

    async def _next(self) -> None:
        if self.row is None:
            await self._entered_tag()
            return
        taken = [await self._take(column) for column in self.columns]
        if not all(taken):
            return
        async with self._turn:
            self._kept.drop()
            self.take_up(None)
            self.on_change()
        if self.tab.is_wide:
            await set_cursor_after(self._tag, _REDRAWN_SECONDS)

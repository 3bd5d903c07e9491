"""The animal in hand on a round: its tag, then one cell after another.

A cell is stored when it is left. What cannot be read is said below the cell, stays as
typed and keeps the row from being done.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import flet as ft

from exam_app.domain.errors import ExamError
from exam_app.domain.exam import Exam
from exam_app.domain.people import Attribution
from exam_app.ui import exam_room, round_shelf
from exam_app.ui import identifiers as ids
from exam_app.ui.exam_desk import ExamDesk, NewId
from exam_app.ui.identifiers import for_choice
from exam_app.ui.parts.buttons import main_button
from exam_app.ui.parts.fields import Field, text_field
from exam_app.ui.parts.slot import Slot
from exam_app.ui.parts.texts import quiet, section, stack
from exam_app.ui.round_cells import Column, fill_cell
from exam_app.ui.round_presenter import cell_text
from exam_app.ui.screens.round_cells_part import picks_of

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab

_CELL_WIDTH = 230


@dataclass(slots=True, repr=False)
class RowEntry:
    """What is typed of one animal after another.

    Attributes:
        columns: The cells of the next row begun; each row keeps its own.
        on_change: Called after a row was begun, changed or done.
        row: The exam of the animal in hand, or ``None`` when the next tag is asked.
    """

    tab: "Tab"
    group: ExamDesk
    columns: tuple[Column, ...]
    on_change: Callable[[], None]
    row: ExamDesk | None = None
    _tag: Field = field(init=False)
    _cells: dict[str, Field] = field(default_factory=dict)
    _taken: dict[str, str] = field(default_factory=dict)
    _slot: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Draw nothing yet."""
        self._slot = Slot(self._draw)

    def control(self) -> ft.Control:
        """Return its place on the screen."""
        return self._slot.control

    def take_up(self, row: ExamDesk | None) -> None:
        """Put another animal in hand, or none; a keyboard goes on at its first field."""
        self.row = row
        self._slot.refresh()
        self.begin_typing()

    def begin_typing(self) -> None:
        """Set the cursor where typing goes on; a phone's keyboard is not called up."""
        if not self.tab.is_wide:
            return
        first = self._cells[self.columns[0].key] if self.row else self._tag
        self.tab.start(_focus(first))

    def _draw(self) -> ft.Control:
        if self.row is None:
            return self._draw_tag()
        return section(
            f"In hand: {self.row.exam.animal.name}",
            self._draw_cells(self.row),
            main_button(ids.ROUND_NEXT, "Done, next animal", self._next, exam=True),
            *self._draw_urgent(self.row),
        )

    def _draw_tag(self) -> ft.Control:
        self._tag = text_field(
            ids.ROUND_TAG,
            "Tag or mark",
            hint="Enter begins the row; a tag reader that types works here.",
            on_submit=self._begin,
        )
        begin = main_button(ids.ROUND_NEXT, "Begin this animal", self._begin, exam=True)
        return section("Next animal", self._tag.control, begin)

    def _draw_cells(self, row: ExamDesk) -> ft.Control:
        self._cells, self._taken = {}, {}
        cells = [self._cell(row, number) for number in range(len(self.columns))]
        sentences = [quiet(c.sentence) for c in self.columns if c.sentence]
        if not self.tab.is_wide:
            return stack(*sentences, *cells)
        narrow = [ft.Container(cell, width=_CELL_WIDTH) for cell in cells]
        return stack(*sentences, ft.Row([*narrow], wrap=True, spacing=12))

    def _cell(self, row: ExamDesk, number: int) -> ft.Control:
        column = self.columns[number]

        async def entered() -> None:
            if await self._take(row, column):
                await self._go_to(number + 1)

        async def left() -> None:
            await self._take(row, column)

        kept = cell_text(row.exam, column)
        self._taken[column.key] = kept
        cell = text_field(
            for_choice(ids.ROUND_CELL, column.key.replace(":", "-")),
            column.label,
            value=kept,
            hint=column.hint,
            keyboard=ft.KeyboardType.VISIBLE_PASSWORD,
            on_submit=entered,
            on_blur=left,
        )
        self._cells[column.key] = cell
        if self.tab.is_wide:
            return cell.control

        async def picked(text: str) -> None:
            cell.entry.value = text
            cell.entry.update()
            await self._take(row, column)

        return stack(cell.control, picks_of(column, picked), spacing=6)

    def _draw_urgent(self, row: ExamDesk) -> list[ft.Control]:
        """Lead to an urgent sign of this animal, which is answered in its exam."""

        async def whole() -> None:
            await self.tab.go(f"/exam/{row.exam.exam_id}")

        if all(entry.is_answered for entry in row.exam.urgent):
            return []
        label = "URGENT SIGN: answer it in this animal's exam"
        return [main_button(ids.ROUND_URGENT, label, whole, exam=True)]

    async def _begin(self) -> None:
        tag = self._tag.value
        if not tag:
            self._tag.show_problem("Type the tag, or a mark the animal is known by.")
            return
        row = await round_shelf.begin_row(self.tab, self.group, tag, self.columns)
        self.take_up(row)
        self.on_change()

    async def _take(self, row: ExamDesk, column: Column) -> bool:
        """Store one cell; returns whether it stands as typed."""
        cell = self._cells.get(column.key)
        if cell is None or row is not self.row:
            return False
        typed = cell.value
        if typed == self._taken.get(column.key):
            return True
        if not _is_readable(row, column, cell):
            return False

        def made(exam: Exam, by: Attribution, new_id: NewId) -> Exam:
            return fill_cell(exam, row.protocol, column, typed, by, new_id)

        signs = len(row.exam.urgent)
        said = f"{row.exam.animal.name}: {column.label}"
        if not await exam_room.change(self.tab, row, made, said):
            return False
        cell.show_problem(None)
        self._taken[column.key] = typed
        self.on_change()
        if len(row.exam.urgent) != signs:
            self._slot.refresh()
        return True

    async def _go_to(self, number: int) -> None:
        if number < len(self.columns):
            await _focus(self._cells[self.columns[number].key])
        else:
            await self._next()

    async def _next(self) -> None:
        row = self.row
        if row is not None:
            taken = [await self._take(row, column) for column in self.columns]
            if not all(taken):
                return
        self.take_up(None)
        self.on_change()


def _is_readable(row: ExamDesk, column: Column, cell: Field) -> bool:
    """Try a cell on the exam without changing it; say below it what is wrong."""
    by, new_id = row.attribution(), exam_room.new_id
    try:
        fill_cell(row.exam, row.protocol, column, cell.value, by, new_id)
    except ExamError as refusal:
        reason = getattr(refusal, "reason", "")
        cell.show_problem(f"{reason}. {refusal.advice}".lstrip(". "))
        return False
    return True


async def _focus(cell: Field) -> None:
    await cell.entry.focus()  # type: ignore[no-untyped-call]

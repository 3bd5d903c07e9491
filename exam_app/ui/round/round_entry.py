"""The animal in hand on a round, by keyboard: its tag, then one cell after another.

A cell is stored when it is left. What cannot be read is said below the cell, stays as
typed and keeps the row from being done.
"""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions, round_exams
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.forms.round_cells import Column, fill_cell
from exam_app.app.queries.history import last_weight
from exam_app.app.typed_entries import Typed
from exam_app.app.view.round_presenter import cell_text
from exam_app.domain.animal.history import PastValue
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot, is_on_page, send
from exam_app.ui.widgets.texts import quiet, stack


def is_readable(
    row: ExamEditor, column: Column, cell: Field, last: PastValue | None
) -> bool:
    """Try a cell on the exam without changing it; say below it what is wrong.

    Args:
        row: The exam of the animal in hand.
        column: Where it was typed.
        cell: What was typed.
        last: As of ``fill_cell``.
    """
    edit = Edit(row.protocol, row.attribution(), row.new_id)
    try:
        fill_cell(row.exam, edit, column, cell.value, last)
    except ExamError as refusal:
        reason = tr(getattr(refusal, "reason", ""))
        stop = "" if reason.endswith((".", "?")) else "."
        cell.show_problem(f"{reason}{stop} {tr(refusal.advice)}".lstrip(". "))
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


TAG_LABEL = to_translate("Tag or mark")
NEXT_TAG_LABEL = to_translate("Next tag or mark")
TAG_MISSING = to_translate("Type the tag, or a mark the animal is known by.")
_CELL_WIDTH = 230
_FIRST_DRAWN_SECONDS = 0.5
_REDRAWN_SECONDS = 0.1
_NEXT = to_translate("Next animal")


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
    # The tag whose row was begun last; anything else in its field is still to come.
    _begun: str = field(init=False)
    _head: ft.Text = field(init=False)
    _urgent: Slot = field(init=False)
    _body: ft.Container = field(init=False)
    _begins: ft.Control = field(init=False)
    _ends: ft.Control = field(init=False)
    _turn: asyncio.Lock = field(default_factory=asyncio.Lock)

    def __post_init__(self) -> None:
        """Begin with what was typed before and not stored."""
        self._kept = exam_sessions.typed_in(
            self.tab.session, self.group, "row", tr("Row in hand")
        )
        self._begun = self._kept.value("of")
        self._head = ft.Text(tr(_NEXT), theme_style=ft.TextThemeStyle.TITLE_LARGE)
        self._urgent = Slot(self._draw_urgent)
        self._tag = text_field(
            "round-tag",
            tr(TAG_LABEL),
            hint=tr("Tab or Enter begins the row; a tag reader that types works here."),
            size="hands",
            on_submit=self._entered_tag,
            on_blur=self._left_tag,
            typed=self._kept,
        )
        self._begins = button(
            "round-begin",
            tr("Begin this animal"),
            self._begin,
            kind="main",
            size="hands",
        )
        self._ends = button(
            "round-next", tr("Done, next animal"), self._done, kind="main", size="hands"
        )
        self._body = ft.Container(self._draw_cells())
        self._show_state()

    def control(self) -> ft.Control:
        """Return its place on the screen."""
        return stack(
            self._head,
            self._tag.control,
            self._body,
            self._begins,
            self._ends,
            self._urgent.control,
        )

    def take_up(self, row: ExamEditor | None) -> None:
        """Put another animal in hand, or none, in the same fields.

        What is typed already while a row begins stays, also a next tag.
        """
        self.row = row
        # A second tap by mistake meets the button that has come up in its place.
        (row or self.group).view.current.begin_settling()
        self._own(row)
        tag = row.exam.animal.tag if row else ""
        if self._tag.value in ("", self._begun):
            self._write(self._tag, tag)
        self._begun = tag
        self._kept.note("round-tag", self._tag.value)
        self._read_cells()
        if row is None:
            for cell in self._cells.values():
                self._write(cell, "")
        self._show_state()
        for control in (self._head, self._begins, self._ends):
            send(control)
        self._urgent.refresh()

    def _read_cells(self) -> None:
        """Write what the exam in hand says where nothing else is typed."""
        row = self.row
        for column in self.columns:
            cell, kept = self._cells[column.key], ""
            if row is not None:
                kept = cell_text(row.exam, column)
            self._taken[column.key] = kept
            if kept and not self._kept.value(cell.name):
                self._write(cell, kept)

    def _show_state(self) -> None:
        row = self.row
        self._head.value = (
            tr("In hand: {name}", name=row.exam.animal.name) if row else tr(_NEXT)
        )
        # Two buttons in one place: a tap counts for what it said when it went down.
        self._begins.visible, self._ends.visible = row is None, row is not None

    def _own(self, row: ExamEditor | None) -> None:
        """Keep the cells with the tag they are typed for, until the row is done.

        Cells of another animal, left by a restart, are never taken for this one's.
        """
        if row is None:
            return
        tag, before = row.exam.animal.tag, self._kept.value("of")
        if before and before != tag:
            texts = (self._kept.value(cell.name) for cell in self._cells.values())
            said = "; ".join(filter(None, texts))
            self.tab.tell(
                tr("Typed for {tag} and not stored: {said}", tag=before, said=said)
            )
            self._kept.drop()
            for cell in self._cells.values():
                self._write(cell, "")
        self._kept.note("of", tag)

    def choose(self, columns: tuple[Column, ...]) -> None:
        """Take other columns for the rows begun from now on.

        No field in which something may be typed just now is made anew.
        """
        self.columns = columns
        self._body.content = self._draw_cells()
        self._read_cells()
        send(self._body)

    async def begin_typing(self) -> None:
        """Set the cursor where typing goes on."""
        first = self._cells[self.columns[0].key] if self.row else self._tag
        await set_cursor_after(first, _FIRST_DRAWN_SECONDS)

    @staticmethod
    def _write(entry: Field, text: str) -> None:
        if entry.typed != text or entry.entry.error:
            entry.entry.value, entry.entry.error = text, None
            send(entry.entry)

    def _draw_cells(self) -> ft.Control:
        before = self._cells
        self._cells = {c.key: before.get(c.key) or self._cell(c) for c in self.columns}
        sentences = [quiet(tr(c.sentence)) for c in self.columns if c.sentence]
        narrow = [
            ft.Container(self._cells[c.key].control, width=_CELL_WIDTH)
            for c in self.columns
        ]
        # In one line, however long a hint or a problem below one of them is.
        row = ft.Row([*narrow], wrap=True, spacing=12)
        row.vertical_alignment = ft.CrossAxisAlignment.START
        return stack(*sentences, row)

    def _cell(self, column: Column) -> Field:
        async def entered() -> None:
            if await self._take(column):
                await self._go_on(column)

        async def left() -> None:
            await self._take(column)

        return text_field(
            for_choice("round-cell", column.key.replace(":", "-")),
            tr(column.label),
            hint=tr(column.hint),
            keyboard=ft.KeyboardType.VISIBLE_PASSWORD,
            size="hands",
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

        label = tr("URGENT SIGN: answer it in this animal's exam")
        return button("round-urgent", label, whole, kind="main", size="hands")

    async def _entered_tag(self) -> None:
        if not self._tag.value:
            self._tag.show_problem(tr(TAG_MISSING))
            return
        await self._left_tag()
        await set_cursor_after(self._cells[self.columns[0].key], _REDRAWN_SECONDS)

    async def _left_tag(self) -> None:
        """Begin the row of the tag; cells typed meanwhile wait their turn."""
        async with self._turn:
            tag = self._tag.value
            if not tag or (self.row and tag == self.row.exam.animal.tag):
                return
            self._begun = tag
            row = await round_exams.begin_row(
                self.tab.session, self.group, tag, self.columns
            )
            self.take_up(row)

    async def go_on_with(self, exam_id: str) -> None:
        """Take a row of this round in hand again."""
        async with self._turn:
            row = await exam_sessions.open_exam(self.tab.session, exam_id)
            self.take_up(row)

    async def _take(self, column: Column) -> bool:
        """Store one cell; returns whether it stands as typed."""
        async with self._turn:
            return await self._store(column)

    async def _store(self, column: Column) -> bool:
        row, cell = self.row, self._cells[column.key]
        if self._is_stored(column):
            return True
        if row is None:
            cell.show_problem(tr("Type the tag first, and Enter."))
            return False
        vital = row.protocol.vital(column.name)
        last = last_weight(self.tab.vault, row, vital, self.tab.person.role)
        if not is_readable(row, column, cell, last):
            return False
        return await self._put(row, column, cell, last)

    async def _put(
        self, row: ExamEditor, column: Column, cell: Field, last: PastValue | None
    ) -> bool:
        typed = cell.value

        def made(exam: Exam, edit: Edit) -> Exam:
            return fill_cell(exam, edit, column, typed, last)

        signs = len(row.exam.urgent)
        said = f"{row.exam.animal.name}: {tr(column.label)}"
        if not await exam_sessions.change(self.tab.session, row, made, said):
            return False
        if cell.entry.error:
            cell.show_problem(None)
        self._taken[column.key] = typed
        if self._is_stored(column):
            self._kept.forget(cell.name)
        if len(row.exam.urgent) != signs:
            self._urgent.refresh()
        return True

    async def _go_on(self, column: Column) -> None:
        place = self.columns.index(column) + 1
        if place < len(self.columns):
            await set_cursor(self._cells[self.columns[place].key])
        else:
            await self._end(self.row)

    async def _begin(self) -> None:
        if self._tag.value or not self.group.view.current.is_settling:
            await self._entered_tag()

    async def _done(self) -> None:
        row = self.row
        if row is not None and not row.view.current.is_settling:
            await self._end(row)

    async def _end(self, row: ExamEditor | None) -> None:
        """Put an animal away once all of it is stored, unless another came in hand."""
        async with self._turn:
            if row is None or self.row is not row:
                return
            while unstored := [c for c in self.columns if not self._is_stored(c)]:
                if not all([await self._store(column) for column in unstored]):
                    return
            self._kept.drop()
            try:
                await self._take_cursor_to_tag()
            finally:
                # Its row is stored, whether or not the page still answers.
                self.take_up(None)
                self.on_change()

    async def _take_cursor_to_tag(self) -> None:
        """Set the cursor into the empty tag, before the button below it goes.

        Whatever had the cursor when it went gets it back, from a field just chosen.
        """
        self._write(self._tag, "")
        if is_on_page(self._tag.entry):
            await set_cursor(self._tag)

    def _is_stored(self, column: Column) -> bool:
        return self._cells[column.key].value == self._taken.get(column.key, "")

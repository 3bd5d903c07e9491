"""The round sheet: one animal after another, each row an exam of its own.

By keyboard: type the tag, Enter, then a cell and Enter, and so on; after the last cell
the next tag is asked for. By thumb: the same fields with their answers as buttons.
Nothing is filled down and nothing is normal until it was said of this animal.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions, round_exams
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.round_cells import Column
from exam_app.app.practice_claims import claims_kept
from exam_app.app.queries.bite_concerns import name_with_concern, those_with_concern
from exam_app.app.view.round_presenter import (
    RoundRow,
    chosen_columns,
    columns_offered,
    row_of,
    rows_words,
    usual_columns,
)
from exam_app.domain.animal.signalment import species_words
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.ui.day import day
from exam_app.ui.round.group_sheet import open_group
from exam_app.ui.round.round_entry import RowEntry
from exam_app.ui.round.round_sheets import open_closing, open_columns
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.urgent import urgent_list
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import heading, quiet, stack, strong

_WIDE = 1200


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the sheet of the round that belongs to a group's exam."""
    try:
        group = await exam_sessions.open_exam(tab.session, exam_id)
    except exam_sessions.ExamNotHereError as refusal:
        tab.tell(refusal.advice)
        return await day.build(tab)
    return RoundSheet(tab, group).screen()


@dataclass(slots=True, repr=False)
class RoundSheet:
    """The sheet: the animal in hand, and the rows so far."""

    tab: Tab
    group: ExamEditor
    _entry: RowEntry = field(init=False)
    _rows: list[tuple[Exam, RoundRow]] = field(init=False)
    _list: Slot = field(init=False)
    _counts: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Take the columns of last time."""
        columns = self._chosen(
            round_exams.columns_kept(self.tab.session, self._species)
        )
        self._rows = self._read_rows()
        self._list = Slot(self._draw_list)
        self._counts = Slot(self._draw_counts)
        self._entry = RowEntry(self.tab, self.group, columns, self._refresh)

    @property
    def _species(self) -> str:
        return self.group.exam.animal.species

    def screen(self) -> Screen:
        """Build the screen."""
        animal = self.group.exam.animal
        return Screen(
            title=f"Round: {animal.name}",
            subtitle=" · ".join(
                filter(None, (species_words(animal.species), animal.place))
            ),
            back="/",
            width=_WIDE,
            pinned=[urgent_list.banner_slot(self.tab, self.group)],
            body=[self._entry.control(), self._counts.control, self._list.control],
            bottom=self._buttons(),
            on_shown=self._shown,
        )

    def _shown(self) -> None:
        """Ask for the columns the first time; after that the keyboard is ready."""
        if round_exams.columns_kept(self.tab.session, self._species) is None:
            self._ask_columns()
        else:
            self.tab.start(self._entry.begin_typing())

    def _buttons(self) -> list[ft.Control]:
        async def whole() -> None:
            await self.tab.go(f"/exam/{self.group.exam.exam_id}")

        return [
            button(
                "round-close",
                "Close finished rows",
                self._close,
                kind="main",
                size="exam",
            ),
            button("group-facts", "Group numbers", self._facts, size="exam"),
            button("round-open", "Whole group", whole, size="exam"),
            button("round-columns", "Columns", self._ask_columns, size="exam"),
        ]

    def _offered(self) -> tuple[Column, ...]:
        added = claims_kept(self.tab.vault, self._species).added
        return columns_offered(self.group.protocol, words_for(self.group.exam), added)

    def _chosen(self, kept: Sequence[str] | None) -> tuple[Column, ...]:
        offered = self._offered()
        wanted = usual_columns(offered) if kept is None else kept
        return chosen_columns(offered, wanted)

    def _read_rows(self) -> list[tuple[Exam, RoundRow]]:
        exams = round_exams.open_rows(self.tab.session, self.group.exam.exam_id)
        protocol, columns = self.group.protocol, self._offered()
        ids = [exam.animal.animal_id for exam in exams]
        bitten = those_with_concern(self.tab.vault, ids)
        return [
            (exam, row_of(exam, protocol, columns, has_bitten=animal_id in bitten))
            for exam, animal_id in zip(exams, ids, strict=True)
        ]

    def _refresh(self) -> None:
        self._rows = self._read_rows()
        self._list.refresh()
        self._counts.refresh()

    def _draw_counts(self) -> ft.Control:
        closed = round_exams.closed_count(self.tab.session, self.group.exam.exam_id)
        words = rows_words((row for _, row in self._rows), closed)
        return identified("round-counts", strong(words))

    def _draw_list(self) -> ft.Control:
        rows = [row for _, row in self._rows]
        if not rows:
            return quiet("No row is open.")
        return stack(heading("Open rows"), *(self._line(row) for row in rows))

    def _line(self, row: RoundRow) -> ft.Control:
        async def go_on() -> None:
            self._entry.take_up(
                await exam_sessions.open_exam(self.tab.session, row.exam_id)
            )

        sign = ft.Icons.PRIORITY_HIGH if row.is_urgent else ft.Icons.EDIT_NOTE
        icon = sign if row.open else ft.Icons.CHECK_CIRCLE
        still = f"OPEN: {row.open}" if row.open else "finished"
        words = " · ".join(filter(None, (row.shown, still)))
        name = for_choice("round-row", row.name.replace(" ", "-"))
        title = name_with_concern(row.name, row.has_bitten)
        return line_button(name, title, words, go_on, icon=icon)

    def _facts(self) -> None:
        exam_id = self.group.exam.exam_id
        rows = len(round_exams.open_rows(self.tab.session, exam_id))
        closed = round_exams.closed_count(self.tab.session, exam_id)
        open_group(self.tab, self.group, rows + closed, self._refresh)

    def _close(self) -> None:
        def closed() -> None:
            held = self._entry.row
            if held is not None and held.exam.is_closed:
                self._entry.take_up(None)
            self._refresh()

        # Read anew: a cell may have been stored since the last row was done.
        exams = [exam for exam, _ in self._read_rows()]
        open_closing(self.tab, self.group, exams, closed)

    def _ask_columns(self) -> None:
        async def chosen(keys: tuple[str, ...]) -> None:
            await round_exams.keep_columns(self.tab.session, self._species, keys)
            self._entry.choose(self._chosen(keys))
            self.tab.start(self._entry.begin_typing())

        open_columns(self.tab, self._offered(), self._entry.columns, chosen)

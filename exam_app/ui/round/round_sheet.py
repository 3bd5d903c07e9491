"""The round sheet: one animal after another, each row an exam of its own.

By keyboard: type the tag, Enter, then a cell and Enter, and so on; after the last cell
the next tag is asked for. By thumb: the same fields with their answers as buttons.
Nothing is filled down and nothing is normal until it was said of this animal.
"""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import flet as ft

from exam_app.app import round_exams
from exam_app.app import round_exams as round_shelf
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
from exam_app.domain.animal.signalment import species_shown
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.language.catalogue import tr
from exam_app.paper.fonts import Font
from exam_app.paper.printing import print_round
from exam_app.paper.sheet import PageSize
from exam_app.ui.day import day
from exam_app.ui.paper.print_sheet import Printable, open_print
from exam_app.ui.round.group_sheet import open_group
from exam_app.ui.round.round_entry import RowEntry
from exam_app.ui.round.round_thumb import RowByThumb
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.urgent import urgent_list
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ToggleRow
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button, nothing_yet
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.pin import Pin
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    across,
    heading,
    paragraph,
    quiet,
    stack,
    strong,
)

Chosen = Callable[[tuple[str, ...]], Awaitable[None]]


def open_columns(
    tab: Tab, offered: Sequence[Column], now: Sequence[Column], on_choose: Chosen
) -> None:
    """Ask which columns the round has beside the required ones."""
    free = {_plain(c.key): c for c in offered if not c.is_required}
    required = [tr(column.label) for column in offered if column.is_required]
    wanted = [_plain(column.key) for column in now if not column.is_required]

    async def toggled(plain: tuple[str, ...]) -> None:
        wanted[:] = plain

    async def done() -> None:
        sheet = tab.sheet
        # Stored first: what is typed once the sheet is gone meets no late redrawing.
        await on_choose(tuple(free[key].key for key in wanted))
        tab.close_only(sheet)

    always = ", ".join(required)
    options = [(key, tr(column.label)) for key, column in free.items()]
    begin = button("round-columns-done", tr("Begin"), done, kind="main", size="hands")
    row = ToggleRow("round-column", options, toggled, tuple(wanted), "hands")
    tab.open_sheet(
        tr("What is asked of every animal?"),
        paragraph(tr("Always: {columns}. Choose what else.", columns=always)),
        row.control,
        quiet(tr("A column chosen is answered in every row, by a value or a reason.")),
        foot=[across(begin)],
    )


def open_closing(
    tab: Tab, group: ExamEditor, rows: Sequence[Exam], on_done: Callable[[], None]
) -> None:
    """Ask for one PIN, then close every finished row; open rows stay and are named."""

    async def signed() -> None:
        protocol = group.protocol
        found = await round_shelf.close_finished(
            tab.session, rows, protocol, pin.person
        )
        tab.close_sheet()
        on_done()
        _say(tab, found)

    pin = Pin(tab, "round-pin", signed, autofocus=tab.is_wide)
    tab.open_sheet(
        tr("Close and sign the finished rows"),
        paragraph(
            tr(
                "Each finished row becomes a signed record of its own. "
                "Open rows stay open."
            )
        ),
        pin.field.control,
        button("round-sign", tr("Sign and close"), pin.sign, kind="main", size="hands"),
    )


def _say(tab: Tab, found: round_shelf.Closed) -> None:
    closed = tr("Closed and signed: {count}.", count=len(found.names))
    if not found.refused:
        tab.tell(closed)
        return
    still = "\n".join(found.refused)
    still_open = tr("Still open: {count}", count=len(found.refused))
    tab.open_sheet(
        tr("What stays open"),
        banner(
            "round-said",
            f"{closed} {still_open}",
            Tone.NOTICE,
        ),
        paragraph(still),
    )


def _plain(key: str) -> str:
    return key.replace(":", "-")


_WIDE = 1200


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the sheet of the round that belongs to a group's exam."""
    group = await day.exam_or_day(tab, exam_id)
    if isinstance(group, Screen):
        return group
    sheet = RoundSheet(tab, group)
    await sheet.go_on()
    return sheet.screen()


@dataclass(slots=True, repr=False)
class RoundSheet:
    """The sheet: the animal in hand, and the rows so far."""

    tab: Tab
    group: ExamEditor
    _entry: RowEntry | RowByThumb = field(init=False)
    _rows: list[tuple[Exam, RoundRow]] = field(init=False)
    _list: Slot = field(init=False)
    _counts: Slot = field(init=False)
    _is_wide: bool = field(init=False)

    def __post_init__(self) -> None:
        """Take the columns of last time."""
        self._is_wide = self.tab.is_wide
        columns = self._chosen(
            round_exams.columns_kept(self.tab.session, self._species)
        )
        self._rows = self._read_rows()
        self._list = Slot(self._draw_list)
        self._counts = Slot(self._draw_counts)
        if self._is_wide:
            self._entry = RowEntry(self.tab, self.group, columns, self._refresh)
            return
        self._entry = RowByThumb(
            self.tab,
            self.group,
            columns,
            counts=self._draw_counts,
            rows=self._draw_list,
            more=self._more_button,
            close=self._close_button,
            on_change=self._refresh,
        )

    @property
    def _species(self) -> str:
        return self.group.exam.animal.species

    def screen(self) -> Screen:
        """Build the screen: a sheet for keys where there is room, else for a thumb."""
        animal = self.group.exam.animal
        entry, is_wide = self._entry.control(), self._is_wide
        body = [entry, self._counts.control, self._list.control] if is_wide else [entry]
        close, more = self._close_button(), self._more_button()
        return Screen(
            title=tr("Round: {name}", name=animal.name),
            subtitle=" · ".join(
                filter(None, (species_shown(animal.species), animal.place))
            ),
            back="/",
            width=_WIDE,
            pinned=[urgent_list.banner_slot(self.tab, self.group)],
            body=body,
            bottom=[close, more] if is_wide else [],
            scrolls=is_wide,
            is_dense=not is_wide,
            on_shown=self._shown,
            on_resize=self._resized,
        )

    def _resized(self) -> None:
        if self.tab.is_wide != self._is_wide:
            self.tab.start(self.tab.show_route())

    async def go_on(self) -> None:
        """Take in hand what was answered last by thumb and is not finished."""
        row = next((row for _, row in self._rows), None)
        if row is not None and row.open and not self._is_wide:
            await self._entry.go_on_with(row.exam_id)

    def _shown(self) -> None:
        """Ask for the columns the first time; after that the keyboard is ready."""
        if round_exams.columns_kept(self.tab.session, self._species) is None:
            self._ask_columns()
        else:
            self.tab.start(self._entry.begin_typing())

    def _close_button(self) -> ft.Semantics:
        label = tr("Close finished rows")
        if self._is_wide:
            return button("round-close", label, self._close, kind="main", size="hands")
        return button(
            "round-close", label, self._close, kind="tile", size="thumb", expand=1
        )

    def _more_button(self) -> ft.Semantics:
        icon = ft.Icons.MORE_VERT
        return button(
            "round-more",
            tr("More"),
            self._open_more,
            kind="icon",
            icon=icon,
            size="thumb",
        )

    def _open_more(self) -> None:
        """Offer what is seldom needed; closing too, while an animal is in hand."""
        row = self._entry.row
        offers: list[tuple[str, str, Callable[[], Any]]] = [
            ("round-words", tr("In words: one animal, one line"), self._words()),
            ("group-facts", tr("Group numbers"), self._facts),
            ("round-columns", tr("What is asked of every animal"), self._ask_columns),
            ("round-open", tr("Whole group"), self._way(self.group)),
            ("round-print", tr("Print"), self._print),
        ]
        if row is not None:
            name = row.exam.animal.name
            offers.insert(
                0, ("round-whole", tr("{name}: whole exam", name=name), self._way(row))
            )
            if not self._is_wide:
                offers.append(("round-close", tr("Close finished rows"), self._close))
        self.tab.open_sheet(
            tr("Round"),
            *(
                across(button(name, words, tapped, kind="tile"))
                for name, words, tapped in offers
            ),
        )

    def _print(self) -> None:
        """Offer the round as it stands, with rows left open for a pen."""

        def made(size: PageSize, font: Font) -> bytes:
            group, columns = self.group, self._entry.columns
            rows = [exam for exam, _ in self._read_rows()]
            round_ = (group.exam, group.protocol, columns, rows)
            return print_round(self.tab.vault, *round_, size, font)

        self.tab.close_sheet()
        open_print(self.tab, [Printable("round", tr("Round sheet"), made)])

    def _way(self, editor: ExamEditor) -> Callable[[], Awaitable[None]]:
        return self.tab.way(f"/exam/{editor.exam.exam_id}")

    def _words(self) -> Callable[[], Awaitable[None]]:
        return self.tab.way(f"/round/{self.group.exam.exam_id}/words")

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
        if isinstance(self._entry, RowByThumb):
            self._entry.refresh()
            return
        self._list.refresh()
        self._counts.refresh()

    def _draw_counts(self) -> ft.Control:
        closed = len(self.tab.vault.closed.for_group(self.group.exam.exam_id))
        words = rows_words((row for _, row in self._rows), closed)
        said = strong(words) if self._is_wide else quiet(words)
        return identified("round-counts", said)

    def _draw_list(self) -> ft.Control:
        rows = [row for _, row in self._rows]
        if not rows:
            return nothing_yet(
                tr(
                    "No row is open. Each animal that is begun will stand here until "
                    "it is done."
                )
            )
        return stack(heading(tr("Open rows")), *(self._line(row) for row in rows))

    def _line(self, row: RoundRow) -> ft.Control:
        async def go_on() -> None:
            await self._entry.go_on_with(row.exam_id)

        sign = ft.Icons.PRIORITY_HIGH if row.is_urgent else ft.Icons.EDIT_NOTE
        icon = sign if row.open else ft.Icons.CHECK_CIRCLE
        still = tr("OPEN: {points}", points=row.open) if row.open else tr("finished")
        words = " · ".join(filter(None, (row.shown, still)))
        name = for_choice("round-row", row.name.replace(" ", "-"))
        title = name_with_concern(row.name, row.has_bitten)
        return line_button(name, title, words, go_on, icon=icon)

    def _facts(self) -> None:
        exam_id = self.group.exam.exam_id
        rows = len(round_exams.open_rows(self.tab.session, exam_id))
        closed = len(self.tab.vault.closed.for_group(exam_id))
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

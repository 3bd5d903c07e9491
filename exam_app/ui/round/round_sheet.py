"""The round sheet: one animal after another, each row an exam of its own.

By keyboard: type the tag, Enter, then a cell and Enter, and so on; after the last cell
the next tag is asked for. By thumb: the same fields with their answers as buttons.
Nothing is filled down and nothing is normal until it was said of this animal.
"""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from functools import partial
from typing import Any

import flet as ft

from exam_app.app import exam_sessions, round_exams
from exam_app.app import round_exams as round_shelf
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Ask, Form, Kind
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
from exam_app.domain.animal.groups import GroupNumbersError, set_group
from exam_app.domain.animal.signalment import species_words
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.visit import GroupFacts
from exam_app.ui.day import day
from exam_app.ui.round.round_entry import RowEntry
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.urgent import urgent_list
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ToggleRow, pick
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.pin import Pin
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    heading,
    paragraph,
    quiet,
    side_by_side,
    stack,
    strong,
)

_NUMBERS = {
    "present": "How many are present",
    "examined": "How many are examined",
    "affected": "How many look affected",
    "dead": "How many are dead",
}
_ASKS = (
    *(Ask(name, label, kind=Kind.NUMBER) for name, label in _NUMBERS.items()),
    Ask("chosen", "How the examined ones were chosen"),
    Ask("feed", "Feed, as seen or told"),
    Ask("housing", "Housing, as seen or told"),
    Ask("note", "Note"),
)
_WAYS = ("every one", "every third", "as they came", "those that looked ill")


def open_group(
    tab: Tab, editor: ExamEditor, rows: int, on_done: Callable[[], None]
) -> None:
    """Open the sheet.

    Args:
        rows: How many animals of the round have an exam; said, never filled in.
        on_done: Called after the facts were recorded.
    """
    facts = asdict(editor.exam.group or GroupFacts())
    known = {name: "" if said is None else str(said) for name, said in facts.items()}
    typed = exam_sessions.typed_in(tab.session, editor, "group", "The group")
    form = Form(_ASKS, "group-field", known, typed=typed)
    view = FormView(form)

    async def save() -> None:
        if view.show_problem(*_no_number(form)):
            return
        said = _facts(form.values())
        try:
            set_group(editor.exam, said)
        except GroupNumbersError as refusal:
            view.show_problem("present", f"{refusal}. {refusal.advice}")
            return
        if await tab.change_and_close(
            editor, lambda exam, _edit: set_group(exam, said), "The group", typed
        ):
            on_done()

    ways = (
        pick(
            f"group-pick-{number}",
            way,
            partial(view.write, "chosen", way),
            is_chosen=False,
        )
        for number, way in enumerate(_WAYS)
    )
    tab.open_sheet(
        "The group",
        quiet(f"{rows} animals have an exam in this round."),
        *view.controls(*_NUMBERS, "chosen"),
        side_by_side(*ways),
        *view.controls("feed", "housing", "note"),
        button("group-save", "Save", save, kind="main", size="exam"),
        typed=typed,
    )


def _no_number(form: Form) -> tuple[str, str]:
    """Return the first count that is none, and what to do about it."""
    for name in _NUMBERS:
        typed = form[name]
        if typed and not (typed.isascii() and typed.isdigit() and len(typed) < 7):
            return name, "Type a whole number, or leave it empty."
    return "", ""


def _facts(said: Mapping[str, str]) -> GroupFacts:
    counts: dict[str, Any] = {n: int(said[n]) if said[n] else None for n in _NUMBERS}
    return GroupFacts(**{**said, **counts})


Chosen = Callable[[tuple[str, ...]], Awaitable[None]]


def open_columns(
    tab: Tab, offered: Sequence[Column], now: Sequence[Column], on_choose: Chosen
) -> None:
    """Ask which columns the round has beside the required ones."""
    free = {_plain(c.key): c for c in offered if not c.is_required}
    required = [column.label for column in offered if column.is_required]
    wanted = [_plain(column.key) for column in now if not column.is_required]

    async def toggled(plain: tuple[str, ...]) -> None:
        wanted[:] = plain

    async def done() -> None:
        tab.close_sheet()
        await on_choose(tuple(free[key].key for key in wanted))

    options = [(key, column.label) for key, column in free.items()]
    row = ToggleRow("round-column", options, toggled, tuple(wanted))
    tab.open_sheet(
        "What is asked of every animal?",
        paragraph(f"Always: {', '.join(required)}. Choose what else."),
        row.control,
        quiet("A column chosen is answered in every row, by a value or a reason."),
        button("round-columns-done", "Begin", done, kind="main", size="exam"),
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
        "Close and sign the finished rows",
        paragraph(
            "Each finished row becomes a signed record of its own. Open rows stay open."
        ),
        pin.field.control,
        button("round-sign", "Sign and close", pin.sign, kind="main", size="exam"),
    )


def _say(tab: Tab, found: round_shelf.Closed) -> None:
    closed = f"Closed and signed: {len(found.names)}."
    if not found.refused:
        tab.tell(closed)
        return
    still = "\n".join(found.refused)
    tab.open_sheet(
        "What stays open",
        banner("round-said", f"{closed} Still open: {len(found.refused)}", Tone.NOTICE),
        paragraph(still),
    )


def _plain(key: str) -> str:
    return key.replace(":", "-")


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
        closed = len(self.tab.vault.closed.for_group(self.group.exam.exam_id))
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

"""The clinic's list of what arrived: filtered, searched, in the order of reading."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import flet as ft

from exam_app.app.clinic.export import table_of, told
from exam_app.app.queries import clinic_records
from exam_app.app.view.clinic_review_presenter import (
    Filter,
    Key,
    Rank,
    ReadingList,
    filter_choices,
    is_acknowledged,
    key_of,
    next_to_read,
    review_lines,
    review_title,
    summary,
)
from exam_app.language.catalogue import to_translate, tr
from exam_app.paper.fonts import Font
from exam_app.paper.printing import print_day_list
from exam_app.paper.sheet import PageSize
from exam_app.store.repositories.rows import ClosedExam
from exam_app.ui.clinic import note_signing
from exam_app.ui.paper.print_sheet import Printable, print_button
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets import files as clinic_files
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import line_button, nothing_yet
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    heading,
    paragraph,
    quiet,
    side_by_side,
    stack,
    strong,
)

TWO_PANES_FROM, THREE_PANES_FROM = 960, 1200
Follow = Callable[[int, Key | None, Filter], None]
_AT_ONCE = 60
_ICONS = {
    Rank.URGENT_NOT_TOLD: ft.Icons.PRIORITY_HIGH,
    Rank.URGENT: ft.Icons.PRIORITY_HIGH,
    Rank.BITE: ft.Icons.WARNING_AMBER,
    Rank.TO_LOOK: ft.Icons.VISIBILITY_OUTLINED,
    Rank.OUTSIDE: ft.Icons.STRAIGHTEN,
    Rank.GAPS: ft.Icons.REMOVE_CIRCLE_OUTLINE,
    Rank.REST: ft.Icons.ARTICLE_OUTLINED,
    Rank.ACKNOWLEDGED: ft.Icons.TASK_ALT,
}
_FILTERS = {
    "day": to_translate("Day"),
    "device": to_translate("Device"),
    "place": to_translate("Place of the exam"),
    "kind": to_translate("Kind of animal"),
}
_UNREAD = (("yes", to_translate("Only what is not acknowledged")),)
_DAY_LIST = "Day list for the veterinarian"
_EMPTY = to_translate(
    "No record has arrived yet. Each one that does will stand here until it was read."
)


def panes(tab: Tab) -> int:
    """Return how many panes there is room for."""
    width = tab.page.width or 0
    return 1 + (width >= TWO_PANES_FROM) + (width >= THREE_PANES_FROM)


@dataclass(frozen=True, slots=True)
class Arrived:
    """What a review is made of.

    Attributes:
        rows: Of everything that arrived.
        names: Of the devices known here, by id.
        asked: What is still to be looked at again, by exam.
    """

    rows: list[ClosedExam]
    names: Mapping[str, str]
    asked: Mapping[str, str]


class ReviewList:
    """The rows that arrived: filtered, searched, in the order of reading.

    Attributes:
        every: What arrived, also what is not shown now.
        shown: What is shown, each row in the place where it stays.
        at: The record beside the list; none where there is no room for one.
        is_typing: Whether the search has the cursor.
        slots, headings: Of the rows and groups that are drawn.
    """

    def __init__(
        self, tab: Tab, arrived: Arrived, wanted: Filter, follow: Follow
    ) -> None:
        """Draw the rows.

        Args:
            tab: The tab.
            arrived: What is listed.
            wanted: What is shown at first.
            follow: Called after the window has changed its size, with the panes and
                the record that are shown, and what is left out.
        """
        self._follow = follow
        self.tab, self.every, self.names = tab, arrived.rows, arrived.names
        self.asked = dict(arrived.asked)
        self.wide = panes(tab)
        self.filter, self.count = wanted, _AT_ONCE
        self.at: Key | None = None
        self.shown = self._wanted()
        self.is_typing = False
        self.slots: dict[Key, Slot] = {}
        self.headings: dict[Rank, Slot] = {}
        self.rows = Slot(self._draw_rows)
        self.left_out = Slot(self._draw_left_out, hides_empty=True)
        self.reviewer = note_signing.reviewer_line(tab)
        self.search = text_field(
            "clinic-search",
            tr("Search"),
            value=wanted.words,
            on_change=self._search,
            on_blur=self._left_field,
        )
        self.search.entry.on_focus = self._in_field

    def screen(self) -> Screen:
        """Build the list as a screen of its own."""
        first = next_to_read(self.every)
        read, page = self.tab.way(f"/clinic/record/{first}"), ft.Icons.ARTICLE_OUTLINED
        reading = button(
            "clinic-read-next", tr("Read the first one"), read, icon=page, kind="main"
        )
        return Screen(
            title=tr("Review"),
            subtitle=summary(self.every),
            back="/",
            body=[*self.above(), self.rows.control, *self.table()],
            bottom=[reading] if first else [],
            on_leave=partial(note_signing.leave_review, self.tab),
            on_resize=self.resized,
        )

    def above(self) -> list[ft.Control]:
        """Draw the search, the filter and what they leave out."""
        if not self.every:
            return []
        icon = ft.Icons.FILTER_LIST
        words = tr("Filter") if panes(self.tab) == 1 else f"F  {tr('Filter')}"
        opener = button("clinic-filter", words, self.open_filter, icon=icon)
        self.search.control.expand = True
        return [ft.Row([self.search.control, opener]), self.left_out.control]

    def table(self) -> list[ft.Control]:
        """Draw the way to a table of what is shown."""
        icon = ft.Icons.TABLE_CHART_OUTLINED
        table = button(
            "clinic-save-table", tr("Save as a table"), self.save_table, icon=icon
        )
        sheet = Printable("day-list", tr("Day list"), self.listed)
        printed = print_button(self.tab, sheet)
        return [side_by_side(table, printed)] if self.every else []

    def listed(self, size: PageSize, font: Font) -> bytes:
        """Make a day list of what is shown."""
        rows = list(self.shown.rows)
        return print_day_list(self.tab.vault, rows, _DAY_LIST, size, font)

    async def save_table(self) -> None:
        """Offer what is shown as a table."""
        vault, chosen = self.tab.vault, list(self.shown.rows)
        name = f"records-{self.filter.day or 'all'}.csv"
        content, unread = await self.tab.session.read(lambda: table_of(vault, chosen))
        await clinic_files.offer_file(self.tab, name, content)
        self.tab.tell(told(unread))

    def open_filter(self) -> None:
        """Offer what can be left out of the list."""
        choices = filter_choices(self.every, self.names)

        def chooser(field: str, options: Any) -> ft.Control:  # noqa: ANN401
            now = getattr(self.filter, field)

            async def chosen(value: str) -> None:
                self._leave_out(self.filter.asking(field, value))

            group = for_choice("clinic-filter", field)
            row = ChoiceRow(
                group, options, chosen, chosen=now or None, size="usual", clearable=True
            )
            return row.control

        async def only_unread(value: str) -> None:
            self._leave_out(replace(self.filter, is_unread=bool(value)))

        unread = ChoiceRow(
            for_choice("clinic-filter", "unread"),
            [(key, tr(label)) for key, label in _UNREAD],
            only_unread,
            chosen="yes" if self.filter.is_unread else None,
            size="usual",
            clearable=True,
        )
        drawn = [
            part
            for field, options in choices.items()
            for part in (strong(tr(_FILTERS[field])), chooser(field, options))
        ]
        self.tab.open_sheet(
            tr("What is shown"), *drawn, strong(tr("State")), unread.control
        )

    def _in_field(self) -> None:
        self.is_typing = True

    def _left_field(self) -> None:
        self.is_typing = False

    def _search(self) -> None:
        self._leave_out(replace(self.filter, words=self.search.value))

    def _leave_out(self, wanted: Filter) -> None:
        self.filter, self.count = wanted, _AT_ONCE
        self.shown = self._wanted()
        self.rows.refresh()
        self.left_out.refresh()

    def _wanted(self) -> ReadingList:
        keeps = self.filter.keeps
        return ReadingList.of(
            row for row in self.every if keeps(row, self.said(row, row.pressing))
        )

    def resized(self) -> None:
        """Let the panes be drawn anew, if there is room for others now."""
        self._follow(self.wide, self.at, self.filter)

    def show_all(self) -> None:
        """Leave nothing out any more."""
        self.search.clear()
        self._leave_out(Filter())

    def _draw_left_out(self) -> ft.Control:
        if self.filter == Filter():
            return ft.Container()
        told = self.filter.told(self.names)
        count = tr(
            "{count} of {every} shown",
            count=len(self.shown.rows),
            every=len(self.every),
        )
        words = paragraph(f"{count}: {told}" if told else count)
        words.expand = True
        every = button("clinic-filter-all", tr("Show all"), self.show_all, kind="quiet")
        return ft.Row([words, every])

    def _draw_rows(self) -> ft.Control:
        self.slots.clear()
        self.headings.clear()
        if not self.every:
            receive, icon = self.tab.way("/clinic/receive"), ft.Icons.MOVE_TO_INBOX
            way = button("clinic-review-receive", tr("Receive"), receive, icon=icon)
            return nothing_yet(tr(_EMPTY), way)
        if not self.shown.rows:
            return quiet(
                tr("Nothing that is shown here fits. Show all, or search less.")
            )
        drawn: list[ft.Control] = []
        left = self.count
        for rank, there in self.shown.groups:
            if left > 0:
                self.headings[rank] = Slot(partial(self._draw_heading, rank))
                drawn.append(self.headings[rank].control)
                for row in there[:left]:
                    key = key_of(row)
                    self.slots[key] = Slot(partial(self._draw_row, key, rank))
                    control = self.slots[key].control
                    control.key = ft.ScrollKey(row_name(key))  # type: ignore[call-arg]
                    drawn.append(control)
                left -= len(there)
        if left < 0:
            label = tr("Show more ({count} further records)", count=-left)
            drawn.append(button("clinic-more", label, self._more, kind="quiet"))
        return stack(*drawn)

    def _more(self) -> None:
        self.count += _AT_ONCE
        self.rows.refresh()

    def _draw_heading(self, rank: Rank) -> ft.Control:
        words = self.shown.heading(rank)
        if rank in (Rank.URGENT_NOT_TOLD, Rank.URGENT):
            name = for_choice("clinic-summary", rank.name.lower())
            return banner(name, words, Tone.URGENT)
        return heading(words)

    def said(self, row: ClosedExam, pressing: tuple[str, ...] | None) -> str:
        """Return everything the list says of a row."""
        device = self.names.get(row.device_id, "")
        asked = self.asked.get(row.exam_id, "")
        return "\n".join(review_lines(row, device, pressing or (), asked))

    def _draw_row(self, key: Key, rank: Rank) -> ft.Control:
        row = self.shown.row(key)
        if row is None:
            return ft.Container()
        said = self.said(row, clinic_records.pressing_of(self.tab.vault, row))
        icon = _ICONS[Rank.ACKNOWLEDGED if is_acknowledged(row) else rank]
        go, is_here = self._way(key)
        name = for_choice("clinic-row", row_name(key))
        return line_button(
            name, review_title(row), said, go, icon=icon, is_here=is_here
        )

    def _way(self, key: Key) -> tuple[Callable[..., Any], bool]:
        """Return what a tap on a row does, and whether its record is shown already."""
        version = f"/{key[1]}" if key[1] else ""
        return self.tab.way(f"/clinic/record/{key[0]}{version}"), False


def row_name(key: Key) -> str:
    """Name a row of the list, for its control and for scrolling to it."""
    return f"{key[0]}/{key[1][:8]}" if key[1] else key[0]

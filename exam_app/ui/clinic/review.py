"""The clinic's reading list, and on a laptop the record beside it.

A phone shows the list, then one record. Where there is room the list, the record and
the same animal's earlier values stand beside one another, and single keys lead
through them. A row stays where it stands while the list is read, so that neither a
finger nor a key meets another record than the one that was looked at.
"""

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import flet as ft

from exam_app.app.queries import clinic_records
from exam_app.app.view.clinic_review_presenter import (
    Filter,
    Key,
    key_of,
    summary,
)
from exam_app.domain.errors import ExamError
from exam_app.exchange.exchange import Exchange
from exam_app.language.catalogue import to_translate, tr
from exam_app.record.notes import Note, NoteKind
from exam_app.ui.clinic import note_signing
from exam_app.ui.clinic.record import RecordView, build_alone, read_page
from exam_app.ui.clinic.review_list import Arrived, Follow, ReviewList, panes, row_name
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.shortcuts import Shortcut, answer, with_help
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.notices import banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    heading,
    quiet,
    scrolled,
    stack,
    strong,
)

# A record that came up less than this ago was not read: a key pressed twice means
# the one before it.
UNREAD_SECONDS = 0.35
_LIST_SHARE, _RECORD_SHARE, _EARLIER_SHARE = 6, 9, 5
_JUST_UP = to_translate(
    "Nothing was acknowledged: this record has only just come up. Once more."
)


async def build(tab: Tab) -> Screen:
    """Build the reading list of everything that arrived here."""
    return await _build(tab, None)


async def build_record(tab: Tab, exam_id: str, record_hash: str = "") -> Screen:
    """Build one record, beside the list where there is room.

    Args:
        tab: The tab.
        exam_id: The exam's own id.
        record_hash: Of one version, where there are several.

    Raises:
        ExamNotHereError: No such record is here.
        RecordError: It does not verify or cannot be read.
    """
    return await _build(tab, (exam_id, record_hash))


async def _build(tab: Tab, key: Key | None, wanted: Filter | None = None) -> Screen:
    vault, kept = tab.vault, wanted or Filter()
    if panes(tab) == 1 and key is not None:
        alone = await build_alone(tab, *key)
        alone.on_resize = partial(_follow_width, tab, 1, key, kept)
        return alone
    follow = partial(_follow_width, tab)
    rows = await tab.session.read(lambda: clinic_records.received_rows(vault))
    names = await tab.session.read(Exchange(vault).pairing.names)
    asked = await tab.session.read(lambda: clinic_records.rechecks_asked(vault, rows))
    arrived = Arrived(rows, names, asked)
    if panes(tab) == 1:
        return ReviewList(tab, arrived, kept, follow).screen()
    reading = _Panes(tab, arrived, kept, follow)
    first = key or reading.shown.next_after(("", ""))
    if first is None and rows:
        first = key_of(reading.shown.rows[0])
    if first is not None:
        await reading.open(first, is_asked=key is not None)
    return reading.screen()


class _Panes(ReviewList):
    """The list, the record beside it, and the animal's earlier values."""

    def __init__(
        self, tab: Tab, arrived: Arrived, wanted: Filter, follow: Follow
    ) -> None:
        """Draw the list; the record comes up by ``open``."""
        self._asked_for: Key | None = None
        self.view: RecordView | None = None
        self._fault = ""
        self._came_up = 0.0
        self._is_signing = False
        super().__init__(tab, arrived, wanted, follow)
        self.column = scrolled(self.rows.control, *self.table())
        self.record = Slot(self._draw_record, expand=True)
        self.earlier = Slot(self._draw_earlier, expand=True)
        self.counted = Slot(lambda: strong(summary(self.every)))
        self.ways = Slot(self._draw_ways)
        recheck = partial(self.open_note, NoteKind.RECHECK_REQUEST)
        note = partial(self.open_note, NoteKind.ADDENDUM)
        keys = (
            Shortcut("A", tr("Acknowledge the record that is shown"), self.acknowledge),
            Shortcut("R", tr("Ask for a re-check of it"), recheck),
            Shortcut("N", tr("Add a note to it"), note),
            Shortcut("J", tr("Next to read"), self.read_next),
            Shortcut("K", tr("Previous"), self.read_before),
            Shortcut("S", tr("Search"), self._go_to_search),
            Shortcut(
                "F", tr("Filter: leave out what is not looked for"), self.open_filter
            ),
        )
        self.shortcuts = with_help(tab, "?", keys)

    def screen(self) -> Screen:
        """Build the panes as one screen."""
        left = stack(*self.above(), self.column)
        left.expand, left.tight = _LIST_SHARE, False
        shares = [(self.record, _RECORD_SHARE), (self.earlier, _EARLIER_SHARE)]
        others: list[ft.Control] = []
        for slot, share in shares[: self.wide - 1]:
            slot.control.expand = share
            others.append(slot.control)
        row = ft.Row(
            [left, *others],
            expand=True,
            spacing=16,
            vertical_alignment=ft.CrossAxisAlignment.STRETCH,
        )
        self.counted.control.expand = 1
        self.reviewer.control.expand = 1
        return Screen(
            title=tr("Review"),
            back="/",
            pinned=[ft.Row([self.reviewer.control, self.counted.control], spacing=16)],
            body=[row],
            bottom=[self.ways.control] if self.every else [],
            scrolls=False,
            width=None,
            on_key=self.pressed,
            on_person=self._person_changed,
            on_leave=partial(note_signing.leave_review, self.tab),
            on_resize=self.resized,
        )

    async def pressed(self, event: ft.KeyboardEvent) -> None:
        """Do what a single key stands for, while nothing is typed or laid over."""
        if not self.is_typing:
            await answer(self.tab, self.shortcuts, event)

    async def open(self, key: Key, *, is_asked: bool = False) -> None:
        """Show a record beside the list.

        Args:
            key: Of its row.
            is_asked: Whether one that cannot be read is refused; else its fault stands
                in its place, so that the next one can be reached.
        """
        self._asked_for, before = key, self.at
        view, fault = None, ""
        try:
            read = await read_page(self.tab, *key)
            view = RecordView(self.tab, read, self.names)
        except ExamError as error:
            if is_asked:
                raise
            fault = tr(error.advice)
        if self._asked_for != key:
            # Another one was asked for meanwhile, and comes up in its place.
            return
        self.at, self.view, self._fault = key, view, fault
        self._came_up = time.monotonic()
        for slot in (self.record, self.earlier, self.ways, self.reviewer):
            slot.refresh()
        for one in {before, key}:
            if one in self.slots:
                self.slots[one].refresh()
        if key in self.slots and before is not None:
            await self.column.scroll_to(scroll_key=row_name(key), duration=0)

    async def read_next(self) -> None:
        """Show the next record that nobody acknowledged."""
        key = self.shown.next_after(self._asked_for or ("", ""))
        if key is None:
            self.tab.tell(tr("Everything shown here was acknowledged."))
        elif key != self._asked_for:
            await self.open(key)

    async def read_before(self) -> None:
        """Show the record above in the list."""
        key = self.shown.before(self._asked_for or ("", ""))
        if key is None:
            self.tab.tell(tr("This is the first one."))
        else:
            await self.open(key)

    async def acknowledge(self) -> None:
        """Acknowledge the record that is shown, once, and no other."""
        view, key = self.view, self.at
        if view is None or key is None or self._is_signing or key != self._asked_for:
            return
        if view.acknowledged_by:
            who = view.acknowledged_by
            self.tab.tell(tr("Already acknowledged by {name}.", name=who))
            return
        if time.monotonic() - self._came_up < UNREAD_SECONDS:
            self.tab.tell(tr(_JUST_UP))
            return
        self._is_signing = True
        try:
            kept, signed = view.read.kept, partial(self._signed, key, view)
            await note_signing.acknowledge(self.tab, kept, signed)
        finally:
            self._is_signing = False
            self.reviewer.refresh()

    def open_note(self, kind: NoteKind) -> None:
        """Open the sheet of a note on the record that is shown."""
        view, key = self.view, self.at
        if view is not None and key is not None and key == self._asked_for:
            signed = partial(self._signed, key, view)
            note_signing.open_note(self.tab, view.read.kept, kind, signed)

    async def _signed(self, key: Key, view: RecordView, note: Note) -> None:
        """Show what was signed, in the place where it was read."""
        await view.update_notes()
        if note.kind is NoteKind.ACKNOWLEDGEMENT:
            name = note.author.name
            self.shown = self.shown.acknowledged(key, name)
            self.every = [
                replace(row, acknowledged_by=name) if key_of(row) == key else row
                for row in self.every
            ]
        elif note.kind is NoteKind.RECHECK_REQUEST:
            vault, rows = self.tab.vault, list(self.every)
            self.asked = await self.tab.session.read(
                lambda: clinic_records.rechecks_asked(vault, rows)
            )
        rank = self.shown.rank(key)
        slots = [self.slots.get(key), self.counted, self.ways, self.reviewer]
        for slot in (*slots, self.headings.get(rank) if rank is not None else None):
            if slot is not None:
                slot.refresh()

    def _person_changed(self) -> None:
        self.reviewer.refresh()
        if self.view is not None and self.view.on_person is not None:
            self.view.on_person()

    async def _go_to_search(self) -> None:
        await self.search.focus()

    def _way(self, key: Key) -> tuple[Callable[..., Any], bool]:
        async def tapped() -> None:
            await self.open(key)

        return tapped, key == self.at

    def _draw_record(self) -> ft.Control:
        view = self.view
        if view is None:
            return (
                banner("clinic-unreadable", self._fault) if self._fault else quiet("")
            )
        earlier = view.earlier if self.wide == 2 else []
        return scrolled(*view.body, *earlier)

    def _draw_earlier(self) -> ft.Control:
        if self.view is None:
            return quiet("")
        nothing = quiet(tr("No earlier values of this animal are here."))
        title = heading(tr("The same animal before"))
        return scrolled(title, *(self.view.earlier or [nothing]))

    def _draw_ways(self) -> ft.Control:
        is_done = self.view is not None and bool(self.view.acknowledged_by)
        acknowledged = tr("Acknowledged") if is_done else tr("Acknowledge")
        recheck = partial(self.open_note, NoteKind.RECHECK_REQUEST)
        note = partial(self.open_note, NoteKind.ADDENDUM)
        # Five words stand in a line also where there are two panes.
        has_room = self.wide > 2
        again = tr("Ask for a re-check") if has_room else tr("Re-check")
        before, following = tr("Previous"), tr("Next to read")
        drawn: list[ft.Control] = [
            button(
                "clinic-acknowledge",
                f"A  {acknowledged}",
                self.acknowledge,
                kind="other" if is_done else "main",
                icon=ft.Icons.DONE_ALL if has_room else None,
                expand=1,
            ),
            button("clinic-recheck", f"R  {again}", recheck, expand=1),
            button("clinic-add-note", f"N  {tr('Add a note')}", note, expand=1),
            button("clinic-read-before", f"K  {before}", self.read_before, expand=1),
            button("clinic-read-next", f"J  {following}", self.read_next, expand=1),
        ]
        return ft.Row(drawn, spacing=12)


def _follow_width(tab: Tab, count: int, key: Key | None, wanted: Filter) -> None:
    """Draw as many panes as there is room for now, on the record that is shown."""

    async def drawn_anew() -> None:
        await tab.show(await _build(tab, key, wanted))

    if panes(tab) != count and tab.sheet is None:
        tab.start(drawn_anew())

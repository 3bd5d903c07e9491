"""The panes of an open exam: the list, the current place, its answers, the strip.

One tap draws what it changed and nothing else, all of it together: the line it folds,
the card that comes up, the zone, and the strip's words.
"""

import asyncio
import functools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import flet as ft

from exam_app.app.exam_editor import TURNS_UNTIL_SENT, ExamEditor
from exam_app.app.exam_view import RegionView, VitalView
from exam_app.app.view.exam_places import (
    Section,
    Status,
    next_place,
    place_of_vital,
    place_to_go_on,
    sections,
    status,
    vital_of,
)
from exam_app.domain.protocol.protocol import split_key
from exam_app.domain.wording.written_record import write_record
from exam_app.ui.exam.exam_foot import body_button, foot_buttons, review_button
from exam_app.ui.exam.exam_list import ShortList, listed_rows
from exam_app.ui.exam.exam_strip import Strip
from exam_app.ui.exam.exam_zone import ExamZone
from exam_app.ui.exam.side_by_side import side_by_side
from exam_app.ui.exam.step_button import step_button, stepped
from exam_app.ui.region.region_row import RegionRow
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import SCROLLS
from exam_app.ui.vital.vital_row import VitalRow
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.slot import Slot, is_on_page

_THREE_PANES_FROM = 1000
# Below, a pad with its states leaves no room for a row more.
_LOW = 700
_DRAWN_SECONDS = 0.1
# So much of the height that nothing is left for the list.
_ALL = 1000


@dataclass(slots=True, repr=False)
class ExamPanes:
    """Where an exam is answered.

    Attributes:
        before: What stands above the list's first line.
        after: What stands below its last.
        short: What is asked, where that is not the whole exam.
    """

    tab: Tab
    editor: ExamEditor
    before: Sequence[ft.Control]
    after: Sequence[ft.Control]
    short: ShortList | None = None
    strip: Strip = field(init=False)
    _rows: dict[str, RegionRow | VitalRow] = field(default_factory=dict)
    _lines: dict[str, Slot] = field(default_factory=dict)
    _order: tuple[str, ...] = ()
    _list: ft.Column = field(init=False)
    _zone: Slot = field(init=False)
    _answers: ExamZone = field(init=False)
    _card: Slot | None = None
    _record: Slot | None = None
    _changed: set[str] = field(default_factory=set)
    _is_waiting: bool = False
    _listener: Any = None
    _shape: tuple[bool, ...] = ()
    # The place whose card is drawn, and the one beside which a step can be taken back.
    _drawn: tuple[str, str] = ("", "")
    _shown: str = ""

    def __post_init__(self) -> None:
        """Find the current place, and follow everything that can change it."""
        editor, view = self.editor, self.editor.view
        every = sections(editor.exam, editor.protocol)
        listed = (Section("", self.short.places),) if self.short else every
        for section in listed:
            self._order += section.places
            for place in section.places:
                self._rows[place] = self._row_of(place)
        self.strip = Strip(self.tab, editor, self._jump)
        self._bring_up(self._first())
        self._listener = self._heard
        for observed in (
            *view.regions.values(),
            *view.vitals.values(),
            view.steps,
            view.parked,
            view.visit["animal"],
        ):
            observed.subscribe(self._listener)

    def _row_of(self, place: str) -> RegionRow | VitalRow:
        if vital_id := vital_of(place):
            return VitalRow(self.tab, self.editor, vital_id, lambda: self._left(place))
        region = self.editor.protocol.region(place)
        if region is None:
            raise LookupError(place)
        return RegionRow(self.tab, self.editor, region)

    # Which place is current

    def _status(self, place: str) -> Status:
        return status(self.editor.exam, self.editor.protocol, place)

    def _next(self, place: str = "") -> str:
        return next_place(self.editor.exam, self.editor.protocol, place)

    def _first(self) -> str:
        """Return where the hand goes on: where it was, or behind what it said last."""
        current = self.editor.view.current
        if current.place in self._rows:
            return self._following(current.place)
        if self.short is not None:
            return self._next()
        going_on = place_to_go_on(self.editor.exam, self.editor.protocol)
        return going_on or next(iter(self._order), "")

    def _following(self, place: str) -> str:
        """Return the place itself, or the next one once it was answered or put off."""
        current = self.editor.view.current
        now = self._status(place)
        is_left = now is not Status.OPEN and current.status not in ("", now, "done")
        return self._after(place) if is_left else place

    def _after(self, place: str) -> str:
        """Return the next open place; where nothing is open the same, or the end."""
        return self._next(place) or ("" if self.short else place)

    def _bring_up(self, place: str) -> None:
        current = self.editor.view.current
        if place != current.place:
            current.side = ""
            current.begin_settling()
        current.place = place
        if place:
            current.status = self._status(place)
        row = self._rows.get(place)
        if isinstance(row, VitalRow):
            row.begin()

    def _left(self, place: str) -> None:
        """Go on from a vital that was answered anew."""
        if self.editor.view.current.place == place:
            self.go(self._after(place))

    def go(self, place: str) -> None:
        """Bring a place up."""
        if place in self._rows or (self.short and not place):
            self._bring_up(place)
            self._flush()

    def go_beside(self, step: int) -> None:
        """Bring up the place so many lines further down the list, or further up."""
        place, order = self.editor.view.current.place, self._order
        at = order.index(place) + step if place in order else 0
        if 0 <= at < len(order):
            self.go(order[at])

    def _take(self, key: str) -> None:
        """Bring up a part that was tapped on the drawing, and offer its side first."""
        place, side = split_key(key)
        if place not in self._rows:
            return
        self._bring_up(place)
        current = self.editor.view.current
        current.side = side
        current.begin_settling()
        self._changed.add(place)
        self._flush()

    def _jump(self, title: str) -> None:
        """Bring up what is open first below a heading, else show the heading."""
        exam, protocol = self.editor.exam, self.editor.protocol
        if title in self._rows:
            self.go(title)
            return
        places = next(
            (s.places for s in sections(exam, protocol) if s.title == title), ()
        )
        still = [p for p in places if self._status(p) is Status.OPEN]
        if places:
            self.go(next(iter(still), places[0]))
        else:
            self.tab.start(self._list.scroll_to(scroll_key=title, duration=0))

    # What is drawn

    def _heard(self, sender: object, _field: str | None) -> None:
        if isinstance(sender, RegionView):
            self._changed.add(split_key(sender.key)[0])
        elif isinstance(sender, VitalView):
            self._changed.add(place_of_vital(sender.vital_id))
        elif sender is self.editor.view.visit["animal"]:
            self._changed.update(self._rows)
        if self._is_waiting:
            return
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            # The app behind this screen has ended: there is nobody to draw for.
            return
        self._is_waiting = True
        # What a sheet answers goes first; the list lies below it.
        turns = 0 if self.tab.sheet is None else TURNS_UNTIL_SENT
        self._flush_in(turns, loop)

    def _flush_in(self, turns: int, loop: asyncio.AbstractEventLoop) -> None:
        if turns:
            loop.call_soon(self._flush_in, turns - 1, loop)
        else:
            loop.call_soon(self._flush)

    def _flush(self) -> None:
        """Draw what was changed since, with the place that has come up."""
        self._is_waiting = False
        if self.editor.exam.is_closed or not is_on_page(self._list):
            return
        changed, self._changed = self._changed, set()
        view = self.editor.view
        place = view.current.place
        undone = [p for p in view.steps.again_at if p in changed and p in self._rows]
        following = undone[0] if undone else self._following(place)
        if following != place or place in changed:
            self._bring_up(following)
        self._draw(changed)

    def _draw(self, changed: set[str]) -> None:
        view, before = self.editor.view, self._drawn
        place = view.current.place
        self._drawn = (place, stepped(self.editor, self._rows))
        if before != self._drawn:
            changed = changed | {*before, *self._drawn}
        for one in changed:
            if one in self._lines:
                self._lines[one].refresh()
        if place in changed:
            if self._card is not None:
                self._card.refresh()
            self._redraw_zone()
        if self._record is not None and changed:
            # Written when the answer is seen: it takes as long as all the rest.
            later = asyncio.get_running_loop().call_later
            later(_DRAWN_SECONDS, self._record.refresh)
        self.strip.show(place)
        if place != before[0]:
            # A hand sees what came up once it is drawn, on a slow phone much later.
            view.current.begin_settling()
            self.show_current()

    def show_current(self) -> None:
        """Bring the current place into view, and give its answer the focus of a key."""
        place = self.editor.view.current.place
        if place not in self._order or not is_on_page(self._list):
            return
        above = self._order[max(0, self._order.index(place) - 1)]
        before, self._shown = self._shown, place
        self.tab.start(self._scroll(above, again=before != above))
        row = self._rows[place]
        if isinstance(row, RegionRow) and row.zone.main_button:
            self.tab.give_focus(row.zone.main_button.content)

    async def _scroll(self, above: str, *, again: bool) -> None:
        await self._list.scroll_to(scroll_key=above, duration=0)
        if again:
            # What folded above it was measured as it was: once more, when it is drawn.
            await asyncio.sleep(_DRAWN_SECONDS)
            if is_on_page(self._list):
                await self._list.scroll_to(scroll_key=above, duration=0)

    def _draw_line(self, place: str) -> ft.Control:
        def tapped() -> None:
            self.go(place)

        row, is_current = self._rows[place], self.editor.view.current.place == place
        is_stepped = place == stepped(self.editor, self._rows)
        step = [step_button(self.tab, self.editor)] if is_stepped else []
        if is_current and self._card is None and not self._is_crowded:
            return row.card(*step)
        return row.line(tapped, *step, is_chosen=is_current)

    def _draw_card(self) -> ft.Control:
        row = self._rows.get(self.editor.view.current.place)
        return row.card() if row else ft.Container()

    def _draw_zone(self) -> ft.Control:
        return self._answers.draw(is_crowded=self._is_crowded)

    @property
    def _is_crowded(self) -> bool:
        """Whether a vital's answers leave no room for the list on this phone."""
        row = self._rows.get(self.editor.view.current.place)
        if not isinstance(row, VitalRow) or self._card is not None:
            return False
        return ROOM.is_large_text or (self.is_low and row.has_pad)

    def _redraw_zone(self) -> None:
        self._zone.control.expand = _ALL if self._is_crowded else None
        self._zone.refresh()
        if self.short is not None:
            self.short.on_end(not self.editor.view.current.place)

    # How it is laid out

    @property
    def is_low(self) -> bool:
        """Whether there is no room for a strip: a low phone, or large text on any."""
        is_little = (self.tab.page.height or _LOW) < _LOW or ROOM.is_large_text
        return not self.tab.is_wide and is_little and self.short is None

    def _shape_now(self) -> tuple[bool, ...]:
        is_widest = (self.tab.page.width or 0) >= _THREE_PANES_FROM
        return self.tab.is_wide, is_widest, self.is_low

    def resized(self) -> None:
        """Lay the panes out anew where the window has become another."""
        if self._shape_now() != self._shape:
            self.tab.start(self.tab.show_route())

    def control(self) -> ft.Control:
        """Lay the panes out for this window."""
        self._shape = self._shape_now()
        is_wide, is_widest, is_low = self._shape
        if is_wide:
            self._card = Slot(self._draw_card)
        self._drawn = (self.editor.view.current.place, stepped(self.editor, self._rows))
        for place in self._rows:
            line = Slot(functools.partial(self._draw_line, place))
            line.control.key = ft.ScrollKey(place)  # type: ignore[call-arg]
            self._lines[place] = line
        rows = listed_rows(self.tab, self.editor, self._lines, self.go, self.short)
        self._list = ft.Column(
            [*self.before, *rows, *self.after],
            spacing=0,
            expand=True,
            scroll=SCROLLS,
            horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
        )
        listed = identified("exam-list", self._list, expand=True)
        self._answers = ExamZone(
            self.tab,
            self.editor,
            self._rows,
            self.go,
            self._take,
            self.strip.next_parked,
            self.short,
            is_low,
        )
        self._zone = Slot(self._draw_zone)
        self._redraw_zone()
        body = [] if is_low else body_button(self.tab, self.editor, self._take)
        foot = foot_buttons(self.tab, self.editor) if is_wide else []
        self.strip.lay_out(
            ends=[*body, review_button(self.tab, self.editor), *foot],
            is_low=is_low or self.short is not None,
            is_widest=is_widest,
        )
        if is_wide and self._card is not None:
            if is_widest:
                # What stands there already is not sent, and not laid out, again.
                self._record = Slot(self._draw_record, in_place=True)
            return side_by_side(listed, self._card, self._zone.control, self._record)
        return ft.Column([listed, self._zone.control], expand=True, spacing=6)

    def _draw_record(self) -> ft.Control:
        words = write_record(self.editor.exam, self.editor.protocol).as_text()
        said = ft.Text(words, theme_style=ft.TextThemeStyle.BODY_SMALL)
        return identified("exam-written", said)

"""The history of an animal: its values over time, finds, what was given, its exams.

The newest records are read before the screen is shown, the others while it is looked
at, so that an animal of two hundred exams opens at once.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import flet as ft

from exam_app.app.queries import animals as animal_queries
from exam_app.app.queries.history import ReadHistory, read_history, read_rest
from exam_app.app.view.history_presenter import (
    HistoryLine,
    drawn_first,
    elsewhere,
    newest_words,
    past_lines,
    since_words,
    waiting_words,
)
from exam_app.app.view.kept_rows import lines_shown
from exam_app.app.view.round_presenter import address_of
from exam_app.domain.animal.history import PastLine, Series
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.people import Role
from exam_app.domain.wording.kept_words import reason_shown
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.repositories.rows import ClosedExam
from exam_app.ui.animal.past_values import (
    drawn_values,
    history_lines,
    name_of,
    open_lines,
    open_values,
    record_route,
    table_button,
)
from exam_app.ui.record.record_notes import request_lines
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import BODY_WIDTH, GAP
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import GrowingList, line_button, nothing_yet
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, section, stack

_PADDING = 32
_MOST_LISTED = 5
_EXAMS_AT_ONCE = 20
_THERE_AGAIN = to_translate(
    "As the first exam said that found it gone. The next exam that looks at the part "
    "takes it back."
)


async def build(tab: Tab, animal_id: str, exam_id: str = "") -> Screen:
    """Build an animal's history.

    Args:
        tab: The tab.
        animal_id: The animal.
        exam_id: The exam or record from which it was opened, to go back to.

    Raises:
        AnimalNotHereError: There is no animal of that id.
    """
    animal, _ = animal_queries.fetch(tab.session, animal_id)
    vault, role = tab.vault, tab.person.role
    read = await tab.session.read(lambda: read_history(vault, animal_id, role))
    return _History(tab, animal, exam_id, read).screen()


def history_way(tab: Tab, animal_id: str, exam_id: str = "") -> ft.Control:
    """Make the button that leads to an animal's history."""
    back = f"/{exam_id}" if exam_id else ""
    way = tab.way(f"/history/{animal_id}{back}")
    label = tr("Values and finds over time")
    return button("history-open", label, way, icon=ft.Icons.TIMELINE)


def _width() -> float:
    return min(ROOM.width, BODY_WIDTH)


@dataclass(slots=True, repr=False)
class _History:
    """What was read of an animal so far, and how it is drawn."""

    tab: Tab
    animal: Animal
    exam_id: str
    read: ReadHistory
    _role: Role = field(init=False)
    _body: Slot = field(init=False)
    _exams: GrowingList = field(
        default_factory=lambda: GrowingList("history-exams-more", _EXAMS_AT_ONCE)
    )
    _width: float = 0.0

    def screen(self) -> Screen:
        """Build the screen."""
        self._role = self.tab.person.role
        self._body = Slot(self._draw)
        shown = Screen(
            title=self.animal.name or tr("unnamed"),
            # With the largest text a longer one fills a small phone.
            subtitle=tr("Over time"),
            back=self._back(),
            body=[self._body.control],
            on_resize=self._resized,
        )

        def read_rest() -> None:
            if self.read.waiting:
                self.tab.start(self._read_rest(shown))

        def other_person() -> None:
            role = self.tab.person.role
            if role is not self._role:
                # Parts and vitals are named in other words for a volunteer.
                self._role = role
                self.tab.start(self._read_rest(shown))

        shown.on_shown = read_rest
        shown.on_person = other_person
        return shown

    def _back(self) -> str:
        """Return where it was opened: an open exam, a record, or the animal."""
        if not self.exam_id:
            return f"/start/{self.animal.animal_id}"
        drafts = self.tab.vault.drafts.of_animal(self.animal.animal_id)
        own = (address_of(row) for row in drafts if row.exam_id == self.exam_id)
        return next(own, record_route(self.tab, self.exam_id))

    def _resized(self) -> None:
        if _width() != self._width:
            self._body.refresh()

    async def _read_rest(self, shown: Screen) -> None:
        role = self._role

        def is_wanted() -> bool:
            return self.tab.screen is shown and role is self._role

        animal_id = self.animal.animal_id
        read = await read_rest(self.tab.session, animal_id, role, is_wanted=is_wanted)
        if read is not None:
            self.read = read
            self._body.refresh()

    def _draw(self) -> ft.Control:
        self._width = _width()
        read, history = self.read, self.read.history
        if not read.rows:
            return nothing_yet(
                tr(
                    "No exam of this animal is closed here yet. Its values and finds "
                    "will stand here, one exam beside the other."
                )
            )
        plotted = [one for one in drawn_first(history) if len(one.numbers) > 1]
        others = [one for one in drawn_first(history) if len(one.numbers) < 2]
        said = waiting_words(read.waiting, read.unread)
        gone = [replace(one, text=reason_shown(one.text)) for one in history.gone]
        return stack(
            *request_lines(self.tab, self.animal.animal_id),
            *self._plots(plotted),
            *self._others(others),
            *self._listed("gone", tr("Not present"), gone, tr(_THERE_AGAIN)),
            *self._listed("lumps", tr("Lumps"), history.lumps),
            *self._listed("wounds", tr("Wounds"), history.wounds, elsewhere(history)),
            *self._listed("finds", tr("Other finds"), history.found),
            *self._listed("given", tr("Given"), history.given),
            *self._listed(
                "rechecks", tr("To be looked at again, as planned"), history.rechecks
            ),
            *self._rows(read.rows),
            *([identified("history-waiting", quiet(said))] if said else []),
        )

    def _plots(self, plotted: Sequence[Series]) -> list[ft.Control]:
        columns = 2 if self.tab.is_wide else 1
        body = self._width - 2 * GAP
        width = (body - GAP * (columns - 1)) / columns - _PADDING
        sections = [self._plot(series, width) for series in plotted]
        rows: list[ft.Control] = []
        for at in range(0, len(sections), columns):
            pair = sections[at : at + columns]
            empty = [ft.Container(expand=1)] * (columns - len(pair))
            rows.append(
                ft.Row(
                    [*pair, *empty],
                    spacing=GAP,
                    vertical_alignment=ft.CrossAxisAlignment.START,
                )
            )
        return rows

    def _plot(self, series: Series, width: float) -> ft.Control:
        drawn = drawn_values(series, width, "history-plot")
        box = section(tr(series.label), *drawn, table_button(self.tab, series))
        return identified(for_choice("history", name_of(series)), box, expand=1)

    def _others(self, others: Sequence[Series]) -> list[ft.Control]:
        def opens(series: Series) -> Callable[[], None]:
            return lambda: open_values(self.tab, [series])

        lines = [
            line_button(
                for_choice("history-other", name_of(series)),
                f"{tr(series.label)}: {newest_words(series)}",
                since_words(series),
                opens(series),
                icon=ft.Icons.HISTORY,
            )
            for series in others
        ]
        return [section(tr("Other values"), *lines)] if lines else []

    def _listed(
        self, key: str, title: str, lines: Sequence[PastLine], below: str = ""
    ) -> list[ft.Control]:
        written = past_lines(lines)
        if not written:
            return []
        drawn = history_lines(
            self.tab, for_choice("history", key), written[:_MOST_LISTED]
        )
        if len(written) > _MOST_LISTED:
            drawn.append(self._all(key, title, written))
        drawn += [quiet(below)] if below else []
        return [section(title, *drawn)]

    def _all(self, key: str, title: str, lines: Sequence[HistoryLine]) -> ft.Control:
        def opened() -> None:
            open_lines(self.tab, title, lines)

        name = for_choice("history-all", key)
        return button(
            name, tr("All {count}", count=len(lines)), opened, icon=ft.Icons.LIST
        )

    def _rows(self, rows: Sequence[ClosedExam]) -> list[ft.Control]:
        def draw(count: int) -> tuple[list[ft.Control], str]:
            left = len(rows) - count
            label = tr("Show earlier exams ({left})", left=left) if left > 0 else ""
            return [self._row(row) for row in rows[:count]], label

        return [
            section(tr("Exams ({count})", count=len(rows)), self._exams.drawn(draw))
        ]

    def _row(self, row: ClosedExam) -> ft.Control:
        urgent = f" · {tr('urgent')}" if row.is_urgent else ""
        return line_button(
            for_choice("history-exam", f"{row.exam_id}-{row.record_hash[:8]}"),
            f"{row.started[:10]}{urgent}",
            "; ".join(lines_shown(row.species, row.pressing or row.headline)),
            self.tab.way(record_route(self.tab, row.exam_id)),
            icon=ft.Icons.PRIORITY_HIGH if urgent else ft.Icons.TASK_ALT,
        )

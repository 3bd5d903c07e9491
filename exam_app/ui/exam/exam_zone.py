"""The answers of the current place; they change, and what they stand in stays.

A press that fell before an answer and was let go after it still meets its control, if
that is there before and after: the keys of a pad, and what every exam has within reach.
So these are made once and put into rows that stay, and the others are named by their
place in them.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.exam_places import Status, next_place, status
from exam_app.ui.exam.exam_foot import body_button, foot_buttons
from exam_app.ui.exam.exam_list import ShortList, onward
from exam_app.ui.region.region_row import RegionRow
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.vital.vital_row import VitalRow
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.number_pad import NumberPad
from exam_app.ui.widgets.room import ROOM, SPACE, rows_that_fit
from exam_app.ui.widgets.texts import stack

Row = RegionRow | VitalRow


@dataclass(slots=True, repr=False)
class LastRows:
    """The last rows of a zone, which stay with what is always within reach.

    Attributes:
        make: Makes what is always there; it stands at the end.
        width: Of the rows, in pixels.
    """

    make: Callable[[], Sequence[ft.Control]]
    width: float
    _lines: list[ft.Row] = field(default_factory=list)
    _always: tuple[tuple[ft.Control, int | bool | None], ...] = ()
    _has_keys: bool | None = None

    def draw(self, ways: Sequence[ft.Control]) -> list[ft.Control]:
        """Put other ways before it, in as few rows as have room for every word."""
        if self._has_keys is not HANDS.has_keys:
            self._has_keys = HANDS.has_keys
            self._always = tuple((one, one.expand) for one in self.make())
        for number, one in enumerate(ways):
            one.key = _key(f"way-{number}")
        for one, share in self._always:
            one.expand = share
        always = (one for one, _ in self._always)
        rows = rows_that_fit([*ways, *always], self.width)
        while len(self._lines) < len(rows):
            self._lines.append(ft.Row(spacing=SPACE))
        # Counted from the foot, where what is always there stands.
        for line, row in zip(self._lines, reversed(rows), strict=False):
            line.controls = row
        return [*reversed(self._lines[: len(rows)])]


def rows_of_part(answers: Sequence[ft.Control]) -> list[ft.Control]:
    """Draw the answers of a part: of two parts the same place is the same button."""
    part = stack(*answers, spacing=SPACE)
    part.key = _key("part")
    return [part] if answers else []


def _key(name: str) -> str:
    """Name what is compared with what stood there; all is made anew for a key."""
    return f"{name}-by-key" if HANDS.has_keys else name


@dataclass(slots=True, repr=False)
class ExamZone:
    """What answers the current place, and what else is within reach there.

    Attributes:
        tab: Where it is shown.
        editor: The open exam.
        rows: Of every place, by its name.
        go: Brings a place up.
        take: Called with the part and side that is tapped on the drawing.
        parked: Makes the way to what was put off.
        short: As of the panes.
        is_low: Whether there is no strip above the list.
    """

    tab: Tab
    editor: ExamEditor
    rows: Mapping[str, Row]
    go: Callable[[str], None]
    take: Callable[[str], None]
    parked: Callable[[], list[ft.Control]]
    short: ShortList | None
    is_low: bool
    _shown: ft.Column = field(init=False)
    _frame: ft.Semantics = field(init=False)
    _upwards: ft.ListView = field(init=False)
    _pad: NumberPad = field(init=False)
    _ends: LastRows = field(init=False)

    def __post_init__(self) -> None:
        """Make what stays."""
        self._shown = stack(spacing=SPACE)
        self._frame = identified("exam-zone", self._shown)
        self._upwards = ft.ListView(reverse=True, spacing=SPACE)
        self._pad = NumberPad("thumb")
        self._ends = LastRows(self._always, ROOM.zone)

    def _always(self) -> Sequence[ft.Control]:
        if self.short is not None:
            return self.short.foot()
        is_above = self.is_low or self.tab.is_wide
        return [] if is_above else foot_buttons(self.tab, self.editor)

    def draw(self, *, is_crowded: bool) -> ft.Control:
        """Draw what answers the current place.

        Args:
            is_crowded: Whether a vital's answers take the room of the list too.
        """
        tab, editor = self.tab, self.editor
        place = editor.view.current.place
        row = self.rows.get(place)
        if row is None and self.short is not None:
            return ft.Container()
        now = status(editor.exam, editor.protocol, place)
        is_done = not row or now is Status.DONE
        body = body_button(tab, editor, self.take) if self.is_low else []
        if isinstance(row, VitalRow) and is_crowded:
            following = [self._onward(place, is_short=True)] if is_done else []
            return self._draw_crowded(row, body, following)
        rows: list[ft.Control] = []
        if is_done:
            rows.append(ft.Row([self._onward(place)]))
        if isinstance(row, VitalRow):
            self._shown.controls = [*rows, *row.zone(self._pad), *self._ends.draw(body)]
            return self._frame
        answers, ways = (row.zone.rows(), row.zone.ways()) if row else ([], [])
        parked = self.parked() if self.is_low and ways else []
        last = self._ends.draw([*ways, *body, *parked])
        self._shown.controls = [*rows, *rows_of_part(answers), *last]
        return self._frame

    def _draw_crowded(
        self, row: VitalRow, body: Sequence[ft.Control], following: list[ft.Semantics]
    ) -> ft.Control:
        """Draw from the foot upwards: where not all has room, Save is seen first."""
        # The value of a rate has room beside it, which saves the title's row.
        ends, above = (body, []) if row.has_room else ([], body)
        self._shown.controls = [*row.zone(self._pad, *ends), *self._ends.draw([])]
        self._upwards.controls = [self._frame, row.headed(*following, *above)]
        return self._upwards

    def _onward(self, place: str, *, is_short: bool = False) -> ft.Semantics:
        tab, editor = self.tab, self.editor
        following = next_place(editor.exam, editor.protocol, place)
        return onward(tab, editor, following, self.go, self.short, is_short=is_short)

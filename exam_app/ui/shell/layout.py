"""The frame around every screen: header, body, bottom, and what lies over them.

One view for the whole run; only its parts change. Over the screen lie, from below:
the line that tells what was done, the sheet, the refusal or mishap, and the cover
of a locked session; all but the first are modal. Under a cover the screen stays as it
was, so that it comes back exactly.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import flet as ft

from exam_app.language.catalogue import tr
from exam_app.ui.shell.dialogs import Modals
from exam_app.ui.shell.focus import Opener
from exam_app.ui.shell.saved_mark import SAVED, SavedMark
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import CONTROL_HEIGHT, CORNER, GAP, SCROLLS, WIDE_FROM
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.room import (
    ROOM,
    SPACE,
    drawn_in_rows,
    least_width,
    line_width,
    sharing_width,
    width_of,
)
from exam_app.ui.widgets.slot import is_on_page, send
from exam_app.ui.widgets.texts import heading, quiet, scrolled, stack

_SHEET_WIDTH = 640
_DENSE_GAP = 6
# Of a title, and what stands beside it: gaps, and the examiner's sign and frame.
_TITLE, _INITIALS, _BESIDE_TITLE = 21, "MMM", 120
_DENSE_SPACE, _DENSE_FRAME, _DENSE_TITLE = 4, 24, 18
_DENSE_PADDING = ft.Padding.symmetric(vertical=18, horizontal=8)


@dataclass(repr=False)
class Frame:
    """The layers of the one view.

    Attributes:
        on_back: Called by the arrow of the header.
        on_examiner: Called by the examiner's button.
        opener, on_left: As of ``Modals``.
        view: What the page shows.
    """

    on_back: Callable[..., Any]
    on_examiner: Callable[..., Any]
    opener: Callable[[], Opener | None]
    on_left: Callable[[Opener | None], None]
    _is_dense: bool = False

    def __post_init__(self) -> None:
        """Lay the layers over one another, all but the screen empty."""
        self._modal = Modals(lambda: self.view.page, self.opener, self.on_left)
        self._screen = ft.Container(expand=True, alignment=ft.Alignment.TOP_CENTER)
        self._told = ft.Container(visible=False)
        self._examiner = ft.Container()
        self._saved = SavedMark(self._room_beside_examiner)
        safe = ft.SafeArea(self._screen, expand=True)
        self.view = ft.View(controls=[safe], padding=0, spacing=0)

    def show_screen(
        self,
        screen: Screen,
        notices: list[ft.Control],
        *,
        header_scrolls: bool = False,
    ) -> None:
        """Put a screen in the place of the one before it.

        Args:
            screen: What is shown.
            notices: Drawn above it, and never scrolled away.
            header_scrolls: Whether title and examiner go away with the body, so that
                largest text leaves room for it.
        """
        # The label of a first field that is typed in stands above its frame: without
        # a space that scrolls with it, it is cut.
        above: list[ft.Control] = [ft.Container()] if screen.scrolls else []
        self._is_dense = screen.is_dense
        self._saved.stand_above(self._place, screen)
        header = self._header(screen)
        # A title below what is pinned would name the wrong half.
        goes = header_scrolls and screen.scrolls and not screen.pinned
        is_above = not goes
        above += [] if is_above else [header]
        gap = _DENSE_GAP if screen.is_dense else GAP
        # The bar of what scrolls stands at the edge, beside the frames.
        edge = gap if screen.scrolls else 0
        if screen.scrolls:
            body = scrolled(*above, *screen.body, edge=edge)
        else:
            body = stack(*screen.body)
            body.expand, body.tight = True, False
        rows: list[ft.Control] = [
            *([header] if is_above else []),
            *notices,
            *screen.pinned,
        ]
        foot: list[ft.Control] = []
        if screen.bottom:
            foot.append(_bottom(screen.bottom, is_wide=is_wide(self._width)))
        space = 0 if screen.scrolls or screen.is_dense else 4
        padded = ft.Container(body, padding=ft.Padding.only(top=space))
        shown = self._under_told(padded, has_foot=bool(screen.bottom))
        content = stack(
            *(_beside_edge(row, edge) for row in rows),
            shown,
            *(_beside_edge(row, edge) for row in foot),
            spacing=gap,
        )
        content.expand, content.tight = True, False
        around = ft.Padding(left=gap, top=gap, right=gap - edge, bottom=gap)
        inner = ft.Container(content, width=screen.width, padding=around)
        self._screen.content = identified("screen", inner)
        send(self._screen)

    def _under_told(self, body: ft.Control, *, has_foot: bool) -> ft.Control:
        """Lay what is told over a body, never over the buttons that lead on.

        Those stand at the foot, however many rows they take; without a foot they are
        the last of the body, and what is told lies over its beginning.
        """
        place = ft.Alignment.BOTTOM_CENTER if has_foot else ft.Alignment.TOP_CENTER
        before = self._told
        self._told = ft.Container(
            before.content, visible=before.visible, alignment=place
        )
        layers: list[ft.Control] = [body, self._told]
        return ft.Stack(layers, expand=True, fit=ft.StackFit.EXPAND)

    def drop_screen(self) -> None:
        """Take the screen away, for a tab that has lost the session."""
        self._screen.content = None
        send(self._screen)

    def show_saved(self, text: str, *, is_safe: bool = True) -> None:
        """Write in the header whether the last change is stored."""
        self._saved.show(text, self._place, is_safe=is_safe)

    def show_examiner(self, initials: str, spoken: str) -> None:
        """Write who examines now on the button in the header."""
        who = ft.OutlinedButton(
            content=initials,
            icon=None if self._is_dense else ft.Icons.PERSON,
            tooltip=spoken,
            on_click=self.on_examiner,
            style=ft.ButtonStyle(padding=_DENSE_PADDING) if self._is_dense else None,
        )
        self._examiner.content = identified("examiner", who)
        send(self._examiner)

    def lay_over(
        self,
        name: str,
        control: ft.Control,
        *,
        on_outside: Callable[..., Any] | None = None,
        on_escape: Callable[..., Any] | None = None,
        grows: bool = False,
        fills: bool = False,
        foot: Sequence[ft.Control] = (),
    ) -> None:
        """Lay a control over the screen.

        Args:
            name: ``told``, ``sheet``, ``stop``, ``cover`` or ``over``.
            control: What is shown.
            on_outside: Called by a tap beside it, and by Escape.
            on_escape: Called by Escape only.
            grows: Whether it changes its height while it is there.
            fills: Whether it takes the whole window, and is not scrolled.
            foot: What stays in sight below it.
        """
        if name == "told":
            self._show_told(_card(control))
            return
        if fills:
            control = _whole_card(control)
        elif foot:
            below = identified(f"{name}-foot", stack(*foot, spacing=8))
            control = _card_with_foot(control, below)
        elif name != "cover":
            wide = is_wide(self._width)
            control = _scrolling_card(control, is_wide=wide, grows=grows)
        self._modal.lay(name, control, beside=on_outside, escape=on_escape)

    @property
    def over(self) -> Sequence[ft.Control]:
        """What the page has to hold beside the view, for what is laid over it."""
        return self._modal.ready

    def take_off(self, name: str) -> None:
        """Take a layer away again."""
        if name != "told":
            self._modal.take(name)
        elif self._told.visible:
            self._show_told(None)

    def _show_told(self, card: ft.Control | None) -> None:
        self._told.visible, self._told.content = card is not None, card
        send(self._told)

    def is_over(self, name: str) -> bool:
        """Whether something lies on one of the layers that have to be left first."""
        return self._modal.has(name)

    def escape(self) -> bool:
        """Leave what lies on top, as the key does; say whether it could be left."""
        return self._modal.escape()

    def _header(self, screen: Screen) -> ft.Control:
        if screen.is_dense:
            return self._dense_header(screen)
        title = heading(screen.title, lines=3)
        # Where a word of it would be broken, it has a line of its own; large words that
        # say more take the whole width too, instead of a column beside two buttons.
        sides = CONTROL_HEIGHT * bool(screen.back) + width_of(_INITIALS, _TITLE)
        taken = sides + _BESIDE_TITLE + CONTROL_HEIGHT * len(screen.actions)
        room = (self._width or ROOM.width) - taken
        is_long = ROOM.is_large_text and line_width(screen.subtitle, SAVED) > room
        fits = width_of(screen.title, _TITLE) <= room and not is_long
        words: list[ft.Control] = [title] if fits else []
        above: list[ft.Control] = [] if fits else [title]
        if screen.subtitle:
            (above if is_long else words).append(quiet(screen.subtitle))
        row: list[ft.Control] = []
        if screen.back is not None:
            arrow, go = ft.Icons.ARROW_BACK, self.on_back
            row.append(button("back", tr("Back"), go, kind="icon", icon=arrow))
        if screen.has_examiner:
            words.append(self._saved.control)
        row.append(ft.Column(words, spacing=2, expand=True, tight=True))
        row += screen.actions
        if screen.has_examiner:
            row.append(self._examiner)
        drawn = ft.Row(row, spacing=8, vertical_alignment=ft.CrossAxisAlignment.CENTER)
        return stack(*above, drawn, spacing=0) if above else drawn

    def _dense_header(self, screen: Screen) -> ft.Control:
        """Draw title and what is saved in one row, or a title too long for it above.

        The line below the title goes on in the next where it has no room: no word of
        it is cut.
        """
        beside: list[ft.Control] = []
        if screen.back is not None:
            arrow, go = ft.Icons.ARROW_BACK, self.on_back
            beside.append(button("back", tr("Back"), go, kind="icon", icon=arrow))
        ends = [*screen.actions, self._examiner]
        title = heading(screen.title, lines=2, is_small=True)
        taken = (CONTROL_HEIGHT + _DENSE_SPACE) * (len(ends) + len(beside))
        taken += _DENSE_SPACE + _DENSE_FRAME
        room = (self._width or 0) - taken
        fits = width_of(screen.title, _DENSE_TITLE) <= room
        # What names the exam beside its animal takes no room from its answers.
        is_left_out = ROOM.is_large_text and line_width(screen.subtitle, SAVED) > room
        said = ft.Container() if is_left_out else quiet(screen.subtitle)
        below = screen.progress or said
        line: ft.Control = below
        if fits:
            line = ft.Row(
                [below, self._saved.control], wrap=True, spacing=6, run_spacing=0
            )
        words = [title, line] if fits else [line]
        middle = ft.Column(words, spacing=0, expand=True, tight=True)
        row = ft.Row(
            [*beside, middle, *ends],
            spacing=_DENSE_SPACE,
            vertical_alignment=ft.CrossAxisAlignment.CENTER,
        )
        if fits:
            return row
        title.expand = True
        return ft.Column(
            [ft.Row([title, self._saved.control]), row], spacing=0, tight=True
        )

    def _room_beside_examiner(self) -> float:
        taken = CONTROL_HEIGHT + width_of(_INITIALS, _TITLE) + _BESIDE_TITLE
        return (self._width or ROOM.width) - taken

    @property
    def _place(self) -> str:
        """What the address names first: an exam, an animal, a page of settings."""
        route = self.view.page.route if is_on_page(self.view) else ""
        return "/".join((route or "").partition("?")[0].split("/")[:3])

    @property
    def _width(self) -> float | None:
        return self.view.page.width if is_on_page(self.view) else None


def is_wide(width: float | None) -> bool:
    """Whether a window of this width, in pixels, is wider than a phone."""
    return (width or 0) >= WIDE_FROM


def _card(control: ft.Control) -> ft.Container:
    return ft.Container(
        ft.Column([control], tight=True),
        bgcolor=ft.Colors.SURFACE,
        border=ft.Border.all(2, ft.Colors.OUTLINE),
        border_radius=CORNER,
        padding=16,
        margin=8,
        width=_SHEET_WIDTH,
        # A tap inside must not count as one beside it.
        on_click=lambda: None,
    )


def _whole_card(control: ft.Control) -> ft.Control:
    card = _card(control)
    card.content, card.width, card.padding, card.expand = control, None, 8, True
    return card


def _scrolling_card(control: ft.Control, *, is_wide: bool, grows: bool) -> ft.Control:
    # A column that scrolls takes all the height there is, so it stands around the
    # card and not inside it. What grows stands at the top: from the foot, or from the
    # middle, it would move what is being tapped.
    place = ft.MainAxisAlignment.CENTER if is_wide else ft.MainAxisAlignment.END
    place = ft.MainAxisAlignment.START if grows else place
    return ft.Column(
        [_card(control)],
        scroll=SCROLLS,
        alignment=place,
        horizontal_alignment=ft.CrossAxisAlignment.CENTER,
    )


def _card_with_foot(control: ft.Control, foot: ft.Control) -> ft.Control:
    # As high as the window whatever it says, so that the foot never moves.
    card = _card(control)
    line = ft.Divider(height=2, thickness=2, color=ft.Colors.OUTLINE)
    # The bar of what scrolls takes the room at the right.
    side = ft.Padding.only(right=GAP)
    card.content = ft.Column(
        [
            scrolled(control),
            ft.Container(line, padding=side),
            ft.Container(foot, padding=side),
        ],
        spacing=12,
    )
    card.padding = ft.Padding(left=16, top=16, right=16 - GAP, bottom=12)
    card.expand = True
    return ft.Column([card], horizontal_alignment=ft.CrossAxisAlignment.CENTER)


def _beside_edge(row: ft.Control, edge: int) -> ft.Control:
    return ft.Container(row, padding=ft.Padding.only(right=edge)) if edge else row


def _bottom(controls: list[ft.Control], *, is_wide: bool) -> ft.Control:
    # On a laptop at the right: Tab goes from left to right among what is level, and
    # would leave a long list for the foot after each of its rows.
    place = ft.MainAxisAlignment.END if is_wide else ft.MainAxisAlignment.START
    bar = controls[0] if len(controls) == 1 else None
    room = ROOM.width - 2 * GAP
    if isinstance(bar, ft.Row):
        if is_wide:
            return ft.Container(bar)
        return stack(*drawn_in_rows(bar.controls, room), spacing=SPACE)
    if not is_wide and all(map(least_width, controls)):
        # Two share the width: of three, words would take a line each.
        pairs = (controls[at : at + 2] for at in range(0, len(controls), 2))
        rows = [row for pair in pairs for row in sharing_width(pair, room)]
        return stack(*rows, spacing=SPACE)
    row = ft.Row(controls, wrap=True, alignment=place, spacing=GAP, run_spacing=GAP)
    return ft.Container(row, padding=ft.Padding.symmetric(vertical=4))

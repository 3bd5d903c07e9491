"""The frame around every screen: header, body, bottom, and what lies over them.

One view for the whole run; only its parts change. Over the screen lie, from below:
the line that tells what was done, the sheet, the refusal or mishap, and the cover
of a locked session; all but the first are modal. Under a cover the screen stays as it
was, so that it comes back exactly.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import flet as ft

from exam_app.ui.shell.dialogs import Modals
from exam_app.ui.shell.focus import Opener
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import CORNER, GAP, WIDE_FROM
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.slot import is_on_page, send
from exam_app.ui.widgets.texts import heading, quiet, stack

_SHEET_WIDTH = 640
_FOOT = 88


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

    def __post_init__(self) -> None:
        """Lay the layers over one another, all but the screen empty."""
        self._modal = Modals(lambda: self.view.page, self.opener, self.on_left)
        top, foot = ft.Alignment.TOP_CENTER, ft.Alignment.BOTTOM_CENTER
        self._screen = ft.Container(expand=True, alignment=top)
        self._told = ft.Container(visible=False, alignment=foot)
        self._saved, self._examiner = ft.Container(), ft.Container()
        self._saved_sign = ft.Icon(ft.Icons.CHECK, size=16)
        self._saved_text = ft.Text("", theme_style=ft.TextThemeStyle.LABEL_SMALL)
        layers = ft.Stack(
            [self._screen, self._told], expand=True, fit=ft.StackFit.EXPAND
        )
        safe = ft.SafeArea(layers, expand=True)
        self.view = ft.View(controls=[safe], padding=0, spacing=0)

    def show_screen(self, screen: Screen, notices: list[ft.Control]) -> None:
        """Put a screen in the place of the one before it."""
        # The label of a first field that is typed in stands above its frame: without
        # a space that scrolls with it, it is cut.
        above = [ft.Container()] if screen.scrolls else []
        body = stack(*above, *screen.body)
        body.expand, body.tight = True, False
        body.scroll = ft.ScrollMode.AUTO if screen.scrolls else None
        rows: list[ft.Control] = [self._header(screen), *notices, *screen.pinned]
        space = 0 if screen.scrolls else 4
        rows.append(ft.Container(body, expand=True, padding=ft.Padding.only(top=space)))
        if screen.bottom:
            rows.append(_bottom(screen.bottom, is_wide=is_wide(self._width)))
        content = stack(*rows)
        content.expand, content.tight = True, False
        inner = ft.Container(content, width=screen.width, padding=ft.Padding.all(12))
        # What is told never lies over the buttons at the foot: urgent is one of them.
        foot = _FOOT if screen.bottom else 0
        self._told.padding = ft.Padding.only(bottom=foot)
        self._screen.content = identified("screen", inner)
        send(self._screen)

    def drop_screen(self) -> None:
        """Take the screen away, for a tab that has lost the session."""
        self._screen.content = None
        send(self._screen)

    def show_saved(self, text: str, *, is_safe: bool = True) -> None:
        """Write in the header whether the last change is stored.

        The controls stay and change their text: a control drawn anew would take the
        cursor away from whoever types while a save returns.
        """
        colour = ft.Colors.ON_SURFACE_VARIANT if is_safe else ft.Colors.ERROR
        self._saved_sign.icon = ft.Icons.CHECK if is_safe else ft.Icons.WARNING_AMBER
        self._saved_sign.color = self._saved_text.color = colour
        self._saved_text.value = text
        if self._saved.content is None:
            line = ft.Row([self._saved_sign, self._saved_text], spacing=4, tight=True)
            self._saved.content = identified("saved", line)
        said = self._saved.content
        if isinstance(said, ft.Semantics):
            said.live_region = not is_safe or None
        send(self._saved)

    def show_examiner(self, initials: str, spoken: str) -> None:
        """Write who examines now on the button in the header."""
        who = ft.OutlinedButton(
            content=initials,
            icon=ft.Icons.PERSON,
            tooltip=spoken,
            on_click=self.on_examiner,
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
    ) -> None:
        """Lay a control over the screen.

        Args:
            name: ``told``, ``sheet``, ``stop``, ``cover`` or ``over``.
            control: What is shown.
            on_outside: Called by a tap beside it, and by Escape.
            on_escape: Called by Escape only.
            grows: Whether it changes its height while it is there.
        """
        if name == "told":
            self._show_told(_card(control))
            return
        if name != "cover":
            wide = is_wide(self._width)
            control = _scrolling_card(control, is_wide=wide, grows=grows)
        self._modal.lay(name, control, beside=on_outside, escape=on_escape)

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
        words: list[ft.Control] = [heading(screen.title, lines=3)]
        if screen.subtitle:
            words.append(quiet(screen.subtitle))
        row: list[ft.Control] = []
        if screen.back is not None:
            arrow, go = ft.Icons.ARROW_BACK, self.on_back
            row.append(button("back", "Back", go, kind="icon", icon=arrow))
        if screen.has_examiner:
            words.append(self._saved)
        row.append(ft.Column(words, spacing=2, expand=True, tight=True))
        if screen.has_examiner:
            row.append(self._examiner)
        return ft.Row(row, spacing=8, vertical_alignment=ft.CrossAxisAlignment.CENTER)

    @property
    def _width(self) -> float | None:
        return self.view.page.width if is_on_page(self.view) else None


def is_wide(width: float | None) -> bool:
    """Whether a window of this width, in pixels, is wider than a phone."""
    return (width or 0) >= WIDE_FROM


def _card(control: ft.Control) -> ft.Control:
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


def _scrolling_card(control: ft.Control, *, is_wide: bool, grows: bool) -> ft.Control:
    # A column that scrolls takes all the height there is, so it stands around the
    # card and not inside it. What grows stands at the top: from the foot, or from the
    # middle, it would move what is being tapped.
    place = ft.MainAxisAlignment.CENTER if is_wide else ft.MainAxisAlignment.END
    place = ft.MainAxisAlignment.START if grows else place
    return ft.Column(
        [_card(control)],
        scroll=ft.ScrollMode.AUTO,
        alignment=place,
        horizontal_alignment=ft.CrossAxisAlignment.CENTER,
    )


def _bottom(controls: list[ft.Control], *, is_wide: bool) -> ft.Control:
    # On a laptop at the right: Tab goes from left to right among what is level, and
    # would leave a long list for the foot after each of its rows.
    place = ft.MainAxisAlignment.END if is_wide else ft.MainAxisAlignment.START
    row = ft.Row(controls, wrap=True, alignment=place, spacing=GAP, run_spacing=GAP)
    return ft.Container(row, padding=ft.Padding.symmetric(vertical=4))

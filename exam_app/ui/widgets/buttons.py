"""The button: at least 56 pixels high, 64 in the exam, with an identifier."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal

import flet as ft

from exam_app.ui.shell.theme import (
    CONTROL_HEIGHT,
    CORNER,
    GLOVED_CONTROL_HEIGHT,
    LABEL_LINE,
    LARGEST_SIGN,
    LEAST_PADDING,
)
from exam_app.ui.widgets.hands import HANDS, Size, control_height
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.room import ROOM, Needs, needs_of
from exam_app.ui.widgets.still_button import (
    THIN,
    StillButton,
    button_of,
    loosen_sides,
    sides_of,
    still,
    still_face,
)

OnClick = Callable[..., Any]
Kind = Literal["other", "main", "lead", "quiet", "urgent", "icon", "tile", "main tile"]

# A button's icon is as high as a line of its label, the gap behind it Material's.
_TICK, _GAP_AFTER_TICK = LABEL_LINE, 8
_OVER_WORD = 24
_BAR_ABOVE, _BESIDE_WORD, _UNDER_ICON = 6, 2, 15
# Size of a label's font at normal text.
_LABEL, _UNDER_SIGN = 17, 14
SIDES = 18
# Three buttons share a phone's width, and "abnormality" has to stay one word.
_TILE_SIDES = 4
# Where a tile is as wide as its words, they keep off its frame.
_LOOSE_SIDES = 14
_FILLED = ("main", "lead", "main tile", "urgent")
_TILES = ("tile", "main tile")
_OF_EXAM = (*_TILES, "lead", "urgent")
# What answers an exam, by kind: its ground, if it has one, and its words' colour.
_STILL: dict[Kind, tuple[ft.ColorValue | None, ft.ColorValue]] = {
    "tile": (None, ft.Colors.PRIMARY),
    "main tile": (ft.Colors.PRIMARY, ft.Colors.ON_PRIMARY),
    "urgent": (ft.Colors.ERROR, ft.Colors.ON_ERROR),
}


@ft.control("FilledButton")  # type: ignore[arg-type]
class FilledButton(ft.FilledButton):
    """A filled button whose style is sent again only when it is another.

    Flet's own copies it at every update of what stands around it, as at each letter
    typed beside it, and sends the copy.
    """

    def before_update(self) -> None:
        """Keep the style that was sent, where the new copy is the same."""
        sent = self._internals.get("style")
        super().before_update()  # type: ignore[no-untyped-call]
        _keep_sent(self, sent)


@ft.control("IconButton")  # type: ignore[arg-type]
class _IconButton(ft.IconButton):
    def before_update(self) -> None:
        sent = self._internals.get("style")
        super().before_update()  # type: ignore[no-untyped-call]
        _keep_sent(self, sent)


def _keep_sent(control: ft.Control, sent: ft.ButtonStyle | None) -> None:
    if sent is not None and control._internals.get("style") == sent:
        control._internals["style"] = sent


def button(
    identifier: str,
    words: str,
    on_click: OnClick,
    *,
    kind: Kind = "other",
    size: Size | None = None,
    icon: ft.IconData | None = None,
    spoken: str | None = None,
    expand: int | bool | None = None,
    disabled: bool = False,
    autofocus: bool = False,
    is_row: bool = False,
) -> ft.Semantics:
    """Make a button.

    Args:
        words: Shown, and wrapped rather than cut; what an icon alone does is read
            aloud and shown on hover.
        kind: ``main`` is the one that a screen leads to, ``lead`` the same as large as
            in the exam, ``other`` stands beside it,
            ``quiet`` has no frame, for the way that is seldom taken. ``urgent`` has
            the urgent colours and their sign. ``icon`` is square and shows its icon
            only. A ``tile`` has little padding at its sides, a ``main tile`` is the
            answer most often given.
        size: Of the exam for tiles and what is urgent, else as anywhere, unless told.
        spoken: Read aloud and shown on hover, where the words alone are not enough.
        is_row: Whether it fills the width, its words at the left; of a tile.
    """
    if kind == "icon":
        square = _square(words, icon, size)
        square.on_click, square.autofocus = on_click, autofocus
        named = identified(identifier, square, expand=expand)
        named.data = Needs(0, 0, square.width or 0)
        return named
    height = control_height(size or "exam")
    sides = _TILE_SIDES if _is_narrow(kind, size) else SIDES
    sign = icon or (ft.Icons.PRIORITY_HIGH if kind == "urgent" else None)

    def make() -> ft.Control:
        quiet = ft.TextButton if kind == "quiet" else ft.OutlinedButton
        return (FilledButton if kind in _FILLED else quiet)(
            content=centred(words, height) if kind in _TILES else words,
            icon=sign,
            on_click=on_click,
            style=_style(kind, size, words, is_row=is_row),
            tooltip=spoken,
            disabled=disabled,
            autofocus=autofocus,
        )

    if kind in _STILL and not disabled:
        ground, colour = _STILL[kind]
        # Keeps the height, whether the words take one line or two.
        least = height - 2 * LEAST_PADDING
        inner = still(
            make,
            still_face(words, least, colour, icon=sign, is_row=is_row),
            on_click,
            tooltip=spoken,
            ground=ground,
            frame=None if ground else THIN,
            sides=sides,
            above=LEAST_PADDING,
        )
    else:
        inner = make()
    named = identified(identifier, inner, expand=expand)
    named.button = isinstance(inner, StillButton)
    beside = _sign_width() * (sign is not None) + 2 * sides
    named.data = needs_of(words, _LABEL, beside)
    return named


def _sign_width() -> float:
    return _TICK * min(ROOM.text_scale, LARGEST_SIGN) + _GAP_AFTER_TICK


def sign_size() -> float:
    """Return the size of a sign beside lines of words: a label's would be small."""
    return _OVER_WORD * min(ROOM.text_scale, LARGEST_SIGN)


def centred(
    words: str, height: int, style: ft.TextThemeStyle | None = None
) -> ft.Control:
    """Write the words of a tile, which take two lines where one is as high.

    Args:
        words: Shown; more than one of them may be wrapped.
        height: Of the tile.
        style: Of the text; a label's without.
    """
    said = ft.Text(words, text_align=ft.TextAlign.CENTER, theme_style=style)
    if " " not in words:
        return said
    said.expand, said.expand_loose = True, True
    # What stands beside them keeps the height, in place of the padding.
    upright = ft.Container(width=0, height=height - 2 * LEAST_PADDING)
    return ft.Row([upright, said], spacing=0, tight=True)


def bar_button(
    identifier: str, words: str, icon: ft.IconData, on_click: OnClick
) -> ft.Semantics:
    """Make a button of the bar at a screen's foot: an icon with a word under it."""
    said = ft.Text(words, theme_style=ft.TextThemeStyle.BODY_SMALL)
    shown = ft.Column(
        [ft.Icon(icon, size=_OVER_WORD), said],
        spacing=0,
        tight=True,
        horizontal_alignment=ft.CrossAxisAlignment.CENTER,
    )
    style = ft.ButtonStyle(
        padding=ft.Padding.symmetric(vertical=_BAR_ABOVE, horizontal=_BESIDE_WORD)
    )
    pressed = ft.TextButton(content=shown, on_click=on_click, style=style)
    named = identified(identifier, pressed, expand=1)
    named.data = needs_of(words, _UNDER_ICON, 2 * _BESIDE_WORD)
    return named


def sign_button(
    identifier: str, words: str, icon: ft.IconData, on_click: OnClick, *, spoken: str
) -> ft.Semantics:
    """Make an urgent button as wide as high: its sign over its word."""
    colour, size = ft.Colors.ON_ERROR, GLOVED_CONTROL_HEIGHT if HANDS.gloved else 0
    said = ft.Text(words, size=_UNDER_SIGN, weight=ft.FontWeight.W_600, color=colour)
    shown = ft.Column(
        [ft.Icon(icon, color=colour, size=_OVER_WORD), said],
        spacing=0,
        tight=True,
        horizontal_alignment=ft.CrossAxisAlignment.CENTER,
    )
    side = size or CONTROL_HEIGHT
    pressed = FilledButton(
        content=shown,
        on_click=on_click,
        width=side,
        height=side,
        tooltip=spoken,
        style=ft.ButtonStyle(padding=0, bgcolor=ft.Colors.ERROR, color=colour),
    )
    named = identified(identifier, pressed)
    named.data = Needs(0, 0, side)
    return named


def colour_button(named: ft.Control, colour: ft.ColorValue) -> None:
    """Give a button without a ground the colour of the words it stands among.

    Args:
        named: As ``button`` made it; one with a ground of its own stays.
    """
    inner = button_of(named)
    if not isinstance(inner, ft.OutlinedButton | ft.TextButton | ft.IconButton):
        return
    if isinstance(named, ft.Semantics):
        # A still one has its own colours.
        named.content, named.button = inner, False
    style = inner.style or ft.ButtonStyle()
    style.color = style.icon_color = colour
    if isinstance(inner, ft.OutlinedButton):
        style.side = ft.BorderSide(2, colour)
    inner.style = style


def loosen(named: ft.Control) -> ft.Control:
    """Give a tile room at its sides, where nothing else makes it wider than its words.

    Args:
        named: As ``button`` made it; one that has room already stays.
    """
    inner = getattr(named, "content", None)
    if sides_of(inner) == _TILE_SIDES:
        loosen_sides(inner, _LOOSE_SIDES)
        if isinstance(needs := named.data, Needs):
            wider = needs.beside + 2 * (_LOOSE_SIDES - _TILE_SIDES)
            named.data = replace(needs, beside=wider)
    return named


def button_padding(
    height: int, *, sides: float = SIDES, ticked: bool = False, words: str = ""
) -> ft.Padding:
    """Give the padding that makes a button of one line this high.

    Padding instead of a fixed height: large text makes a button grow.

    Args:
        sides: Padding at the left and at the right.
        words: Those of a tile, which keeps its height itself where they wrap.
        ticked: Whether a tick stands before its words, which takes its room from
            the padding, so that choosing moves nothing; a frame takes none.
    """
    line = LABEL_LINE * ROOM.text_scale
    above = LEAST_PADDING if " " in words else max(LEAST_PADDING, (height - line) / 2)
    if ticked:
        sides -= _sign_width() / 2
    return ft.Padding.symmetric(vertical=above, horizontal=sides)


def _is_narrow(kind: Kind, size: Size | None) -> bool:
    return kind in _TILES or (kind == "urgent" and size == "thumb")


def _style(
    kind: Kind, size: Size | None, words: str, *, is_row: bool
) -> ft.ButtonStyle | None:
    if size is None and kind not in _OF_EXAM:
        return None
    sides = _TILE_SIDES if _is_narrow(kind, size) else SIDES
    wrapped = words if kind in _TILES else ""
    height = control_height(size or "exam")
    padding = button_padding(height, sides=sides, words=wrapped)
    style = ft.ButtonStyle(padding=padding)
    if is_row:
        style.alignment = ft.Alignment.CENTER_LEFT
    if kind == "urgent":
        style.bgcolor = ft.Colors.ERROR
        style.color = style.icon_color = ft.Colors.ON_ERROR
    return style


def _square(spoken: str, icon: ft.IconData | None, size: Size | None) -> ft.IconButton:
    is_large = size in ("hands", "thumb") and HANDS.gloved
    side = GLOVED_CONTROL_HEIGHT if is_large else CONTROL_HEIGHT
    return _IconButton(
        icon=icon,
        tooltip=spoken,
        width=side,
        height=side,
        style=ft.ButtonStyle(shape=ft.RoundedRectangleBorder(radius=CORNER)),
    )

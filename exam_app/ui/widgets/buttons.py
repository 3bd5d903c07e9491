"""The button: at least 56 pixels high, 64 in the exam, with an identifier."""

from collections.abc import Callable
from typing import Any, Literal

import flet as ft

from exam_app.ui.shell.theme import (
    CONTROL_HEIGHT,
    CORNER,
    GLOVED_CONTROL_HEIGHT,
    LABEL_LINE,
)
from exam_app.ui.widgets.hands import HANDS, Size, control_height
from exam_app.ui.widgets.identifiers import identified

OnClick = Callable[..., Any]
Kind = Literal["other", "main", "lead", "quiet", "urgent", "icon", "tile", "main tile"]

# A button's icon and the gap behind it, as Material 3 draws them.
_TICK, _GAP_AFTER_TICK = 20, 8
# The frame of what is chosen is three pixels, of anything else one.
_THICKER = 2
_SIDES = 18
# Three buttons share a phone's width, and "abnormality" has to stay one word.
_TILE_SIDES = 4
_FILLED = ("main", "lead", "main tile", "urgent")
_TILES = ("tile", "main tile")
_OF_EXAM = (*_TILES, "lead", "urgent")


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
    """
    if kind == "icon":
        square = _square(words, icon, size)
        square.on_click, square.autofocus = on_click, autofocus
        return identified(identifier, square, expand=expand)
    centred = ft.Text(words, text_align=ft.TextAlign.CENTER)
    maker = ft.TextButton if kind == "quiet" else ft.OutlinedButton
    return identified(
        identifier,
        (ft.FilledButton if kind in _FILLED else maker)(
            content=centred if kind in _TILES else words,
            icon=icon or (ft.Icons.PRIORITY_HIGH if kind == "urgent" else None),
            on_click=on_click,
            style=_style(kind, size),
            tooltip=spoken,
            disabled=disabled,
            autofocus=autofocus,
        ),
        expand=expand,
    )


def button_padding(
    height: int, *, sides: int = _SIDES, ticked: bool = False
) -> ft.Padding:
    """Give the padding that makes a button of one line this high.

    Padding instead of a fixed height: large text makes a button grow.

    Args:
        sides: Padding at the left and at the right.
        ticked: Whether a tick stands before its words and a thick frame around it;
            both take their room from the padding, so that choosing moves nothing.
    """
    above = (height - LABEL_LINE) // 2
    if ticked:
        above -= _THICKER
        sides -= (_TICK + _GAP_AFTER_TICK) // 2 + _THICKER
    return ft.Padding.symmetric(vertical=above, horizontal=sides)


def _style(kind: Kind, size: Size | None) -> ft.ButtonStyle | None:
    if size is None and kind not in _OF_EXAM:
        return None
    sides = _TILE_SIDES if kind in _TILES else _SIDES
    padding = button_padding(control_height(size or "exam"), sides=sides)
    style = ft.ButtonStyle(padding=padding)
    if kind == "urgent":
        style.bgcolor = ft.Colors.ERROR
        style.color = style.icon_color = ft.Colors.ON_ERROR
    return style


def _square(spoken: str, icon: ft.IconData | None, size: Size | None) -> ft.IconButton:
    is_large = size == "hands" and HANDS.gloved
    side = GLOVED_CONTROL_HEIGHT if is_large else CONTROL_HEIGHT
    return ft.IconButton(
        icon=icon,
        tooltip=spoken,
        width=side,
        height=side,
        style=ft.ButtonStyle(shape=ft.RoundedRectangleBorder(radius=CORNER)),
    )

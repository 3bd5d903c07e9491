"""Buttons: at least 56 pixels high, 64 in the exam, each with an identifier."""

from collections.abc import Callable
from typing import Any

import flet as ft

from exam_app.ui.shell.theme import (
    CONTROL_HEIGHT,
    CORNER,
    EXAM_CONTROL_HEIGHT,
    GLOVED_CONTROL_HEIGHT,
    LABEL_LINE,
)
from exam_app.ui.widgets.identifiers import identified

OnClick = Callable[..., Any]

# A button's icon and the gap behind it, as Material 3 draws them.
_TICK, _GAP_AFTER_TICK = 20, 8
# The frame of what is chosen is three pixels, of anything else one.
_THICKER = 2
_SIDES = 18


def main_button(
    identifier: str,
    label: str,
    on_click: OnClick,
    *,
    icon: ft.IconData | None = None,
    exam: bool = False,
    tall: bool = False,
    expand: bool | None = None,
    disabled: bool = False,
    autofocus: bool = False,
) -> ft.Semantics:
    """Make the one button a screen leads to; a tall one is for a dirty glove."""
    button = ft.FilledButton(
        content=label,
        icon=icon,
        on_click=on_click,
        disabled=disabled,
        autofocus=autofocus,
        style=_height_style(exam=exam, tall=tall),
    )
    return identified(identifier, button, expand=expand)


def other_button(
    identifier: str,
    label: str,
    on_click: OnClick,
    *,
    icon: ft.IconData | None = None,
    exam: bool = False,
    tall: bool = False,
    expand: bool | None = None,
    disabled: bool = False,
) -> ft.Semantics:
    """Make a button that stands beside the main one."""
    button = ft.OutlinedButton(
        content=label,
        icon=icon,
        on_click=on_click,
        disabled=disabled,
        style=_height_style(exam=exam, tall=tall),
    )
    return identified(identifier, button, expand=expand)


def quiet_button(
    identifier: str,
    label: str,
    on_click: OnClick,
    *,
    icon: ft.IconData | None = None,
) -> ft.Semantics:
    """Make a button without a frame, for the way that is seldom taken."""
    return identified(
        identifier, ft.TextButton(content=label, icon=icon, on_click=on_click)
    )


def urgent_button(
    identifier: str,
    label: str,
    on_click: OnClick,
    *,
    icon: ft.IconData = ft.Icons.PRIORITY_HIGH,
    expand: bool | None = None,
    spoken: str | None = None,
) -> ft.Semantics:
    """Make a button in the urgent colours, with its sign."""
    style = ft.ButtonStyle(
        bgcolor=ft.Colors.ERROR,
        color=ft.Colors.ON_ERROR,
        icon_color=ft.Colors.ON_ERROR,
        padding=button_padding(EXAM_CONTROL_HEIGHT),
    )
    button = ft.FilledButton(
        content=label, icon=icon, on_click=on_click, style=style, tooltip=spoken
    )
    return identified(identifier, button, expand=expand)


def icon_button(
    identifier: str,
    icon: ft.IconData,
    spoken: str,
    on_click: OnClick,
    *,
    side: int | None = None,
    autofocus: bool = False,
) -> ft.Semantics:
    """Make a square button that shows a sign only.

    Args:
        identifier: Finds the control; given to nothing else.
        icon: The sign shown.
        spoken: What it does, read aloud and shown on hover.
        on_click: Called at a tap.
        side: Its height and width, where it is larger than other controls.
        autofocus: Whether it has the focus at first.
    """
    button = ft.IconButton(
        icon=icon,
        autofocus=autofocus,
        tooltip=spoken,
        on_click=on_click,
        width=side or CONTROL_HEIGHT,
        height=side or CONTROL_HEIGHT,
        style=ft.ButtonStyle(shape=ft.RoundedRectangleBorder(radius=CORNER)),
    )
    return identified(identifier, button)


def button_padding(height: int, *, ticked: bool = False) -> ft.Padding:
    """Give the padding that makes a button of one line this high.

    Args:
        height: Of the button.
        ticked: Whether a tick stands before its words and a thick frame around it;
            both take their room from the padding, so that choosing moves nothing.
    """
    above, sides = (height - LABEL_LINE) // 2, _SIDES
    if ticked:
        above -= _THICKER
        sides -= (_TICK + _GAP_AFTER_TICK) // 2 + _THICKER
    return ft.Padding.symmetric(vertical=above, horizontal=sides)


def _height_style(*, exam: bool, tall: bool) -> ft.ButtonStyle | None:
    if tall:
        return ft.ButtonStyle(padding=button_padding(GLOVED_CONTROL_HEIGHT))
    if exam:
        return ft.ButtonStyle(padding=button_padding(EXAM_CONTROL_HEIGHT))
    return None

"""A button that is chosen or not, for answers that one tap gives."""

from collections.abc import Callable
from typing import Any

import flet as ft

from exam_app.ui.shell.theme import CORNER, EXAM_CONTROL_HEIGHT, GLOVED_CONTROL_HEIGHT
from exam_app.ui.widgets.buttons import button_padding
from exam_app.ui.widgets.identifiers import identified


def pick(
    identifier: str,
    label: str,
    on_click: Callable[..., Any],
    *,
    is_chosen: bool,
    is_row: bool = False,
    tall: bool = False,
) -> ft.Semantics:
    """Make a button of exam height; the chosen one is ticked and framed.

    Args:
        identifier: Finds the control; given to nothing else.
        label: What it answers; wraps when it is long.
        on_click: Called at a tap.
        is_chosen: Whether it stands chosen now.
        is_row: Whether it fills the width, its text at the left.
        tall: Whether it is meant for a dirty glove.
    """
    style = ft.ButtonStyle(
        padding=button_padding(
            GLOVED_CONTROL_HEIGHT if tall else EXAM_CONTROL_HEIGHT,
            ticked=is_chosen,
        ),
        color=ft.Colors.ON_SURFACE,
        shape=ft.RoundedRectangleBorder(radius=CORNER),
        alignment=ft.Alignment.CENTER_LEFT if is_row else None,
    )
    if is_chosen:
        style.bgcolor = ft.Colors.PRIMARY_CONTAINER
        style.color = ft.Colors.ON_PRIMARY_CONTAINER
        style.icon_color = ft.Colors.ON_PRIMARY_CONTAINER
        style.side = ft.BorderSide(3, ft.Colors.PRIMARY)
    button = ft.OutlinedButton(
        content=label,
        icon=ft.Icons.CHECK if is_chosen else None,
        on_click=on_click,
        style=style,
    )
    named = identified(identifier, button)
    named.selected = is_chosen
    return named

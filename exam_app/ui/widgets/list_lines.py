"""A line of a list that leads somewhere: a sign, a name, a quieter line below."""

from collections.abc import Callable
from typing import Any

import flet as ft

from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import quiet, strong


def line_button(
    identifier: str,
    title: str,
    words: str,
    on_click: Callable[..., Any],
    *,
    icon: ft.IconData,
) -> ft.Semantics:
    """Make a whole line tappable; both texts wrap.

    Args:
        identifier: Finds the control; given to nothing else.
        title: What the line is.
        words: More about it; may be empty.
        on_click: Called at a tap.
        icon: Shown before both.
    """
    texts: list[ft.Control] = [strong(title)]
    if words:
        texts.append(quiet(words))
    row = ft.Row(
        [
            ft.Icon(icon, color=ft.Colors.PRIMARY),
            ft.Column(texts, spacing=2, expand=True, tight=True),
            ft.Icon(ft.Icons.CHEVRON_RIGHT, color=ft.Colors.ON_SURFACE_VARIANT),
        ],
        spacing=12,
    )
    button = ft.OutlinedButton(
        content=row,
        on_click=on_click,
        style=ft.ButtonStyle(
            padding=ft.Padding.symmetric(vertical=12, horizontal=14),
            color=ft.Colors.ON_SURFACE,
        ),
    )
    return identified(identifier, button)

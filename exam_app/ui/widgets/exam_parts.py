"""Controls of the exam list: state chips, urgent buttons, the picture of directions."""

import flet as ft

from exam_app.app.view.region_presenter import Sign
from exam_app.ui.shell.theme import (
    CORNER,
    EXAM_CONTROL_HEIGHT,
    GLOVED_CONTROL_HEIGHT,
    LABEL_LINE,
)
from exam_app.ui.widgets.buttons import OnClick, button_padding
from exam_app.ui.widgets.hands import control_height
from exam_app.ui.widgets.identifiers import identified

_SIGN_ICONS = {
    Sign.OPEN: ft.Icons.RADIO_BUTTON_UNCHECKED,
    Sign.NORMAL: ft.Icons.CHECK_CIRCLE,
    Sign.FOUND: ft.Icons.FLAG,
    Sign.GAP: ft.Icons.REMOVE_CIRCLE_OUTLINE,
    Sign.ABSENT: ft.Icons.BLOCK,
    Sign.PARKED: ft.Icons.SCHEDULE,
}
_CHIP_PADDING = 8
_LINE_SIDES = 10
# An animal seen from above, head at the top: ears, eyes, body, tail.
_FROM_ABOVE = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 56">'
    '<path fill="#000000" d="M20 2 L26 10 L33 8 L30 18 L25 21 C31 25 31 43 24 47 '
    "L22 55 L18 55 L16 47 C9 43 9 25 15 21 L10 18 L7 8 L14 10 Z"
    '"/></svg>'
)


def chip(
    identifier: str,
    sign: Sign,
    text: str,
    *,
    expand: int | None = None,
    lines: int = 1,
) -> ft.Control:
    """Show an answer where its button was, so nothing else moves under a finger.

    Args:
        lines: How many lines the button's words took.
    """
    height = control_height("hands") + (lines - 1) * LABEL_LINE
    row = ft.Row(
        [
            # As high as a button, and higher where large text needs it.
            ft.Container(width=0, height=height - 2 * _CHIP_PADDING),
            sign_icon(sign, size=22),
            ft.Text(text, weight=ft.FontWeight.W_600, expand=True),
        ],
        spacing=4,
        vertical_alignment=ft.CrossAxisAlignment.CENTER,
    )
    box = ft.Container(
        row,
        padding=ft.Padding.symmetric(vertical=_CHIP_PADDING, horizontal=8),
        bgcolor=ft.Colors.PRIMARY_CONTAINER,
        border_radius=CORNER,
    )
    return identified(identifier, box, expand=expand)


def finding_line(
    identifier: str, text: str, on_click: OnClick, *, is_urgent: bool
) -> ft.Semantics:
    """Show a find of a row; a tap opens its details."""
    icon = ft.Icons.PRIORITY_HIGH if is_urgent else ft.Icons.EDIT_NOTE
    colour = ft.Colors.ERROR if is_urgent else ft.Colors.PRIMARY
    sign, words = ft.Icon(icon, color=colour), ft.Text(text, expand=True)
    padding = button_padding(EXAM_CONTROL_HEIGHT, sides=_LINE_SIDES)
    button = ft.OutlinedButton(
        content=ft.Row([sign, words], spacing=8),
        on_click=on_click,
        tooltip="Details of this finding",
        style=ft.ButtonStyle(padding=padding),
    )
    return identified(identifier, button)


def banner_button(identifier: str, label: str, on_click: OnClick) -> ft.Semantics:
    """Make a notice across the screen that is one urgent button.

    Notice and button in one, since both must stay in view above a list that needs
    the room.
    """
    style = _urgent(ft.Padding.symmetric(vertical=10, horizontal=14))
    row = ft.Row(
        [
            ft.Container(width=0, height=EXAM_CONTROL_HEIGHT - 20),
            ft.Icon(ft.Icons.PRIORITY_HIGH, color=ft.Colors.ON_ERROR),
            ft.Text(label, color=ft.Colors.ON_ERROR, expand=True),
            ft.Icon(ft.Icons.CHEVRON_RIGHT, color=ft.Colors.ON_ERROR),
        ],
        spacing=8,
    )
    button = ft.FilledButton(content=row, on_click=on_click, style=style)
    return identified(identifier, button)


def urgent_tile(identifier: str, label: str, on_click: OnClick) -> ft.Semantics:
    """Make the urgent button for a dirty glove: its sign stands above its word."""
    style = _urgent(ft.Padding.all(6))
    words = ft.Column(
        [
            ft.Icon(ft.Icons.PRIORITY_HIGH, color=ft.Colors.ON_ERROR),
            ft.Text(label, color=ft.Colors.ON_ERROR),
        ],
        spacing=0,
        tight=True,
        horizontal_alignment=ft.CrossAxisAlignment.CENTER,
    )
    button = ft.FilledButton(
        content=words, on_click=on_click, style=style, height=GLOVED_CONTROL_HEIGHT
    )
    return identified(identifier, button, expand=1)


def _urgent(padding: ft.Padding) -> ft.ButtonStyle:
    colour, ground = ft.Colors.ON_ERROR, ft.Colors.ERROR
    return ft.ButtonStyle(padding=padding, bgcolor=ground, color=colour)


def sign_icon(sign: Sign, *, size: int = 26) -> ft.Icon:
    """Draw the sign of a state; its word stands beside it."""
    is_open = sign in {Sign.OPEN, Sign.PARKED}
    colour = ft.Colors.ON_SURFACE_VARIANT if is_open else ft.Colors.PRIMARY
    return ft.Icon(_SIGN_ICONS[sign], size=size, color=colour)


def from_above() -> ft.Control:
    """Show which way the head points when left and right are named."""
    return ft.Image(
        src=_FROM_ABOVE,
        width=28,
        height=40,
        color=ft.Colors.ON_SURFACE_VARIANT,
        semantics_label="Seen from above, head at the top",
    )

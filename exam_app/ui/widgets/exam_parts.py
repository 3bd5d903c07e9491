"""Controls of the exam list: its lines, urgent notices, the picture of directions."""

from collections.abc import Sequence

import flet as ft

from exam_app.app.view.region_presenter import Sign
from exam_app.language.catalogue import tr
from exam_app.ui.shell.theme import (
    CONTROL_HEIGHT,
    CORNER,
    EXAM_CONTROL_HEIGHT,
)
from exam_app.ui.widgets.buttons import (
    FilledButton,
    OnClick,
    button_padding,
    sign_size,
)
from exam_app.ui.widgets.identifiers import identified

_SIGN_ICONS = {
    Sign.OPEN: ft.Icons.RADIO_BUTTON_UNCHECKED,
    Sign.NORMAL: ft.Icons.CHECK_CIRCLE,
    Sign.FOUND: ft.Icons.FLAG,
    Sign.GAP: ft.Icons.REMOVE_CIRCLE_OUTLINE,
    Sign.ABSENT: ft.Icons.BLOCK,
    Sign.PARKED: ft.Icons.SCHEDULE,
}
_LINE_SIDES = 10
# An animal seen from above, head at the top: ears, eyes, body, tail.
_FROM_ABOVE = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 56">'
    '<path fill="#000000" d="M20 2 L26 10 L33 8 L30 18 L25 21 C31 25 31 43 24 47 '
    "L22 55 L18 55 L16 47 C9 43 9 25 15 21 L10 18 L7 8 L14 10 Z"
    '"/></svg>'
)


def line(
    identifier: str,
    sign: Sign,
    name: str,
    said: Sequence[ft.Control],
    on_click: OnClick,
    *more: ft.Control,
    is_chosen: bool = False,
) -> ft.Control:
    """Make the folded line of a place: its sign, its name, its words in short.

    Args:
        identifier: Finds the control; given to nothing else. The line of the current
            place has one of its own, since its card stands for it.
        name: Of the place; never cut.
        said: What was answered.
        more: What stands at the end, outside of what a tap opens.
        is_chosen: Whether it is the current one, whose card stands beside the list.
    """
    words = ft.Text(name, theme_style=ft.TextThemeStyle.BODY_MEDIUM, max_lines=2)
    row = ft.Row(
        [
            # As high as a button, and higher where large text needs it.
            ft.Container(width=0, height=CONTROL_HEIGHT - 2),
            sign_icon(sign, size=22),
            ft.Row([words, *said], spacing=8, expand=True),
        ],
        spacing=8,
        vertical_alignment=ft.CrossAxisAlignment.CENTER,
    )
    tapped = ft.Container(
        row,
        on_click=on_click,
        ink=True,
        border=ft.Border.only(bottom=ft.BorderSide(1, ft.Colors.OUTLINE_VARIANT)),
        bgcolor=ft.Colors.PRIMARY_CONTAINER if is_chosen else None,
        padding=ft.Padding.symmetric(horizontal=8),
        expand=True,
    )
    name_now = f"{identifier}-line" if is_chosen else identifier
    # What is tapped alone has the name: a button inside would take it from a browser.
    return ft.Row([identified(name_now, tapped, expand=True), *more], spacing=4)


def card(
    identifier: str, parts: Sequence[ft.Control], on_click: OnClick | None = None
) -> ft.Semantics:
    """Frame the place that is current, with all that is said of it."""
    box = ft.Container(
        ft.Column(
            [*parts],
            spacing=6,
            tight=True,
            horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
        ),
        on_click=on_click,
        padding=ft.Padding.symmetric(vertical=4, horizontal=12),
        bgcolor=ft.Colors.SURFACE_CONTAINER,
        border=ft.Border.all(2, ft.Colors.PRIMARY),
        border_radius=CORNER,
    )
    return identified(identifier, box)


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
        tooltip=tr("Details of this finding"),
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
            ft.Icon(ft.Icons.PRIORITY_HIGH, color=ft.Colors.ON_ERROR, size=sign_size()),
            ft.Text(label, color=ft.Colors.ON_ERROR, expand=True),
            ft.Icon(ft.Icons.CHEVRON_RIGHT, color=ft.Colors.ON_ERROR, size=sign_size()),
        ],
        spacing=8,
    )
    button = FilledButton(content=row, on_click=on_click, style=style)
    return identified(identifier, button)


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
        semantics_label=tr("Seen from above, head at the top"),
    )

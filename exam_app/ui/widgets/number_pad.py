"""A number pad for a gloved thumb: keys of exam height, apart, in a fixed order."""

from collections.abc import Awaitable, Callable, Sequence

import flet as ft

from exam_app.ui.shell.theme import LARGEST_SIGN
from exam_app.ui.widgets.hands import Size, control_height
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.still_button import THIN, still

ERASE = "erase"
OnKey = Callable[[str], Awaitable[None]]
_SPACE = 6
_DIGIT = 25
_ROWS = (("1", "2", "3"), ("4", "5", "6"), ("7", "8", "9"))


def number_pad(
    on_key: OnKey,
    *,
    has_point: bool = True,
    size: Size = "hands",
    beside: Sequence[ft.Control] = (),
) -> ft.Control:
    """Make the pad.

    Args:
        on_key: Awaited with a digit, ``.`` or ``erase``.
        beside: What stands at the right of its four rows; none, or one for each.
    """
    last = ("." if has_point else "", "0", ERASE)
    lines = [
        ft.Row(
            [pad_keys(on_key, row, size), *beside[number : number + 1]], spacing=_SPACE
        )
        for number, row in enumerate((*_ROWS, last))
    ]
    return ft.Column([*lines], spacing=_SPACE, tight=True)


def pad_keys(on_key: OnKey, keys: Sequence[str], size: Size) -> ft.Row:
    """Make a row of keys; an empty one keeps its room."""
    height = control_height(size)
    row = [_key(on_key, key, height) for key in keys]
    return ft.Row(row, spacing=_SPACE, expand=2)


def _key(on_key: OnKey, key: str, height: int) -> ft.Control:
    if not key:
        return ft.Container(expand=True, height=height)

    async def pressed() -> None:
        await on_key(key)

    # Never higher than its key, whatever the text size.
    face: ft.Control = ft.Text(
        key,
        size=_DIGIT * min(ROOM.text_scale, LARGEST_SIGN),
        weight=ft.FontWeight.W_700,
        color=ft.Colors.ON_SURFACE,
    )
    if key == ERASE:
        face = ft.Icon(
            ft.Icons.BACKSPACE_OUTLINED,
            size=_DIGIT,
            semantics_label="Erase",
            color=ft.Colors.ON_SURFACE,
        )
    button = ft.OutlinedButton(
        content=face, on_click=pressed, height=height, style=ft.ButtonStyle(padding=0)
    )
    middle = ft.Row([face], alignment=ft.MainAxisAlignment.CENTER)
    tapped = still(button, middle, frame=THIN, above=THIN.width, height=height)
    name = "point" if key == "." else key
    named = identified(for_choice("pad", name), tapped, expand=True)
    named.button = tapped is not button
    return named

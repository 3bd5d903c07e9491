"""A number pad for a gloved thumb: keys of exam height, apart, in a fixed order."""

from collections.abc import Awaitable, Callable, Sequence

import flet as ft

from exam_app.ui.widgets.hands import Size, control_height
from exam_app.ui.widgets.identifiers import for_choice, identified

ERASE = "erase"
OnKey = Callable[[str], Awaitable[None]]
_SPACE = 8
_ROWS = (("1", "2", "3"), ("4", "5", "6"), ("7", "8", "9"))


def number_pad(
    on_key: OnKey,
    *,
    has_point: bool = True,
    extra: Sequence[str] = (),
    size: Size = "exam",
) -> ft.Control:
    """Make the pad.

    Args:
        on_key: Awaited with a digit, ``.``, ``erase`` or one of ``extra``.
        extra: Keys of a last row, as ``lb`` and ``oz``; empty ones keep its room.
    """
    height = control_height(size)
    last = ("." if has_point else "", "0", ERASE)
    rows: list[tuple[str, ...]] = [*_ROWS, last]
    if extra:
        rows.append(tuple(extra))
    keys = [[_key(on_key, key, height) for key in row] for row in rows]
    drawn: list[ft.Control] = [ft.Row(row, spacing=_SPACE) for row in keys]
    return ft.Column(drawn, spacing=_SPACE, tight=True)


def _key(on_key: OnKey, key: str, height: int) -> ft.Control:
    if not key:
        return ft.Container(expand=True, height=height)

    async def pressed() -> None:
        await on_key(key)

    face: ft.Control = ft.Text(key, theme_style=ft.TextThemeStyle.HEADLINE_SMALL)
    if key == ERASE:
        face = ft.Icon(ft.Icons.BACKSPACE_OUTLINED, semantics_label="Erase")
    button = ft.OutlinedButton(
        content=face,
        on_click=pressed,
        height=height,
        style=ft.ButtonStyle(padding=0, color=ft.Colors.ON_SURFACE),
    )
    name = "point" if key == "." else key
    return identified(for_choice("pad", name), button, expand=True)

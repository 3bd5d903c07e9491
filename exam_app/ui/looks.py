"""Read the chosen colours and text size, and give the page the theme."""

from typing import TYPE_CHECKING

import flet as ft

from exam_app.ui.desk import LockState
from exam_app.ui.theme import Look, TextSize, build_theme

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab


def chosen(tab: "Tab") -> tuple[Look, TextSize]:
    """Read both settings; light and normal before anything is chosen."""
    if tab.desk.state not in (LockState.OPEN, LockState.RESTING):
        return Look.LIGHT, TextSize.NORMAL
    settings = tab.vault.settings
    return (
        Look(settings.get("look", Look.LIGHT.value)),
        TextSize(settings.get("text_size", TextSize.NORMAL.value)),
    )


def apply(tab: "Tab") -> None:
    """Give the page the theme that is chosen now."""
    look, size = chosen(tab)
    page = tab.page
    page.theme = page.dark_theme = build_theme(look, size)
    is_dark = look is Look.DARK
    page.theme_mode = ft.ThemeMode.DARK if is_dark else ft.ThemeMode.LIGHT
    page.update()

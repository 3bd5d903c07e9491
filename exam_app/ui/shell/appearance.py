"""Read the chosen colours and text size, and give the page the theme."""

import flet as ft

from exam_app.app.session import LockState, Session
from exam_app.ui.shell.theme import Look, TextSize, build_theme


def chosen(desk: Session) -> tuple[Look, TextSize]:
    """Read both settings; light and normal before anything is chosen."""
    if desk.state not in (LockState.OPEN, LockState.RESTING):
        return Look.LIGHT, TextSize.NORMAL
    settings = desk.vault.settings
    return (
        Look(settings.get("look", Look.LIGHT.value)),
        TextSize(settings.get("text_size", TextSize.NORMAL.value)),
    )


def apply(page: ft.Page, desk: Session) -> None:
    """Give the page the theme that is chosen now."""
    look, size = chosen(desk)
    page.theme = page.dark_theme = build_theme(look, size)
    is_dark = look is Look.DARK
    page.theme_mode = ft.ThemeMode.DARK if is_dark else ft.ThemeMode.LIGHT
    page.update()

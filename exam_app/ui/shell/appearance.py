"""Read the chosen language, colours, text size and hands, and draw for them."""

import flet as ft

from exam_app.app import language_choice
from exam_app.app.session import LockState, Session
from exam_app.language.catalogue import tr
from exam_app.ui.shell.theme import TEXT_SCALE, ColourMode, TextSize, build_theme
from exam_app.ui.widgets.hands import GLOVES, HANDS
from exam_app.ui.widgets.room import ROOM

_READABLE = (LockState.OPEN, LockState.RESTING)


def chosen(session: Session) -> tuple[ColourMode, TextSize]:
    """Read both settings; light and normal before anything is chosen."""
    if session.state not in _READABLE:
        return ColourMode.LIGHT, TextSize.NORMAL
    settings = session.vault.settings
    return (
        ColourMode(settings.get("look", ColourMode.LIGHT.value)),
        TextSize(settings.get("text_size", TextSize.NORMAL.value)),
    )


def header_scrolls(session: Session) -> bool:
    """Whether title and examiner go away with the body: largest text needs the room."""
    return chosen(session)[1] is TextSize.LARGEST


def apply(page: ft.Page, session: Session) -> None:
    """Draw for the language, the colours, the text size and the hands chosen now."""
    look, size = chosen(session)
    is_open = session.state in _READABLE
    if is_open:
        language_choice.show_kept(session.vault)
    page.title = tr("Exam")
    HANDS.gloved = is_open and session.vault.settings.get(GLOVES, default=False)
    ROOM.text_scale, ROOM.width = TEXT_SCALE[size], page.width or ROOM.width
    page.theme = page.dark_theme = build_theme(look, size)
    is_dark = look is ColourMode.DARK
    page.theme_mode = ft.ThemeMode.DARK if is_dark else ft.ThemeMode.LIGHT
    page.update()

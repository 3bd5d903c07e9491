"""The single keys of a screen: one table answers them and lists them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import flet as ft

from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.texts import paragraph, quiet, strong

_EVERYWHERE = to_translate(
    "Tab leads from control to control, Enter or Space presses one, Escape closes a "
    "sheet. In a field for a number Enter saves it. On a drawing that is marked, "
    "arrows move a cross, with Shift in small steps, and Enter marks the place."
)
_KEY_WIDTH = 64
_SIGNS = {"ARROWDOWN": "↓", "ARROWUP": "↑"}
_NAMES = {"?": "help", "↓": "down", "↑": "up"}


@dataclass(frozen=True, slots=True, repr=False)
class Shortcut:
    """One key.

    Attributes:
        key: As it stands on the keyboard, letters as capitals.
        words: What it does, for a person; in English, shown in the language chosen.
        act: Does it; what it returns is awaited where it can be.
    """

    key: str
    words: str
    act: Callable[[], Any]


def with_help(
    tab: Tab, key: str, shortcuts: Sequence[Shortcut]
) -> tuple[Shortcut, ...]:
    """Add the key that lists all of them, itself included."""

    def show() -> None:
        tab.open_sheet(tr("Keys"), *map(_line, listed), quiet(tr(_EVERYWHERE)))

    listed = (*shortcuts, Shortcut(key, to_translate("Show these keys"), show))
    return listed


async def answer(
    tab: Tab, shortcuts: Sequence[Shortcut], event: ft.KeyboardEvent
) -> None:
    """Do what a key stands for, while nothing is laid over the screen."""
    is_other = event.ctrl or event.alt or event.meta
    is_over = tab.frame.is_over("sheet") or tab.frame.is_over("stop")
    if is_other or is_over or tab.sheet is not None:
        return
    # Some browsers tell the key and not the sign on it.
    name = event.key.upper().replace(" ", "")
    key = "?" if name == "/" and event.shift else _SIGNS.get(name, name)
    act = next((one.act for one in shortcuts if one.key == key), None)
    if act is not None and (done := act()) is not None:
        await done


def _line(shortcut: Shortcut) -> ft.Control:
    key = ft.Container(strong(shortcut.key), width=_KEY_WIDTH)
    words = ft.Container(paragraph(tr(shortcut.words)), expand=True)
    name = for_choice("key", _NAMES.get(shortcut.key, shortcut.key))
    return identified(name, ft.Row([key, words]))

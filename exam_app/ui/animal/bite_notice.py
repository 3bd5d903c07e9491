"""A bite or a rabies concern stays on every view of its exam and its animal.

Lists carry the words in their rows; every screen that belongs to one animal shows
them above everything else.
"""

from collections.abc import Callable

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.queries.bite_concerns import concern_words, said_of_animal
from exam_app.store.repositories.rows import concern_of
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import CONTROL_HEIGHT, CORNER, WIDE_FROM
from exam_app.ui.widgets.buttons import FilledButton
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.slot import Slot

_OF_EXAM = {"exam", "record", "round"}
# A kennel card says it itself, first of all.
_OF_ANIMAL = {"animal", "start"}


def notice(tab: Tab) -> list[ft.Control]:
    """Draw the concern above every screen of its exam and its animal."""
    kind, _, rest = (tab.page.route or "").strip("/").partition("/")
    key = rest.split("/", 1)[0].split("?", 1)[0]
    if not key or kind not in _OF_EXAM | _OF_ANIMAL:
        return []
    if kind in _OF_ANIMAL:
        return _shown(said_of_animal(tab.vault, key))
    editor = tab.session.editors.get(key)
    if editor is None or editor.exam.is_closed:
        return _shown(said_of_animal(tab.vault, _animal_of(tab, key)))
    return [_live(tab, editor)]


def _animal_of(tab: Tab, exam_id: str) -> str:
    shown = tab.vault.drafts.shown(exam_id)
    if shown is not None:
        return shown.animal_id
    rows = tab.vault.closed.revisions(exam_id)
    return rows[0].animal_id if rows else ""


def _live(tab: Tab, editor: ExamEditor) -> ft.Control:
    exam = editor.exam
    others = said_of_animal(tab.vault, exam.animal.animal_id, exam.exam_id)

    def draw() -> ft.Control:
        shown = _shown([concern_of(editor.exam), *others])
        return shown[0] if shown else ft.Container(height=0)

    return Slot(draw, editor.view.visit["bite"]).control


def _shown(said: list[str]) -> list[ft.Control]:
    words = concern_words(said)
    return [warning_bar("bite-notice", words)] if words else []


def warning_bar(
    identifier: str, words: str, on_open: Callable[[], object] | None = None
) -> ft.Control:
    """Draw two lines at most: it stands on every screen, also on small ones.

    Args:
        on_open: Shows the whole of it, where a tap does.
    """
    colour, is_narrow = ft.Colors.ON_TERTIARY, ROOM.width < WIDE_FROM
    style = (
        ft.TextThemeStyle.BODY_SMALL if is_narrow else ft.TextThemeStyle.TITLE_MEDIUM
    )
    text = ft.Text(
        words,
        color=colour,
        expand=True,
        max_lines=2,
        overflow=ft.TextOverflow.ELLIPSIS,
        theme_style=style,
        weight=ft.FontWeight.W_700,
    )
    row = ft.Row([ft.Icon(ft.Icons.WARNING_AMBER, color=colour), text], spacing=10)
    padding, ground = (
        ft.Padding.symmetric(vertical=8, horizontal=12),
        ft.Colors.TERTIARY,
    )
    if on_open is None:
        box = ft.Container(row, bgcolor=ground, border_radius=CORNER, padding=padding)
        return identified(identifier, box, live=True)
    row.controls.append(ft.Icon(ft.Icons.CHEVRON_RIGHT, color=colour))
    # As high as a button, and higher where two lines of large text need it.
    row.controls.insert(0, ft.Container(width=0, height=CONTROL_HEIGHT - 16))
    look = ft.ButtonStyle(
        padding=padding,
        shape=ft.RoundedRectangleBorder(radius=CORNER),
        bgcolor=ground,
        color=colour,
    )
    button = FilledButton(content=row, on_click=on_open, style=look)
    return identified(identifier, button, live=True)

"""The rows before and after an exam: what is said of the visit, one tap to say more."""

from collections.abc import Callable

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_sessions import person_now
from exam_app.app.view.visit_presenter import (
    Part,
    PartCard,
    after_parts,
    before_parts,
    part_card,
)
from exam_app.ui.record.private_note import open_private
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import CORNER, EXAM_CONTROL_HEIGHT, GAP
from exam_app.ui.visit.intake_scan import open_scans
from exam_app.ui.visit.sums_sheet import sums_button
from exam_app.ui.visit.visit_sheet import open_entries, open_whole
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, stack

BEFORE = "Before"
AFTER = "Done and planned"
_PADDING = (EXAM_CONTROL_HEIGHT - 25) // 2
_LISTS = {Part.GIVEN, Part.PROCEDURES, Part.SAMPLES}


def before_rows(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Make the rows of why the animal is here, and what can be dangerous."""
    return _rows(tab, editor, before_parts(editor.exam))


def after_rows(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Make the rows of what was given, done, sampled and planned."""
    return stack(_rows(tab, editor, after_parts()), sums_button(tab, editor))


def open_part(tab: Tab, editor: ExamEditor, part: Part) -> None:
    """Open the sheet of one row over the present screen."""
    if part is Part.SCANS:
        open_scans(tab, editor)
    elif part is Part.PRIVATE:
        open_private(tab, editor)
    elif part in _LISTS:
        open_entries(tab, editor, part)
    else:
        open_whole(tab, editor, part)


def _rows(tab: Tab, editor: ExamEditor, parts: tuple[Part, ...]) -> ft.Control:
    view = editor.view
    slots = [
        Slot(
            _drawer(tab, editor, part),
            view.visit[part.follows],
            view.people,
            in_place=True,
        ).control
        for part in parts
    ]
    return stack(*slots, spacing=8)


def _drawer(tab: Tab, editor: ExamEditor, part: Part) -> Callable[[], ft.Control]:
    def tapped() -> None:
        open_part(tab, editor, part)

    def draw() -> ft.Control:
        return _row(part_card(editor.exam, part, person_now(tab.session)), tapped)

    return draw


def _row(card: PartCard, tapped: Callable[[], None]) -> ft.Control:
    sign = ft.Icons.CHECK_CIRCLE if card.lines else ft.Icons.ADD_CIRCLE_OUTLINE
    colour = ft.Colors.PRIMARY if card.lines else ft.Colors.ON_SURFACE_VARIANT
    words: list[ft.Control] = [
        ft.Text(card.title, theme_style=ft.TextThemeStyle.TITLE_MEDIUM)
    ]
    if card.is_needed:
        words.append(quiet("Needed before closing"))
    words += [quiet(line) for line in card.lines]
    row = ft.Row(
        [
            ft.Icon(sign, size=24, color=colour),
            ft.Column(words, spacing=2, tight=True, expand=True),
            ft.Icon(ft.Icons.CHEVRON_RIGHT, size=24),
        ],
        spacing=GAP,
    )
    box = ft.Container(
        row,
        on_click=tapped,
        ink=True,
        border=ft.Border.all(
            2 if card.is_needed else 1,
            ft.Colors.PRIMARY if card.is_needed else ft.Colors.OUTLINE,
        ),
        border_radius=CORNER,
        padding=ft.Padding.symmetric(vertical=_PADDING, horizontal=14),
    )
    return identified(for_choice("visit", card.part.key), box)

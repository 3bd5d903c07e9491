"""The vitals of an exam as rows: value, words or reason, and the flag with its why."""

from collections.abc import Callable

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_sessions import open_exam
from exam_app.app.view.vital_presenter import CardState, VitalCard, card
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import CORNER, EXAM_CONTROL_HEIGHT, GAP
from exam_app.ui.urgent.urgent_list import banner_slot
from exam_app.ui.vital.vital_sheet import open_vital
from exam_app.ui.widgets.flags import flag_line
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, stack

# One line of text is 25 high; the rest is padding above and below.
_PADDING = (EXAM_CONTROL_HEIGHT - 25) // 2
_SIGNS = {
    CardState.OPEN: ft.Icons.RADIO_BUTTON_UNCHECKED,
    CardState.VALUE: ft.Icons.CHECK_CIRCLE,
    CardState.REASON: ft.Icons.REMOVE_CIRCLE_OUTLINE,
}


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the vitals as a screen of their own."""
    editor = await open_exam(tab.session, exam_id)
    return Screen(
        title="Vitals",
        subtitle=editor.exam.animal.name,
        back=f"/exam/{exam_id}",
        pinned=[banner_slot(tab, editor)],
        body=[vital_rows(tab, editor)],
    )


def vital_rows(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Make one row for each vital; a row draws itself anew when its vital changes."""
    slots = []
    for vital_id, observed in editor.view.vitals.items():
        draw = _drawer(tab, editor, vital_id)
        slots.append(Slot(draw, observed, in_place=True).control)
    return stack(*slots, spacing=8)


def _drawer(tab: Tab, editor: ExamEditor, vital_id: str) -> Callable[[], ft.Control]:
    def draw() -> ft.Control:
        vital = editor.protocol.vital(vital_id)
        if vital is None:
            return ft.Container()
        return _row(tab, editor, card(editor.exam, editor.protocol, vital))

    return draw


def _row(tab: Tab, editor: ExamEditor, shown: VitalCard) -> ft.Control:
    def tapped() -> None:
        open_vital(tab, editor, shown.vital_id)

    value = ft.Text(
        shown.shown,
        theme_style=ft.TextThemeStyle.TITLE_MEDIUM,
        color=(
            ft.Colors.ON_SURFACE_VARIANT
            if shown.state is CardState.OPEN
            else ft.Colors.ON_SURFACE
        ),
    )
    name = ft.Text(shown.label, theme_style=ft.TextThemeStyle.BODY_MEDIUM)
    lines: list[ft.Control] = [
        ft.Row(
            [
                ft.Icon(_SIGNS[shown.state], size=24),
                ft.Container(
                    ft.Row([name, value], wrap=True, spacing=GAP, run_spacing=0),
                    expand=True,
                ),
                ft.Icon(ft.Icons.CHEVRON_RIGHT, size=24),
            ],
            spacing=GAP,
        )
    ]
    if shown.detail:
        lines.append(quiet(shown.detail))
    if shown.lacks_state:
        lines.append(quiet("Say what the animal was doing."))
    if shown.flag:
        lines.append(flag_line(shown.flag))
    if shown.not_compared:
        lines.append(quiet(shown.not_compared))
    box = ft.Container(
        ft.Column(lines, spacing=4, tight=True, alignment=ft.MainAxisAlignment.CENTER),
        on_click=tapped,
        ink=True,
        border=ft.Border.all(
            2 if shown.is_needed else 1,
            ft.Colors.PRIMARY if shown.is_needed else ft.Colors.OUTLINE,
        ),
        border_radius=CORNER,
        padding=ft.Padding.symmetric(vertical=_PADDING, horizontal=14),
    )
    return identified(for_choice("vital", shown.vital_id), box)

"""The notice that says "Stop handling now" the moment such a sign is recorded.

It lies over every sheet, since whatever comes next waits: an animal that cannot
breathe is not held for another question.
"""

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.handling import newly_stopping
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.wording.exam_wording import sign_words
from exam_app.language.catalogue import tr
from exam_app.ui.exam.stop_early import open_stop_early
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import across, heading, stack, strong


def look(tab: Tab, editor: ExamEditor, before: Exam) -> None:
    """Show the notice if the change since ``before`` brought such a sign up."""
    signs = newly_stopping(before, editor.exam, editor.protocol)
    if signs:
        tab.frame.lay_over("stop", _notice(tab, editor, signs))


def _notice(tab: Tab, editor: ExamEditor, signs: tuple[UrgentEntry, ...]) -> ft.Control:
    def end() -> None:
        tab.frame.take_off("stop")
        open_stop_early(tab, editor)

    def go_on() -> None:
        tab.frame.take_off("stop")

    sign = ft.Icon(ft.Icons.FRONT_HAND, color=ft.Colors.ERROR, size=36)
    title = ft.Container(heading(tr("Stop handling now")), expand=True)
    label = tr("Go on, the animal has calmed down")
    calmed = across(button("stop-handling-go-on", label, go_on, kind="tile"))
    told = [
        line for entry in signs for line in (strong(sign_words(entry)), _action(entry))
    ]
    return identified(
        "stop-handling",
        stack(
            ft.Row([sign, title], spacing=12),
            *told,
            button(
                "stop-handling-end",
                tr("Stop early"),
                end,
                icon=ft.Icons.FRONT_HAND_OUTLINED,
                kind="urgent",
            ),
            calmed,
        ),
        live=True,
    )


def _action(entry: UrgentEntry) -> ft.Control:
    return ft.Text(tr(entry.action), theme_style=ft.TextThemeStyle.BODY_LARGE)

"""The button beside the line of the last step: back, and again."""

from collections.abc import Container

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button


def stepped(editor: ExamEditor, places: Container[str]) -> str:
    """Return the place of the last step, where it can be taken back or done again."""
    steps = editor.view.steps
    at = steps.back_at if steps.again is None else steps.again_at
    return next((place for place in at if place in places), "")


def step_button(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Take the last step back, or do again what was taken back.

    Both stand in the same place: a second tap by mistake would undo the first.
    """
    steps = editor.view.steps
    if steps.again is not None:

        async def again() -> None:
            if not editor.view.current.is_settling:
                await exam_sessions.redo(tab.session, editor)

        label = tr("Do again: {step}", step=steps.again)
        icon = ft.Icons.REDO
        return button("exam-redo", label, again, kind="icon", icon=icon, size="thumb")

    async def back() -> None:
        if not editor.view.current.is_settling:
            await exam_sessions.undo(tab.session, editor)

    label, icon = tr("Take back: {step}", step=steps.back), ft.Icons.UNDO
    return button("exam-undo", label, back, kind="icon", icon=icon, size="thumb")

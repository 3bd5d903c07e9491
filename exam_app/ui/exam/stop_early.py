"""Stopping early: one reason for everything left undone, and nothing as normal."""

import flet as ft

from exam_app.app.exam_editor import Edit, ExamEditor, change_maker
from exam_app.app.exam_sessions import change, typed_in
from exam_app.app.view.review_presenter import STOP_LABELS, stop_preview
from exam_app.domain.exam.closing import stop_early
from exam_app.domain.exam.exam import Exam, StopReason
from exam_app.language.catalogue import tr
from exam_app.ui.record.discarded import open_discarding
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.texts import quiet, stack


def open_stop_early(tab: Tab, editor: ExamEditor) -> None:
    """Ask for the reason."""

    async def ask() -> None:
        await open_discarding(tab, editor.exam.exam_id)

    rows = [_reason(tab, editor, reason, tr(label)) for reason, label in STOP_LABELS]
    tab.open_sheet(
        tr("Stop early"),
        stack(*rows, spacing=8),
        quiet(tr("What was done stays. Urgent signs still need their answer.")),
        button("stop-discard", tr("Begun by mistake: discard it"), ask, kind="quiet"),
    )


def _reason(tab: Tab, editor: ExamEditor, reason: StopReason, label: str) -> ft.Control:
    def chosen() -> None:
        _confirm(tab, editor, reason, label)

    name = for_choice("stop-reason", reason.name.lower().replace("_", "-"))
    return pick(name, label, chosen, is_chosen=False, is_row=True)


def _confirm(tab: Tab, editor: ExamEditor, reason: StopReason, label: str) -> None:
    typed = typed_in(tab.session, editor, "stop", tr("Stop early"))
    note = text_field("stop-note", tr("More about it, if there is any"), typed=typed)
    sheet = OwnSheet(tab)

    async def confirmed() -> None:
        if await change(tab.session, editor, _stopping(reason, note.value), label):
            typed.drop()
            await sheet.go(f"/exam/{editor.exam.exam_id}/review")

    sheet.open(
        label,
        banner(
            "review-status",
            stop_preview(editor.exam, editor.protocol, reason),
            Tone.NOTICE,
        ),
        note.control,
        button(
            "stop-confirm",
            tr("Stop the exam"),
            confirmed,
            icon=ft.Icons.FRONT_HAND_OUTLINED,
            kind="main",
            size="exam",
        ),
        typed=typed,
    )


@change_maker
def _stopping(exam: Exam, edit: Edit, reason: StopReason, note: str) -> Exam:
    return stop_early(exam, edit.protocol, reason, note, edit.by)

"""Work it out: a sum beside the exam, written out, kept only when a person says so."""

from dataclasses import replace

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.forms.form import Form
from exam_app.app.forms.sum_form import SumKind, kinds_for, work_out
from exam_app.domain.exam.exam import Exam
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.texts import paragraph, quiet, side_by_side, stack, strong


def sums_button(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Lead to the sums."""
    return button(
        "sums-open",
        "Work it out",
        lambda: open_sums(tab, editor),
        icon=ft.Icons.CALCULATE_OUTLINED,
        size="exam",
    )


def open_sums(tab: Tab, editor: ExamEditor) -> None:
    """Offer every sum for this animal."""
    kinds = kinds_for(editor.exam, editor.now().local().date())
    tab.open_sheet(
        "Work it out",
        quiet(
            "Arithmetic only; nothing here is advice, and nothing is kept by itself."
        ),
        side_by_side(*(_kind(tab, editor, kind) for kind in kinds)),
    )


def _kind(tab: Tab, editor: ExamEditor, kind: SumKind) -> ft.Control:
    name = for_choice("sums-kind", kind.key)
    return button(name, kind.label, lambda: _open(tab, editor, kind), size="exam")


def _open(tab: Tab, editor: ExamEditor, kind: SumKind) -> None:
    typed = exam_sessions.typed_in(tab.session, editor, f"sum-{kind.key}", kind.label)
    form = Form(kind.asks, "sums-field", typed=typed)

    def result() -> ft.Control:
        found = work_out(kind, form.values())
        if found.problem:
            return identified("sums-problem", quiet(found.problem))
        first, *rest = found.lines

        def made(exam: Exam, _edit: Edit) -> Exam:
            before = f"{exam.remark}\n" if exam.remark else ""
            return replace(exam, remark=f"{before}{'; '.join(found.lines[:2])}")

        async def keep() -> None:
            await tab.change_and_close(editor, made, kind.label, typed)

        label = "Keep it in the exam's remark"
        return stack(
            identified("sums-result", strong(first)),
            *map(paragraph, rest),
            button("sums-keep", label, keep, kind="main", size="exam"),
        )

    view = FormView(form)
    following = view.following(result)
    tab.open_sheet(kind.label, *view.controls(), following, typed=typed, grows=True)

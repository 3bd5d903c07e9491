"""Work it out: a sum beside the exam, written out, kept only when a person says so."""

from collections.abc import Awaitable, Callable
from dataclasses import replace

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.forms.form import Form
from exam_app.app.forms.sum_form import SumKind, Worked, kinds_for, work_out
from exam_app.domain.exam.exam import Exam
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, side_by_side, stack, strong

Keep = Callable[[Worked], Awaitable[None]]


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

    async def keep(found: Worked) -> None:
        words = "; ".join(found.lines[:2])

        def made(exam: Exam, _edit: Edit) -> Exam:
            before = f"{exam.remark}\n" if exam.remark else ""
            return replace(exam, remark=f"{before}{words}")

        await tab.change_and_close(editor, made, kind.label, typed)

    result = Slot(lambda: _result(work_out(kind, form.values()), keep))
    view = FormView(form, on_change=lambda _name: result.refresh())
    tab.open_sheet(
        kind.label, *view.controls(), result.control, typed=typed, grows=True
    )


def _result(found: Worked, keep: Keep) -> ft.Control:
    if found.problem:
        return identified("sums-problem", quiet(found.problem))
    first, *rest = found.lines

    async def kept() -> None:
        await keep(found)

    return stack(
        identified("sums-result", strong(first)),
        *(paragraph(line) for line in rest),
        button(
            "sums-keep", "Keep it in the exam's remark", kept, kind="main", size="exam"
        ),
    )

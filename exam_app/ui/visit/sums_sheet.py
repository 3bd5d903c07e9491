"""Work it out: a sum beside the exam, written out, kept only when a person says so."""

from collections.abc import Awaitable, Callable
from dataclasses import replace

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.forms.sum_form import SumKind, Worked, kinds_for, work_out
from exam_app.domain.exam.exam import Exam
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, side_by_side, stack, strong

Keep = Callable[[Worked], Awaitable[None]]


def sums_button(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Lead to the sums."""

    def tapped() -> None:
        open_sums(tab, editor)

    return button(
        "sums-open",
        "Work it out",
        tapped,
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
    def tapped() -> None:
        _open(tab, editor, kind)

    return button(for_choice("sums-kind", kind.key), kind.label, tapped, size="exam")


def _open(tab: Tab, editor: ExamEditor, kind: SumKind) -> None:
    fields: dict[str, Field] = {}
    kept = exam_sessions.typed_in(tab.session, editor, f"sum-{kind.key}", kind.label)
    typed = {
        field.name: kept.value(for_choice("sums-field", field.name), field.start)
        for field in kind.fields
    }

    def changed() -> None:
        typed.update({name: field.value for name, field in fields.items()})
        result.refresh()

    for field in kind.fields:
        fields[field.name] = text_field(
            for_choice("sums-field", field.name),
            field.label,
            value=field.start,
            hint=field.hint or None,
            keyboard=ft.KeyboardType.VISIBLE_PASSWORD,
            on_change=changed,
            typed=kept,
        )

    async def keep(found: Worked) -> None:
        if await _keep(tab, editor, kind, found):
            kept.drop()
            tab.close_sheet()

    result = Slot(lambda: _result(work_out(kind, typed), keep))
    tab.open_sheet(
        kind.label,
        *(fields[field.name].control for field in kind.fields),
        result.control,
        typed=kept,
        grows=True,
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


async def _keep(tab: Tab, editor: ExamEditor, kind: SumKind, found: Worked) -> bool:
    words = "; ".join(found.lines[:2])

    def made(exam: Exam, _edit: Edit) -> Exam:
        before = f"{exam.remark}\n" if exam.remark else ""
        return replace(exam, remark=f"{before}{words}")

    return await exam_sessions.change(tab.session, editor, made, kind.label)

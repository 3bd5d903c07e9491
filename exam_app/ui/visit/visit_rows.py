"""The rows before and after an exam: what is said of the visit, one tap to say more.

Beside them "Work it out": a sum, written out, kept only when a person says so.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.forms.form import Form
from exam_app.app.forms.sum_form import SumKind, kinds_for, work_out
from exam_app.app.view.visit_presenter import (
    AFTER_PARTS,
    Part,
    PartCard,
    before_parts,
    part_card,
)
from exam_app.domain.exam.exam import Exam
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import CORNER, EXAM_CONTROL_HEIGHT, GAP
from exam_app.ui.visit.bite_sheet import open_bites
from exam_app.ui.visit.intake_scan import open_scans
from exam_app.ui.visit.visit_sheet import open_entries, open_private, open_whole
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, stack, strong


def sums_button(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Lead to the sums."""
    return button(
        "sums-open",
        tr("Work it out"),
        lambda: open_sums(tab, editor),
        icon=ft.Icons.CALCULATE_OUTLINED,
        size="exam",
    )


def open_sums(tab: Tab, editor: ExamEditor) -> None:
    """Offer every sum for this animal."""
    kinds = kinds_for(editor.exam, editor.now().local().date())
    tab.open_sheet(
        tr("Work it out"),
        quiet(
            tr(
                "Arithmetic only; nothing here is advice, "
                "and nothing is kept by itself."
            )
        ),
        evenly([_kind(tab, editor, kind) for kind in kinds]),
    )


def _kind(tab: Tab, editor: ExamEditor, kind: SumKind) -> ft.Control:
    name = for_choice("sums-kind", kind.key)
    opened = partial(_open, tab, editor, kind)
    return button(name, tr(kind.label), opened, kind="tile", size="exam")


def _open(tab: Tab, editor: ExamEditor, kind: SumKind) -> None:
    title = tr(kind.label)
    typed = exam_sessions.typed_in(tab.session, editor, f"sum-{kind.key}", title)
    form = Form(kind.asks, "sums-field", typed=typed)

    def result() -> ft.Control:
        found = work_out(kind, form.values())
        if found.problem:
            return identified("sums-problem", quiet(found.problem))
        first, *rest = found.lines

        def made(exam: Exam, _edit: Edit) -> Exam:
            before = f"{exam.remark}\n" if exam.remark else ""
            return replace(exam, remark=f"{before}{found.kept}")

        async def keep() -> None:
            await tab.change_and_close(editor, made, title, typed)

        label = tr("Keep it in the exam's remark")
        return stack(
            identified("sums-result", strong(first)),
            *map(paragraph, rest),
            button("sums-keep", label, keep, kind="lead"),
        )

    view = FormView(form)
    following = view.following(result)
    tab.open_sheet(title, *view.controls(), following, typed=typed, grows=True)


BEFORE = to_translate("Before")
AFTER = to_translate("Done and planned")
_PADDING = (EXAM_CONTROL_HEIGHT - 25) // 2
_LISTS = {Part.GIVEN, Part.PROCEDURES, Part.SAMPLES}


def before_rows(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Make the rows of why the animal is here, and what can be dangerous."""
    return _rows(tab, editor, before_parts(editor.exam))


def after_rows(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Make the rows of what was given, done, sampled and planned."""
    return stack(_rows(tab, editor, AFTER_PARTS), sums_button(tab, editor))


def open_part(tab: Tab, editor: ExamEditor, part: Part) -> None:
    """Open the sheet of one row over the present screen."""
    if part is Part.SCANS:
        open_scans(tab, editor)
    elif part is Part.BITE:
        open_bites(tab, editor)
    elif part is Part.PRIVATE:
        open_private(tab, editor)
    elif part in _LISTS:
        open_entries(tab, editor, part)
    else:
        open_whole(tab, editor, part)


def _rows(tab: Tab, editor: ExamEditor, parts: tuple[Part, ...]) -> ft.Control:
    view = editor.view

    def slot(part: Part) -> ft.Control:
        def draw() -> ft.Control:
            card = part_card(editor.exam, part, tab.person)
            return _row(card, lambda: open_part(tab, editor, part))

        said = view.visit[part.follows]
        return Slot(draw, said, view.people, in_place=True).control

    return stack(*map(slot, parts), spacing=8)


def _row(card: PartCard, tapped: Callable[[], None]) -> ft.Control:
    sign = ft.Icons.CHECK_CIRCLE if card.lines else ft.Icons.ADD_CIRCLE_OUTLINE
    colour = ft.Colors.PRIMARY if card.lines else ft.Colors.ON_SURFACE_VARIANT
    needed = [tr("Needed before closing")] if card.is_needed else []
    words = [strong(tr(card.title)), *map(quiet, (*needed, *card.lines))]
    row: list[ft.Control] = [
        ft.Icon(sign, size=24, color=colour),
        ft.Column(list(words), spacing=2, tight=True, expand=True),
        ft.Icon(ft.Icons.CHEVRON_RIGHT, size=24),
    ]
    frame = (2, ft.Colors.PRIMARY) if card.is_needed else (1, ft.Colors.OUTLINE)
    box = ft.Container(
        ft.Row(row, spacing=GAP),
        on_click=tapped,
        ink=True,
        border=ft.Border.all(*frame),
        border_radius=CORNER,
        padding=ft.Padding.symmetric(vertical=_PADDING, horizontal=14),
    )
    return identified(for_choice("visit", card.part.key), box)

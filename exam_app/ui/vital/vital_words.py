"""Worded answers and grades: one tap records; signs are ticked, then saved."""

from collections.abc import Callable
from dataclasses import replace

import flet as ft

from exam_app.app.forms import vital_form as forms
from exam_app.app.view.vital_presenter import choice_label
from exam_app.domain.exam.exam import words_for
from exam_app.domain.protocol.protocol import Choice
from exam_app.domain.protocol.scales import Grade, Scale
from exam_app.domain.wording.source_words import cited
from exam_app.ui.vital.vital_edit import VitalEdit
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.flags import source_note
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, side_by_side, stack


def words_part(edit: VitalEdit) -> ft.Control:
    """Offer the worded answers of a vital."""

    def draw() -> ft.Control:
        return side_by_side(
            *(_word(edit, choice, redraw) for choice in edit.vital.choices)
        )

    def redraw() -> None:
        slot.refresh()

    slot = Slot(draw, in_place=True)
    if not edit.vital.several:
        return slot.control
    save = button(
        "vital-save", "Save these signs", edit.save, kind="main", size="hands"
    )
    return stack(slot.control, save)


def _word(edit: VitalEdit, choice: Choice, redraw: Callable[[], None]) -> ft.Control:
    async def tapped() -> None:
        if edit.vital.several:
            edit.form = forms.choose_value(edit.form, choice.value, several=True)
            redraw()
            return
        edit.form = replace(forms.type_text(edit.form, ""), values=(choice.value,))
        await edit.accept()

    name = for_choice("vital-word", choice.value.replace("_", "-"))
    label = choice_label(choice, words_for(edit.editor.exam))
    return pick(
        name, label, tapped, is_chosen=choice.value in edit.form.values, size="hands"
    )


def grade_part(edit: VitalEdit) -> ft.Control:
    """Offer the grades of a scale, lowest first; one tap records."""
    scale = edit.editor.protocol.scale(edit.vital.scale_id)
    if scale is None:
        return quiet("The protocol has no scale for this.")
    buttons = [_grade(edit, scale, grade) for grade in scale.grades]
    listed = stack(*buttons, spacing=8) if _is_list(scale) else side_by_side(*buttons)
    notes = [quiet(scale.note)] if scale.note else []
    about = cited(edit.editor.protocol, (scale.source_id,), scale.provenance)
    return stack(listed, *notes, source_note(scale.scale_id, (about,)))


def _is_list(scale: Scale) -> bool:
    return sum(grade.label != grade.value for grade in scale.grades) > 2


def _grade(edit: VitalEdit, scale: Scale, grade: Grade) -> ft.Control:
    async def tapped() -> None:
        edit.form = replace(edit.form, grade_value=grade.value)
        await edit.accept()

    label = grade.value
    if grade.label != grade.value:
        label = f"{grade.value}  {grade.label}"
    name = for_choice("vital-grade", grade.value)
    return pick(
        name,
        label,
        tapped,
        is_chosen=edit.form.grade_value == grade.value,
        is_row=_is_list(scale),
        size="hands",
    )

"""The sheet of one vital: its parts in the order a hand needs them.

First the answer (words, grade, pad, or count), then why there is none, then a note
and the way to take the answer back.
"""

from dataclasses import replace

import flet as ft

from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.exam_sessions import take_back, told
from exam_app.app.forms import vital_form as forms
from exam_app.app.view.vital_presenter import flag_notice, not_compared
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.late_entries import vital_seen_earlier
from exam_app.domain.exam.vital_transitions import require_vital
from exam_app.domain.protocol.protocol import VitalKind
from exam_app.ui.exam.seen_earlier import open_seen_earlier, seen_earlier_button
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.vital.vital_edit import VitalEdit, unit_setting
from exam_app.ui.vital.vital_measure import measure_part
from exam_app.ui.vital.vital_rate import rate_part
from exam_app.ui.vital.vital_words import grade_part, words_part
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.flags import flag_with_ranges
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.texts import quiet, side_by_side, stack, strong


def open_vital(
    tab: Tab, editor: ExamEditor, vital_id: str, *, is_again: bool = False
) -> None:
    """Open the sheet of one vital over the present screen.

    Args:
        is_again: Whether for a second reading, beside the one that stands.
    """
    vital = require_vital(editor.exam, editor.protocol, vital_id)
    unit = tab.vault.settings.get(unit_setting(vital_id), "")
    form = forms.form_for(editor.exam, editor.protocol, vital, editor.now(), unit)
    if is_again:
        form = forms.once_more(form)

    def reopen() -> None:
        open_vital(tab, editor, vital_id, is_again=True)

    came_from = tab.page.route or ""
    edit = VitalEdit(tab, editor, vital, form, came_from=came_from, reopen=reopen)
    tab.open_sheet(edit.label, *_parts(edit), typed=edit.typed, grows=True)


def _parts(edit: VitalEdit) -> list[ft.Control]:
    controls: list[ft.Control] = []
    if edit.vital.measure is None:
        controls.append(edit.ask_here())
    if edit.vital.how:
        controls.append(quiet(edit.vital.how))
    if edit.entry.is_answered:
        controls.append(_answered(edit))
    controls.append(_answer_part(edit))
    controls += [_reasons(edit), _note(edit)]
    if edit.entry.is_answered:
        controls += [_clear(edit), _earlier(edit)]
    return controls


def _answer_part(edit: VitalEdit) -> ft.Control:
    kind = edit.vital.kind
    if kind is VitalKind.RATE:
        return rate_part(edit)
    if kind is VitalKind.GRADE:
        return grade_part(edit)
    if kind is VitalKind.CHOICE:
        return words_part(edit)
    if edit.vital.choices:
        return stack(words_part(edit), measure_part(edit))
    return measure_part(edit)


def _answered(edit: VitalEdit) -> ft.Control:
    editor = edit.editor
    now = strong(f"Now: {told(editor, edit.vital, edit.entry)}")
    notice = flag_notice(edit.entry.flag, editor.protocol)
    if notice is not None:
        return stack(now, flag_with_ranges(notice), spacing=6)
    why = not_compared(editor.exam, editor.protocol, edit.vital)
    return stack(now, quiet(why), spacing=6) if why else now


def _reasons(edit: VitalEdit) -> ft.Control:
    buttons = [_reason(edit, reason) for reason in edit.vital.not_done_reasons]
    own = text_field("vital-reason-typed", "Reason in your own words", typed=edit.typed)
    place = ft.Column([], tight=True)

    async def save() -> None:
        if own.value:
            await edit.give_reason(own.value)

    own_part: list[ft.Control] = [
        own.control,
        button("vital-reason-save", "Save this reason", save, size="hands"),
    ]
    place.controls = own_part if own.value else []

    def write_own() -> None:
        place.controls = own_part
        place.update()

    name = for_choice("vital-reason", "own")
    buttons.append(button(name, "other reason…", write_own, size="hands"))
    return stack(strong("Not done, because"), side_by_side(*buttons), place, spacing=8)


def _reason(edit: VitalEdit, reason: str) -> ft.Control:
    async def given() -> None:
        await edit.give_reason(reason)

    name = for_choice("vital-reason", reason.replace(" ", "-"))
    return button(name, reason, given, size="hands")


def _note(edit: VitalEdit) -> ft.Control:
    async def changed(event: ft.Event[ft.TextField]) -> None:
        edit.form = replace(edit.form, note=event.control.value or "")

    async def left() -> None:
        if edit.entry.has_value and edit.form.note.strip() != edit.entry.note:
            await edit.accept(stays=True)

    return text_field(
        for_choice("vital", "note"),
        "Note",
        value=edit.form.note,
        on_change=changed,
        on_blur=left,
    ).control


def _earlier(edit: VitalEdit) -> ft.Control:
    def made(exam: Exam, change: Edit) -> Exam:
        name = edit.vital.vital_id
        return vital_seen_earlier(exam, change.protocol, name, change.by)

    def ask() -> None:
        open_seen_earlier(edit.tab, edit.editor, edit.label, made)

    return seen_earlier_button(ask)


def _clear(edit: VitalEdit) -> ft.Control:
    async def cleared() -> None:
        if await take_back(edit.tab.session, edit.editor, edit.vital):
            edit.settle()
            await edit.leave()

    return button(
        "vital-clear",
        "Take this answer back",
        cleared,
        icon=ft.Icons.UNDO,
        kind="quiet",
    )

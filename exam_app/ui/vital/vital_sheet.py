"""One vital on a sheet, and what else there is to say of one that stands in the list.

First the answer (words, grade, pad, or count), then why there is none, then a note
and the way to take the answer back.
"""

from collections.abc import Callable
from dataclasses import replace

import flet as ft

from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.exam_sessions import take_back, told
from exam_app.app.forms import vital_form as forms
from exam_app.app.view.count_presenter import windows_for
from exam_app.app.view.vital_offers import (
    RHYTHMS,
    counted_before,
    offers_rhythm,
)
from exam_app.app.view.vital_presenter import not_compared, vital_notice
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.late_entries import vital_seen_earlier
from exam_app.domain.exam.review import how_words
from exam_app.domain.exam.vital_transitions import require_vital
from exam_app.domain.measure.counting import CountKind
from exam_app.domain.protocol.protocol import VitalKind
from exam_app.domain.wording.source_words import cited
from exam_app.language.catalogue import in_english, tr
from exam_app.ui.exam.seen_earlier import open_seen_earlier, seen_earlier_button
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.vital.pulse_part import PulsePart
from exam_app.ui.vital.tape_sheet import tape_button
from exam_app.ui.vital.vital_edit import VitalEdit, usual_unit
from exam_app.ui.vital.vital_zone import (
    answer_rows,
    carried_words,
    count_button,
    grades_in_words,
    words_part,
)
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.flags import flag_with_ranges, source_note
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.number_pad import NumberPad
from exam_app.ui.widgets.room import SPACE
from exam_app.ui.widgets.texts import quiet, stack, strong


def edit_in(
    tab: Tab,
    editor: ExamEditor,
    vital_id: str,
    *,
    is_again: bool = False,
    on_left: Callable[[], None] | None = None,
) -> VitalEdit:
    """Begin to answer a vital: with what was said before, and what was left unsaved.

    Args:
        tab: Where it is shown.
        editor: Of the exam.
        vital_id: Which one.
        is_again: Whether for a second reading, beside the one that stands.
        on_left: Called when it is answered, where it stands in the list.
    """
    vital = require_vital(editor.exam, editor.protocol, vital_id)
    unit = usual_unit(tab, vital)
    form = forms.form_for(editor.exam, editor.protocol, vital, editor.now(), unit)
    if is_again:
        form = forms.once_more(form)

    def reopen() -> None:
        open_vital(tab, editor, vital_id, is_again=True)

    came_from = tab.page.route or ""
    return VitalEdit(
        tab,
        editor,
        vital,
        form,
        came_from=came_from,
        reopen=reopen,
        on_left=on_left,
    )


def open_vital(
    tab: Tab, editor: ExamEditor, vital_id: str, *, is_again: bool = False
) -> None:
    """Open the sheet of one vital over the present screen.

    Args:
        is_again: Whether for a second reading, beside the one that stands.
    """
    edit = edit_in(tab, editor, vital_id, is_again=is_again)
    carried = map(quiet, carried_words(edit))
    answers = stack(*answer_rows(edit, NumberPad("thumb")), spacing=SPACE)
    controls = [*said_of(edit), *carried, answers, *_else(edit)]
    tab.open_sheet(edit.label, *controls, typed=edit.typed, grows=True)


def zone_rows(edit: VitalEdit, pad: NumberPad, *beside: ft.Control) -> list[ft.Control]:
    """Draw what answers a vital that is current, with the way to all the rest.

    Args:
        edit: The vital and what is entered of it.
        pad: As of ``answer_rows``.
        beside: What stands beside a value that is typed.
    """

    def more() -> None:
        tab, title = edit.tab, edit.label
        tab.open_sheet(title, *_else(edit), typed=edit.typed, grows=True)

    other = button("vital-other", tr("Other …"), more, kind="tile", size="thumb")
    # A count, or a tape, takes the room of the reason that is given most often.
    is_rate = edit.vital.kind is VitalKind.RATE
    first = () if is_rate or tape_button(edit) else edit.vital.not_done_reasons[:1]
    ways = (*(_reason(edit, reason) for reason in first), other)
    return answer_rows(edit, pad, *ways, beside=beside)


def said_of(edit: VitalEdit) -> list[ft.Control]:
    """Say how it is taken, what stands already, and what the grades mean.

    What a scale says beside is read with its source, unless nothing else says how.
    """
    how = how_words(edit.vital, edit.tab.person.role)
    controls: list[ft.Control] = [quiet(tr(how))] if how else []
    if edit.entry.is_answered:
        controls.append(_answered(edit))
    scale = edit.editor.protocol.scale(edit.vital.scale_id)
    if scale is not None:
        controls += [quiet(words) for words in grades_in_words(scale)]
        controls += [quiet(tr(scale.note))] if scale.note and not how else []
    return controls


def _answered(edit: VitalEdit) -> ft.Control:
    editor = edit.editor
    now = strong(tr("Now: {answer}", answer=told(editor, edit.vital, edit.entry)))
    notice = vital_notice(editor.exam, editor.protocol, edit.vital)
    if notice is not None:
        return stack(now, flag_with_ranges(notice), spacing=6)
    why = not_compared(editor.exam, editor.protocol, edit.vital)
    return stack(now, quiet(why), spacing=6) if why else now


def _else(edit: VitalEdit) -> list[ft.Control]:
    """Draw all that can be said beside the value, or in its place."""
    controls = [*_counted(edit), _reasons(edit)]
    if edit.vital.kind is VitalKind.RATE:
        controls += _beside_rate(edit)
    controls += [_note(edit), *_source(edit)]
    if edit.entry.is_answered:
        controls += [_clear(edit), _earlier(edit)]
    return controls


def _beside_rate(edit: VitalEdit) -> list[ft.Control]:
    editor = edit.editor
    _, *others = windows_for(editor.exam, editor.protocol, edit.vital)
    counts = (count_button(edit, seconds) for seconds in others)
    controls: list[ft.Control] = [evenly([*counts])] if others else []
    if edit.vital.choices:
        controls += [strong(tr("Or in words")), words_part(edit)]
    if edit.entry.reading is not None:
        controls += _rhythm(edit)
    if edit.vital.counted is CountKind.PULSE:
        controls.append(PulsePart(edit).slot.control)
    return controls


def _counted(edit: VitalEdit) -> list[ft.Control]:
    """Offer a count that was made and typed, and never used."""
    count = counted_before(edit.typed)
    if count is None:
        return []

    async def use() -> None:
        edit.form = forms.take_count(edit.form, edit.vital, count)
        await edit.accept()

    label = tr(
        "Use the count of {count} in {seconds} s",
        count=count.count,
        seconds=count.seconds,
    )
    return [button("vital-counted", label, use, kind="main", size="exam")]


def _rhythm(edit: VitalEdit) -> list[ft.Control]:
    """Offer the examiner's words on the rhythm; kept at once with a value."""
    if not offers_rhythm(edit.vital):
        return []

    async def chosen(key: str) -> None:
        edit.form = replace(edit.form, rhythm=key)
        if edit.entry.reading is not None:
            await edit.accept(stays=True)

    row = ChoiceRow(
        "vital-rhythm",
        [(word, tr(word)) for word in RHYTHMS],
        chosen,
        chosen=edit.form.rhythm or None,
        clearable=True,
        size="hands",
        columns=2,
    )
    return [strong(tr("Rhythm")), row.control]


def _source(edit: VitalEdit) -> list[ft.Control]:
    protocol = edit.editor.protocol
    scale = protocol.scale(edit.vital.scale_id)
    if scale is None:
        return []
    about = cited(protocol, (scale.source_id,), scale.provenance)
    beside = [tr(scale.note)] if scale.note else []
    return [source_note(scale.scale_id, (*beside, about))]


def _reasons(edit: VitalEdit) -> ft.Control:
    buttons = [_reason(edit, reason) for reason in edit.vital.not_done_reasons]
    own = text_field(
        "vital-reason-typed", tr("Reason in your own words"), typed=edit.typed
    )
    place = ft.Column([], tight=True)

    async def save() -> None:
        if own.value:
            await edit.give_reason(own.value)

    own_part: list[ft.Control] = [
        own.control,
        button("vital-reason-save", tr("Save this reason"), save, size="hands"),
    ]
    place.controls = own_part if own.value else []

    def write_own() -> None:
        place.controls = own_part
        place.update()

    name = for_choice("vital-reason", "own")
    buttons.append(
        button(name, tr("other reason …"), write_own, kind="tile", size="thumb")
    )
    return stack(strong(tr("Not done, because")), evenly(buttons), place, spacing=8)


def _reason(edit: VitalEdit, reason: str) -> ft.Control:
    async def given() -> None:
        await edit.give_reason(reason)

    name = for_choice("vital-reason", reason.replace(" ", "-"))
    return button(name, tr(reason), given, kind="tile", size="thumb")


def _note(edit: VitalEdit) -> ft.Control:
    async def changed(event: ft.Event[ft.TextField]) -> None:
        edit.form = replace(edit.form, note=event.control.value or "")

    async def left() -> None:
        if edit.entry.has_value and edit.form.note.strip() != edit.entry.note:
            await edit.accept(stays=True)

    return text_field(
        for_choice("vital", "note"),
        tr("Note"),
        value=edit.form.note,
        on_change=changed,
        on_blur=left,
    ).control


def _earlier(edit: VitalEdit) -> ft.Control:
    def made(exam: Exam, change: Edit) -> Exam:
        name = edit.vital.vital_id
        return vital_seen_earlier(exam, change.protocol, name, change.by)

    def ask() -> None:
        with in_english():
            place = edit.label
        open_seen_earlier(edit.tab, edit.editor, place, edit.label, made)

    return seen_earlier_button(ask)


def _clear(edit: VitalEdit) -> ft.Control:
    async def cleared() -> None:
        sheet = edit.tab.sheet
        if await take_back(edit.tab.session, edit.editor, edit.vital):
            edit.settle()
            await edit.leave(sheet)

    return button(
        "vital-clear",
        tr("Take this answer back"),
        cleared,
        icon=ft.Icons.UNDO,
        kind="quiet",
    )

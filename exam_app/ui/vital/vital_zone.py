"""What answers a vital, laid out for one thumb: words, grades, or a pad with Save.

Value, unit, state and Save stand together. Choices stand in grids of equal cells and
questions above them, so that no key ever moves.
"""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import replace
from functools import partial

import flet as ft

from exam_app.app.forms import vital_form as forms
from exam_app.app.view.count_presenter import windows_for
from exam_app.app.view.vital_offers import (
    STATE,
    chosen_units,
    pad_units,
)
from exam_app.app.view.vital_presenter import choice_label
from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.vitals import RateState
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.protocol import Choice, VitalKind
from exam_app.domain.protocol.scales import Grade, Scale
from exam_app.language.catalogue import tr
from exam_app.ui.vital.tape_sheet import tape_button
from exam_app.ui.vital.vital_edit import STATE_LABELS, VitalEdit
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, grid, pick
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.number_pad import NumberPad, OnKey, pad_keys
from exam_app.ui.widgets.room import (
    ROOM,
    SPACE,
    fitting_columns,
    rows_that_fit,
    width_of,
)
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet

Go = Callable[[], Awaitable[None]]
_STATES = (
    RateState.ASLEEP,
    RateState.RESTING,
    RateState.ALERT,
    RateState.HOT,
    RateState.AFTER_EXERTION,
    RateState.RESTRAINED,
)
# A scale of more grades is a grid of numbers, whose words stand above it.
_MOST_WORDED = 7
_FIELD_FONT, _FIELD_SIDES = 18, 36


def answer_rows(
    edit: VitalEdit,
    pad: NumberPad,
    *ways: ft.Control,
    beside: Sequence[ft.Control] = (),
) -> list[ft.Control]:
    """Draw what answers a vital, one row below the other.

    Args:
        edit: The vital and what is entered of it.
        pad: Of the place it is drawn in, where it stays for the next vital.
        ways: Buttons that stand with the answers: reasons, and what else there is.
        beside: What stands beside a value that is typed.
    """
    asked = edit.ask_here()
    if edit.vital.kind is VitalKind.GRADE:
        return [asked, grade_part(edit), _row(*ways)]
    if edit.vital.measure is None:
        return [asked, words_part(edit), _row(*ways, *_save_several(edit))]
    is_rate = edit.vital.kind is VitalKind.RATE
    chosen = [state_row(edit)] if is_rate else _sites(edit)
    chosen += _estimate(edit)
    if edit.vital.choices and not is_rate:
        chosen.append(words_part(edit))
    counts = _counts(edit) if is_rate else tape_button(edit)
    value = _value(edit, edit.vital.measure, pad, beside, *counts, *ways)
    return [asked, *chosen, *value]


def _row(*controls: ft.Control) -> ft.Control:
    for control in controls:
        control.expand = control.expand or 1
    return ft.Row([*controls], spacing=6)


def carried_words(edit: VitalEdit) -> list[str]:
    """Say where a state comes from that nobody chose here."""
    if edit.vital.kind is not VitalKind.RATE:
        return []
    state = edit.form.state
    if state is None or edit.entry.state is not None or edit.typed.value(STATE):
        return []
    return [
        tr("Still {state}, as said at the rate before?", state=tr(STATE_LABELS[state]))
    ]


def state_row(edit: VitalEdit) -> ft.Control:
    """Offer what the animal was doing; a value that stands takes it at once."""

    async def chosen(key: str) -> None:
        edit.form = replace(edit.form, state=RateState(key))
        edit.unask()
        if edit.entry.reading is not None and edit.entry.state is None:
            await edit.accept()

    return ChoiceRow(
        "vital-state",
        [(state.value, tr(STATE_LABELS[state])) for state in _STATES],
        chosen,
        chosen=edit.form.state.value if edit.form.state else None,
        size="thumb",
        columns=3,
    ).control


def _value(
    edit: VitalEdit,
    measure: Measure,
    pad: NumberPad,
    ends: Sequence[ft.Control],
    *beside: ft.Control,
) -> tuple[ft.Control, ...]:
    """Draw the field and its units, and the pad with Save at its last row."""
    typed, width = _typed_field(edit), min(ROOM.zone, ROOM.sheet)
    # Where a word would be cut beside the keys, the ways stand further up, and the
    # units over the value: that one stays next to its pad.
    fits = fitting_columns(beside, 3, width) == 3
    ways = [] if fits else rows_that_fit(beside, width)
    pressed = partial(_press, edit, typed)
    at_end = [*(beside if fits else ()), *(ft.Container() for _ in range(3))][:3]
    # The keys stay the controls they are: of one made anew a quick tap is lost.
    third = Slot(partial(_third, edit, measure, pressed, at_end[2]))
    units = _units(edit, measure, third)
    is_narrow = 2 * (width_of(edit.label, _FIELD_FONT) + _FIELD_SIDES) > width
    apart = [units] if units else []
    apart.append([typed.control, *ends])
    rows = apart if is_narrow else [[typed.control, *units, *ends]]
    shown = [ft.Row([*row], spacing=SPACE) for row in (*ways, *rows)]
    save = button("vital-save", tr("Save"), edit.save, kind="main tile", size="thumb")
    at_end[2:] = [third.control, save]
    for end in at_end:
        end.expand = 1
    has_point = measure.precision % 1 != 0
    return (*shown, pad.show(pressed, has_point=has_point, beside=at_end))


def _typed_field(edit: VitalEdit) -> Field:
    async def changed(event: ft.Event[ft.TextField]) -> None:
        edit.form = forms.type_text(edit.form, event.control.value or "")
        edit.unask()

    typed = text_field(
        "vital-typed",
        edit.label,
        value=edit.form.typed,
        keyboard=ft.KeyboardType.VISIBLE_PASSWORD,
        autofocus=edit.tab.is_wide,
        on_change=changed,
        on_submit=edit.save,
    )
    typed.control.expand = True
    return typed


async def _press(edit: VitalEdit, typed: Field, key: str) -> None:
    edit.form = forms.press(edit.form, key)
    typed.entry.value = edit.form.typed
    typed.entry.update()
    edit.unask()


def _third(
    edit: VitalEdit, measure: Measure, pressed: OnKey, usual: ft.Control
) -> ft.Control:
    """Draw what ends the third row of keys: pounds and ounces, while one is typed."""
    units = pad_units(measure) if edit.form.unit == "lb" else ()
    return pad_keys(pressed, units, "thumb") if units else usual


def _units(edit: VitalEdit, measure: Measure, third: Slot) -> list[ft.Control]:
    units = chosen_units(measure)
    if len(units) < 2:
        return []

    async def chosen(unit: str) -> None:
        edit.form = replace(edit.form, unit=unit, is_confirmed=False)
        third.refresh()

    row = ChoiceRow(
        "vital-unit",
        units,
        chosen,
        chosen=edit.form.unit,
        size="thumb",
        columns=len(units),
    )
    row.control.expand = True
    return [row.control]


def _sites(edit: VitalEdit) -> list[ft.Control]:
    if not edit.vital.sites:
        return []

    async def chosen(site: str) -> None:
        edit.form = replace(edit.form, site=site)

    sites = [(site, tr(site)) for site in edit.vital.sites]
    row = ChoiceRow(
        "vital-site", sites, chosen, chosen=edit.form.site, size="thumb", columns=3
    )
    return [row.control]


def _estimate(edit: VitalEdit) -> list[ft.Control]:
    if not edit.vital.is_body_weight:
        return []

    def draw() -> ft.Control:
        name = for_choice("vital-estimate", "yes")
        label, is_now = tr("Estimated, not weighed"), edit.form.is_estimate
        cell = pick(name, label, toggled, is_chosen=is_now, is_cell=True, size="thumb")
        return grid([cell], 1)

    async def toggled() -> None:
        edit.form = replace(edit.form, is_estimate=not edit.form.is_estimate)
        slot.refresh()

    slot = Slot(draw, in_place=True)
    return [slot.control]


def words_part(edit: VitalEdit) -> ft.Control:
    """Offer the worded answers of a vital: one tap records, signs are ticked first."""
    words = words_for(edit.editor.exam)
    longest = max(len(tr(choice_label(one, words))) for one in edit.vital.choices)

    def draw() -> ft.Control:
        cells = [_word(edit, choice, redraw) for choice in edit.vital.choices]
        return grid(cells, 3 if longest < 8 else 2)

    def redraw() -> None:
        slot.refresh()

    slot = Slot(draw, in_place=True)
    return slot.control


def _word(edit: VitalEdit, choice: Choice, redraw: Callable[[], None]) -> ft.Control:
    async def tapped() -> None:
        if edit.is_settling:
            return
        several = edit.vital.several
        if several and choice.value != forms.NONE_SEEN:
            edit.form = forms.choose_value(edit.form, choice.value, several=True)
            redraw()
            return
        edit.form = replace(forms.type_text(edit.form, ""), values=(choice.value,))
        await edit.accept()

    return pick(
        for_choice("vital-word", choice.value.replace("_", "-")),
        tr(choice_label(choice, words_for(edit.editor.exam))),
        tapped,
        is_chosen=choice.value in edit.form.values,
        is_cell=True,
        size="thumb",
    )


def _save_several(edit: VitalEdit) -> list[ft.Control]:
    if not edit.vital.several:
        return []
    label = tr("Save these signs")
    return [button("vital-save", label, edit.save, kind="main tile", size="thumb")]


def grade_part(edit: VitalEdit) -> ft.Control:
    """Offer the grades of a scale, lowest first; one tap records."""
    scale = edit.editor.protocol.scale(edit.vital.scale_id)
    if scale is None:
        return quiet(tr("The protocol has no scale for this."))
    count = len(scale.grades)
    columns = 2 if count <= _MOST_WORDED else 5 if count <= 10 else 6
    return grid([_grade(edit, scale, grade) for grade in scale.grades], columns)


def grades_in_words(scale: Scale) -> list[str]:
    """Return what the numbers of a scale mean, where its grid shows them alone."""
    if len(scale.grades) <= _MOST_WORDED:
        return []
    worded = [grade for grade in scale.grades if grade.label != grade.value]
    return [f"{grade.value}: {tr(grade.label)}" for grade in worded]


def _grade(edit: VitalEdit, scale: Scale, grade: Grade) -> ft.Control:
    async def tapped() -> None:
        if edit.is_settling:
            return
        edit.form = replace(edit.form, grade_value=grade.value)
        await edit.accept()

    label = tr(grade.value)
    if grade.label != grade.value and len(scale.grades) <= _MOST_WORDED:
        label = f"{grade.value}  {tr(grade.label)}"
    return pick(
        for_choice("vital-grade", grade.value),
        label,
        tapped,
        is_chosen=edit.form.grade_value == grade.value,
        is_cell=True,
        size="thumb",
    )


def _counts(edit: VitalEdit) -> tuple[ft.Control, ...]:
    editor = edit.editor
    first = windows_for(editor.exam, editor.protocol, edit.vital)[0]
    return (
        count_button(edit, first),
        button(
            "vital-tap", tr("Tap along"), _go(edit, "tap"), kind="tile", size="thumb"
        ),
    )


def count_button(edit: VitalEdit, seconds: int) -> ft.Control:
    """Make the button that counts along for so many seconds."""
    return button(
        for_choice("vital-count", str(seconds)),
        tr("Count {seconds} s", seconds=seconds),
        _go(edit, "count", f"/{seconds}"),
        kind="tile",
        size="thumb",
    )


def _go(edit: VitalEdit, way: str, rest: str = "") -> Go:
    async def go() -> None:
        exam_id, vital_id = edit.editor.exam.exam_id, edit.vital.vital_id
        edit.tab.session.counting[exam_id, vital_id] = edit.form, edit.came_from
        await edit.tab.go(f"/exam/{exam_id}/{way}/{vital_id}{rest}")

    return go

"""A rate: what the animal was doing, then count along, tap, type, or a word."""

from collections.abc import Awaitable, Callable
from dataclasses import replace

import flet as ft

from exam_app.app.forms import vital_form as forms
from exam_app.app.view.count_presenter import windows_for
from exam_app.app.view.vital_offers import (
    RHYTHMS,
    TYPED,
    counted_before,
    offers_rhythm,
)
from exam_app.domain.exam.vitals import RateState
from exam_app.domain.measure.counting import CountKind
from exam_app.ui.vital.pulse_part import PulsePart
from exam_app.ui.vital.vital_edit import VitalEdit
from exam_app.ui.vital.vital_measure import measure_part
from exam_app.ui.vital.vital_words import words_part
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import side_by_side, stack, strong

Go = Callable[[], Awaitable[None]]
# Short words together, so that a phone shows them in two rows.
_STATES = (
    RateState.ASLEEP,
    RateState.RESTING,
    RateState.ALERT,
    RateState.HOT,
    RateState.AFTER_EXERTION,
    RateState.RESTRAINED,
)


def rate_part(edit: VitalEdit) -> ft.Control:
    """Offer the state once, then every way to a rate."""
    # What was typed before and not saved is shown where it was typed.
    is_typing = [bool(edit.typed.value(TYPED))]

    def type_it() -> None:
        is_typing[0] = True
        ways.refresh()

    ways = Slot(lambda: measure_part(edit) if is_typing[0] else _ways(edit, type_it))
    controls = [strong("The animal is"), state_row(edit)]
    controls += [*_counted(edit), ways.control]
    if edit.vital.choices:
        controls += [strong("Or in words"), words_part(edit)]
    if edit.entry.reading is not None:
        controls += rhythm_row(edit)
    if edit.vital.counted is CountKind.PULSE:
        controls.append(PulsePart(edit).slot.control)
    return stack(*controls, spacing=8)


def _counted(edit: VitalEdit) -> list[ft.Control]:
    """Offer a count that was made and typed, and never used."""
    count = counted_before(edit.typed)
    if count is None:
        return []

    async def use() -> None:
        edit.form = forms.take_count(edit.form, edit.vital, count)
        await edit.accept()

    label = f"Use the count of {count.count} in {count.seconds} s"
    return [button("vital-counted", label, use, kind="main", size="exam")]


def state_row(edit: VitalEdit) -> ft.Control:
    """Offer what the animal was doing; a value that stands takes it at once."""

    async def chosen(key: str) -> None:
        edit.form = replace(edit.form, state=RateState(key))
        if edit.entry.reading is not None and edit.entry.state is None:
            await edit.accept()

    states = [(state.value, state.value) for state in _STATES]
    return ChoiceRow(
        "vital-state",
        states,
        chosen,
        chosen=edit.form.state.value if edit.form.state else None,
        size="hands",
    ).control


def rhythm_row(edit: VitalEdit) -> list[ft.Control]:
    """Offer the examiner's words on the rhythm; kept at once with a value."""
    if not offers_rhythm(edit.vital):
        return []

    async def chosen(key: str) -> None:
        edit.form = replace(edit.form, rhythm=key)
        if edit.entry.reading is not None:
            await edit.accept(stays=True)

    row = ChoiceRow(
        "vital-rhythm",
        [(word, word) for word in RHYTHMS],
        chosen,
        chosen=edit.form.rhythm or None,
        clearable=True,
        size="hands",
    )
    return [strong("Rhythm"), row.control]


def _ways(edit: VitalEdit, type_it: Callable[[], None]) -> ft.Control:
    editor = edit.editor
    first, *others = windows_for(editor.exam, editor.protocol, edit.vital)
    return stack(
        edit.ask_here(),
        button(
            for_choice("vital-count", str(first)),
            f"Count along for {first} s",
            _go_count(edit, first),
            icon=ft.Icons.TIMER_OUTLINED,
            kind="main",
            size="hands",
        ),
        side_by_side(
            *(
                button(
                    for_choice("vital-count", str(seconds)),
                    f"{seconds} s",
                    _go_count(edit, seconds),
                    size="hands",
                )
                for seconds in others
            )
        ),
        side_by_side(
            button(
                "vital-tap",
                "Tap along",
                _go(edit, "tap"),
                icon=ft.Icons.TOUCH_APP_OUTLINED,
                size="hands",
            ),
            button(
                "vital-type", "Type it", type_it, icon=ft.Icons.DIALPAD, size="hands"
            ),
        ),
    )


def _go_count(edit: VitalEdit, seconds: int) -> Go:
    return _go(edit, "count", f"/{seconds}")


def _go(edit: VitalEdit, way: str, rest: str = "") -> Go:
    async def go() -> None:
        exam_id, vital_id = edit.editor.exam.exam_id, edit.vital.vital_id
        edit.tab.session.counting[exam_id, vital_id] = edit.form, edit.came_from
        await edit.tab.go(f"/exam/{exam_id}/{way}/{vital_id}{rest}")

    return go

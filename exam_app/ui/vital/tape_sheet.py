"""Weigh with a tape: the lengths, every rule beside the others, one choice."""

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.forms import tape_form
from exam_app.app.forms.tape_form import TapeResult
from exam_app.app.typed_entries import Typed
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.weight_rules import TapeMeasure
from exam_app.ui.vital.vital_edit import VitalEdit
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, stack, strong

_NOTE = (
    "An estimate stays marked as one wherever this weight appears. Doses are the "
    "veterinarian's decision."
)


def tape_button(edit: VitalEdit) -> list[ft.Control]:
    """Offer the tape where a published rule fits this animal, for its weight."""
    if not (edit.vital.is_body_weight and tape_form.rules_for(edit.editor.exam)):
        return []

    def tapped() -> None:
        open_tape(edit)

    return [
        button(
            "tape-open",
            "No scale: estimate with a tape",
            tapped,
            icon=ft.Icons.STRAIGHTEN,
            size="exam",
        )
    ]


def open_tape(edit: VitalEdit) -> None:
    """Open the sheet in the weight's place."""
    rules = tape_form.rules_for(edit.editor.exam)
    measures = tape_form.measures_of(rules)
    kept = exam_sessions.typed_in(
        edit.tab.session, edit.editor, "tape", "Estimate the weight"
    )
    names = {m.measure_id: for_choice("tape-length", m.measure_id) for m in measures}
    typed = {key: kept.value(name) for key, name in names.items() if kept.value(name)}
    unit = [kept.value("unit", tape_form.LENGTH_UNITS[0][0])]

    def draw() -> ft.Control:
        lengths, _ = tape_form.read_lengths(typed, unit[0])
        found = tape_form.results(rules, lengths)
        told = tape_form.disagreement(found)
        warned = [banner("tape-differ", told, Tone.NOTICE)] if told else []
        return stack(*warned, *(_rule(edit, result, lengths, kept) for result in found))

    shown = Slot(draw)

    async def chosen(value: str) -> None:
        unit[0] = value
        kept.note("unit", value, tape_form.LENGTH_UNITS[0][0])
        shown.refresh()

    fields = [_length(measure, typed, unit, shown, kept) for measure in measures]
    missing = [quiet(text) for text in tape_form.missing_words(edit.editor.exam)]
    edit.tab.open_sheet(
        "Estimate the weight",
        paragraph(_NOTE),
        ChoiceRow("tape-unit", tape_form.LENGTH_UNITS, chosen, unit[0]).control,
        *fields,
        shown.control,
        *([section("No rule here for", *missing)] if missing else []),
        typed=kept,
        grows=True,
    )


def _length(
    measure: TapeMeasure,
    typed: dict[str, str],
    unit: list[str],
    shown: Slot,
    kept: Typed,
) -> ft.Control:
    entry: list[Field] = []

    def changed() -> None:
        typed[measure.measure_id] = entry[0].value
        _, problems = tape_form.read_lengths(typed, unit[0])
        entry[0].show_problem(problems.get(measure.measure_id))
        shown.refresh()

    entry.append(
        text_field(
            for_choice("tape-length", measure.measure_id),
            measure.label,
            hint=measure.how,
            keyboard=ft.KeyboardType.VISIBLE_PASSWORD,
            on_change=changed,
            typed=kept,
        )
    )
    return entry[0].control


def _rule(
    edit: VitalEdit, result: TapeResult, lengths: dict[str, Reading], kept: Typed
) -> ft.Control:
    name = result.rule.rule_id
    said = identified(for_choice("tape-result", name), strong(result.shown))
    shown = [paragraph(result.rule.label), said, quiet(result.details)]
    estimate = result.estimate
    if estimate is None:
        return stack(*shown, spacing=4)

    async def take() -> None:
        edit.form = tape_form.with_estimate(edit.form, estimate, lengths)
        before = edit.entry
        await edit.accept()
        if edit.entry != before:
            kept.drop()

    label = f"Take {estimate.shown}"
    action = button(
        for_choice("tape-take", name), label, take, kind="main", size="exam"
    )
    return stack(*shown, action, spacing=4)

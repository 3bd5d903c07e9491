"""Weigh with a tape: the lengths, every rule beside the others, one choice."""

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.forms import tape_form
from exam_app.app.forms.form import Ask, Form, Kind
from exam_app.app.forms.tape_form import TapeResult
from exam_app.app.typed_entries import Typed
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.weight_rules import TapeMeasure
from exam_app.language.catalogue import to_translate, tr
from exam_app.protocols.loader import weight_tables
from exam_app.ui.vital.vital_edit import VitalEdit
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, stack, strong

_NOTE = to_translate(
    "An estimate stays marked as one wherever this weight appears. Doses are the "
    "veterinarian's decision."
)


def tape_button(edit: VitalEdit) -> list[ft.Control]:
    """Offer the tape where a published rule fits this animal, for its weight."""
    if not (edit.vital.is_body_weight and tape_form.rules_for(edit.editor.exam)):
        return []

    return [
        button(
            "tape-open",
            tr("No scale: tape"),
            lambda: open_tape(edit),
            spoken=tr("No scale: estimate with a tape"),
            kind="tile",
            size="thumb",
        )
    ]


def open_tape(edit: VitalEdit) -> None:
    """Open the sheet in the weight's place."""
    rules = tape_form.rules_for(edit.editor.exam)
    measures = tape_form.measures_of(rules)
    kept = exam_sessions.typed_in(
        edit.tab.session, edit.editor, "tape", tr("Estimate the weight")
    )
    form = Form((tape_form.UNIT, *map(_asked, measures)), "tape-length", typed=kept)

    def read() -> tuple[dict[str, Reading], dict[str, str]]:
        typed = {m.measure_id: form[m.measure_id] for m in measures}
        return tape_form.read_lengths(typed, form["unit"])

    def draw() -> ft.Control:
        lengths, _ = read()
        found = tape_form.results(rules, lengths)
        told = tape_form.disagreement(found)
        warned = [banner("tape-differ", told, Tone.NOTICE)] if told else []
        return stack(*warned, *(_rule(edit, result, lengths, kept) for result in found))

    def changed(name: str) -> None:
        if name in view.fields:
            view.fields[name].show_problem(read()[1].get(name))
        shown.refresh()

    shown = Slot(draw)
    view = FormView(form, on_change=changed)
    # What has no rule for this species, and what to do instead.
    species = edit.editor.exam.animal.species
    missing = [quiet(tr(text)) for text in weight_tables().missing.get(species, ())]
    edit.tab.open_sheet(
        tr("Estimate the weight"),
        paragraph(tr(_NOTE)),
        *view.controls(),
        shown.control,
        *([section(tr("No rule here for"), *missing)] if missing else []),
        typed=kept,
        grows=True,
    )


def _asked(measure: TapeMeasure) -> Ask:
    name, label, how = measure.measure_id, measure.label, measure.how
    return Ask(name, label, hint=how, kind=Kind.MEASURED)


def _rule(
    edit: VitalEdit, result: TapeResult, lengths: dict[str, Reading], kept: Typed
) -> ft.Control:
    name = result.rule.rule_id
    said = identified(for_choice("tape-result", name), strong(result.shown))
    shown = [paragraph(tr(result.rule.label)), said, quiet(result.details)]
    estimate = result.estimate
    if estimate is None:
        return stack(*shown, spacing=4)

    async def take() -> None:
        edit.form = tape_form.with_estimate(edit.form, estimate, lengths)
        before = edit.entry
        await edit.accept()
        if edit.entry != before:
            kept.drop()

    number = estimate.shown.removeprefix("about ").removesuffix(" kg")
    label = tr("Take about {number} kg", number=number)
    taking = button(
        for_choice("tape-take", name), label, take, kind="main", size="exam"
    )
    return stack(*shown, taking, spacing=4)

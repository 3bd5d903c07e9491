"""Typing a value: site, unit, a field for the keyboard and a pad for the glove."""

from dataclasses import replace

import flet as ft

from exam_app.app.forms import vital_form as forms
from exam_app.app.view.vital_offers import chosen_units, pad_units
from exam_app.domain.measure.units import Measure
from exam_app.ui.vital.tape_sheet import tape_button
from exam_app.ui.vital.vital_edit import VitalEdit
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, pick
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.number_pad import number_pad
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import side_by_side, stack


def measure_part(edit: VitalEdit) -> ft.Control:
    """Offer site, unit, field, pad and estimate for a measured value."""
    measure = edit.vital.measure
    if measure is None:
        return ft.Container()
    controls: list[ft.Control | None] = []
    if edit.vital.sites:
        controls.append(_sites(edit))
    typed = _typed_field(edit)
    pad = Slot(lambda: _pad(edit, measure, typed))
    controls += [_units(edit, measure, pad), typed.control, pad.control]
    if edit.vital.is_body_weight:
        controls.append(_estimate(edit))
    controls += tape_button(edit)
    controls.append(edit.ask_here())
    controls.append(button("vital-save", "Save", edit.save, kind="main", size="hands"))
    return stack(*(control for control in controls if control), spacing=8)


def _typed_field(edit: VitalEdit) -> Field:
    async def changed(event: ft.Event[ft.TextField]) -> None:
        edit.form = forms.type_text(edit.form, event.control.value or "")
        edit.unask()

    return text_field(
        "vital-typed",
        edit.label,
        value=edit.form.typed,
        keyboard=ft.KeyboardType.VISIBLE_PASSWORD,
        autofocus=edit.tab.is_wide,
        on_change=changed,
        on_submit=edit.save,
    )


def _pad(edit: VitalEdit, measure: Measure, typed: Field) -> ft.Control:
    async def pressed(key: str) -> None:
        edit.form = forms.press(edit.form, key)
        typed.entry.value = edit.form.typed
        typed.entry.update()
        edit.unask()

    extra = pad_units(measure)
    return number_pad(
        pressed,
        has_point=measure.precision % 1 != 0,
        extra=extra if edit.form.unit == "lb" else ("",) * len(extra),
        size="hands",
    )


def _units(edit: VitalEdit, measure: Measure, pad: Slot) -> ft.Control | None:
    units = chosen_units(measure)
    if len(units) < 2:
        return None

    async def chosen(unit: str) -> None:
        edit.form = replace(edit.form, unit=unit, is_confirmed=False)
        pad.refresh()

    return ChoiceRow(
        "vital-unit", units, chosen, chosen=edit.form.unit, size="hands"
    ).control


def _sites(edit: VitalEdit) -> ft.Control:
    async def chosen(site: str) -> None:
        edit.form = replace(edit.form, site=site)

    sites = [(site, site) for site in edit.vital.sites]
    return ChoiceRow(
        "vital-site", sites, chosen, chosen=edit.form.site, size="hands"
    ).control


def _estimate(edit: VitalEdit) -> ft.Control:
    def draw() -> ft.Control:
        return side_by_side(
            pick(
                for_choice("vital-estimate", "yes"),
                "Estimated, not weighed",
                toggled,
                is_chosen=edit.form.is_estimate,
                size="hands",
            )
        )

    async def toggled() -> None:
        edit.form = replace(edit.form, is_estimate=not edit.form.is_estimate)
        slot.refresh()

    slot = Slot(draw, in_place=True)
    return slot.control

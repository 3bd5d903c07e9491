"""The fields of what was given, with what was given lately one tap away."""

import flet as ft

from exam_app.app.queries.given_recently import GivenBefore, doses_of, offered
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import EXAM_CONTROL_HEIGHT, SCROLLS
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, stack


def given_controls(tab: Tab, species: str, view: FormView) -> list[ft.Control]:
    """Draw the fields; a product given before fills in its pack, never its dose."""
    recent = offered(tab.vault, species)
    if not recent:
        return view.controls()
    names = [ask.name for ask in view.form.asks if ask.name not in ("product", "dose")]

    def doses() -> ft.Control:
        known = doses_of(tab.vault, species, view.form["product"])
        row = [_dose(view, number, dose) for number, dose in enumerate(known)]
        # Room for one row from the start: nothing below moves when doses appear.
        return ft.Container(
            ft.Row(row, spacing=8, scroll=SCROLLS),
            height=EXAM_CONTROL_HEIGHT,
        )

    def changed(name: str) -> None:
        if name == "product":
            slot.refresh()

    slot = Slot(doses)
    view.on_change = changed
    before = (_product(view, number, one, slot) for number, one in enumerate(recent))
    return [
        quiet(tr("Given lately: tap, then compare it with the pack")),
        stack(*before, spacing=8),
        *view.controls("product", "dose"),
        slot.control,
        *view.controls(*names),
    ]


def _product(
    view: FormView, number: int, before: GivenBefore, doses: Slot
) -> ft.Control:
    def tapped() -> None:
        for name, text in before.texts().items():
            if name in view.fields:
                view.write(name, text)
            elif name in view.form.texts:
                view.form.put(name, text)
        doses.refresh()

    name = for_choice("given-before", str(number))
    return button(name, before.label, tapped, kind="tile", size="hands")


def _dose(view: FormView, number: int, dose: str) -> ft.Control:
    def tapped() -> None:
        view.write("dose", dose)

    return button(
        for_choice("given-dose", str(number)), dose, tapped, kind="tile", size="hands"
    )

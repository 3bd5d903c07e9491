"""Today's plan, place by place: who is to be examined where, and how far it is."""

import flet as ft

from exam_app.app.queries import day_plan
from exam_app.app.queries.bite_concerns import name_with_concern, those_with_concern
from exam_app.app.queries.day_plan import Stop
from exam_app.domain.animal.signalment import species_words
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.texts import heading, quiet, side_by_side, stack

_ICONS = {
    "to do": ft.Icons.RADIO_BUTTON_UNCHECKED,
    "open": ft.Icons.EDIT_NOTE,
    "closed": ft.Icons.TASK_ALT,
}
_MOST_PLACES = 12


async def build(tab: Tab) -> Screen:
    """Build the plan."""
    places = day_plan.places_today(tab.session)
    stops = [stop.animal_id for _, found in places for stop in found]
    bitten = those_with_concern(tab.vault, stops)

    return Screen(
        title="Plan for today",
        subtitle=day_plan.left_words(places),
        back="/",
        body=[
            *([] if places else [quiet(_EMPTY)]),
            *(_place(tab, place, stops, bitten) for place, stops in places),
            *_whole_places(tab),
        ],
        bottom=[
            button("plan-add", "Choose an animal", tab.way("/animals"), kind="lead")
        ],
    )


_EMPTY = (
    "Nothing is planned. Choose an animal and tap “Plan for today”, or take every "
    "animal of a place."
)


def _place(
    tab: Tab, place: str, stops: tuple[Stop, ...], bitten: frozenset[str]
) -> ft.Control:
    lines = (_line(tab, stop, stop.animal_id in bitten) for stop in stops)
    return stack(heading(place), *lines, spacing=8)


def _line(tab: Tab, stop: Stop, has_bitten: object) -> ft.Control:
    state = {"to do": "start", "open": "exam", "closed": "record"}[stop.state]

    async def drop() -> None:
        await day_plan.drop(tab.session, stop.animal_id)
        await tab.redraw()

    line = line_button(
        for_choice("plan-line", stop.animal_id),
        name_with_concern(stop.name, has_bitten),
        f"{species_words(stop.species)} · {stop.state}",
        tab.way(f"/{state}/{stop.exam_id or stop.animal_id}"),
        icon=_ICONS[stop.state],
    )
    line.expand = True
    name, label = (
        for_choice("plan-drop", stop.animal_id),
        f"Take {stop.name} off the plan",
    )
    off = button(name, label, drop, kind="icon", icon=ft.Icons.CLOSE)
    return ft.Row([line, off], spacing=8)


def _whole_places(tab: Tab) -> list[ft.Control]:
    """Offer every place that animals of this device stand at."""
    at: dict[str, list[str]] = {}
    for animal in tab.vault.animals.all():
        if animal.get("place"):
            at.setdefault(str(animal["place"]), []).append(str(animal["animal_id"]))
    if not at:
        return []

    def whole(number: int, place: str) -> ft.Control:
        async def take() -> None:
            await day_plan.add(tab.session, at[place])
            await tab.redraw()

        name, label = (
            for_choice("plan-place", str(number)),
            f"{place} ({len(at[place])})",
        )
        return button(name, label, take, size="exam")

    buttons = (whole(*one) for one in enumerate(list(at)[:_MOST_PLACES]))
    return [heading("Plan every animal of a place"), side_by_side(*buttons)]

"""The animals this device knows: found by name, tag, chip or owner; or added."""

from collections.abc import Mapping

import flet as ft

from exam_app.app.exam_sessions import now
from exam_app.app.exam_words import animal_line
from exam_app.app.practice_protocols import by_name, protocols, refused_words
from exam_app.app.queries import animals as animal_queries
from exam_app.app.queries.bite_concerns import name_with_concern, those_with_concern
from exam_app.app.queries.new_animals import (
    last_intake,
    likely_first,
    new_address,
    searched,
)
from exam_app.app.view.round_presenter import has_group_check
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, grid
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import refused_protocols
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, stack, strong

_SHOWN = 50


async def build(tab: Tab) -> Screen:
    """Build the list of animals."""

    def typed() -> None:
        lines.refresh()

    async def entered() -> None:
        # A scanner ends with Enter: one animal of that chip is the one meant.
        found = tab.vault.animals.search(search.value) if search.value else []
        if len(found) == 1:
            await tab.go(f"/start/{found[0].animal_id}")

    search = text_field(
        "animal-search",
        tr("Name, tag, chip, owner or place"),
        hint=tr("A chip scanner that types like a keyboard works here."),
        on_change=typed,
        on_submit=entered,
    )
    lines = Slot(lambda: _lines(tab, search.value))
    return Screen(
        title=tr("Which animal?"),
        back="/",
        pinned=[search.control],
        body=[lines.control],
        bottom=[
            button(
                "animal-add",
                tr("Add an animal"),
                lambda: open_adding(tab, search.value),
                icon=ft.Icons.ADD,
                kind="lead",
            )
        ],
    )


_BEGUN = {
    "name": to_translate("Name"),
    "breed": to_translate("Breed"),
    "tag": to_translate("Tag"),
}


def open_adding(tab: Tab, text: str = "") -> None:
    """Ask for one animal, a group or a litter, then offer every species.

    Those examined here today come first, then those of the animals here.

    Args:
        text: What was searched for; it goes on into the form.
    """
    kind, known = ["animal"], protocols(tab.session)
    offers = by_name(known)
    looked_for = searched(text, offers)
    begun = dict(looked_for.begun)
    ordered = likely_first(tab.session, offers)
    if looked_for.species:
        ordered = (looked_for.species,)

    async def choose(chosen: str) -> None:
        kind[0] = chosen
        offered.refresh()

    async def choose_field(name: str) -> None:
        begun.clear()
        begun[name] = text.strip()
        offered.refresh()

    def draw() -> ft.Control:
        """Offer the species of which this kind can be added."""
        cells = [
            _species(tab, kind[0], species, tr(offers[species].label), begun)
            for species in ordered
            if kind[0] != "group" or has_group_check(offers[species])
        ]
        return grid(cells, 3)

    options = [
        ("animal", tr("One animal")),
        ("group", tr("A group")),
        ("litter", tr("A litter")),
    ]
    # The tiles stay the controls they are, or a quick tap after a kind would be lost.
    offered = Slot(draw, in_place=True)
    which: list[ft.Control] = []
    if not looked_for.species and "name" in begun:
        fields = [(name, tr(label)) for name, label in _BEGUN.items()]
        row = ChoiceRow("add-searched", fields, choose_field, "name", columns=3)
        which = [strong(tr("“{words}” is its", words=begun["name"])), row.control]
    tab.open_sheet(
        tr("What do you add?"),
        *refused_protocols(refused_words(known)),
        *([] if text.strip() else _same_as_last(tab)),
        *which,
        offered.control,
        ChoiceRow("kind", options, choose, "animal", columns=3).control,
        grows=True,
    )


def _species(
    tab: Tab, kind: str, species: str, label: str, begun: Mapping[str, str]
) -> ft.Control:
    go = tab.way(new_address(kind, species, begun))
    named = button(for_choice("animal-add", species), label, go, kind="tile")
    named.key = species
    return named


def _same_as_last(tab: Tab) -> list[ft.Control]:
    """Offer another one of what was examined last; the button says what it carries."""
    last = last_intake(tab.session)
    if last is None:
        return []
    title, go = tr("Same as the last one"), tab.way(last.address)
    icon = ft.Icons.CONTENT_COPY
    return [line_button("animal-same", title, last.words, go, icon=icon)]


def _lines(tab: Tab, text: str) -> ft.Control:
    found = tab.vault.animals.search(text)
    if not found:
        fits_none = tr("No animal fits. Add it below.")
        return quiet(fits_none if text else tr("No animals yet. Add it below."))
    shown = [one.animal_id for one in found[:_SHOWN]]
    bitten = those_with_concern(tab.vault, shown)
    lines = (_line(tab, one, one in bitten) for one in shown)
    rest = len(found) - len(shown)
    more = (
        [quiet(tr("{count} more. Type more to narrow it down.", count=rest))]
        if rest
        else []
    )
    return stack(*lines, *more)


def _line(tab: Tab, animal_id: str, has_bitten: object) -> ft.Control:
    animal, _ = animal_queries.fetch(tab.session, animal_id)
    return line_button(
        for_choice("animal", animal.animal_id),
        name_with_concern(animal.name, has_bitten),
        animal_line(animal, now().local().date()),
        tab.way(f"/start/{animal.animal_id}"),
        icon=ft.Icons.WARNING_AMBER if has_bitten else ft.Icons.PETS,
    )

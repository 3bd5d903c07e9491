"""The animals this device knows: found by name, tag, chip or owner; or added."""

from collections import Counter

import flet as ft

from exam_app.app.exam_sessions import now
from exam_app.app.exam_words import animal_line
from exam_app.app.practice_protocols import protocols, refused_words
from exam_app.app.queries import animals as animal_queries
from exam_app.app.queries.bite_concerns import name_with_concern, those_with_concern
from exam_app.app.view.round_presenter import has_group_check
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import refused_protocols
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, side_by_side, stack

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
        "Name, tag, chip, owner or place",
        hint="A chip scanner that types like a keyboard works here.",
        on_change=typed,
        on_submit=entered,
    )
    lines = Slot(lambda: _lines(tab, search.value))
    return Screen(
        title="Which animal?",
        back="/",
        pinned=[search.control],
        body=[lines.control],
        bottom=[
            button(
                "animal-add",
                "Add an animal",
                lambda: _ask_what(tab),
                icon=ft.Icons.ADD,
                kind="lead",
            )
        ],
    )


def _ask_what(tab: Tab) -> None:
    """Ask for one animal, a group or a litter, then offer every species.

    Those of the animals here come first.
    """
    chosen, known = ["animal"], protocols(tab.session)
    here = Counter(animal.species for animal in tab.vault.animals.all())
    ordered = sorted(known.species(), key=lambda species: -here[species])
    offers = {species: known.of(species).protocol for species in ordered}

    async def choose(kind: str) -> None:
        chosen[0] = kind
        offered.refresh()

    def draw() -> ft.Control:
        """Offer the species of which this kind can be added."""
        kind = chosen[0]
        return side_by_side(
            *(
                button(
                    for_choice("animal-add", species),
                    protocol.label,
                    tab.way(f"/{kind}/new/{species}"),
                    size="exam",
                )
                for species, protocol in offers.items()
                if kind != "group" or has_group_check(protocol)
            )
        )

    options = [("animal", "One animal"), ("group", "A group"), ("litter", "A litter")]
    offered = Slot(draw)
    tab.open_sheet(
        "What do you add?",
        *refused_protocols(refused_words(known)),
        ChoiceRow("kind", options, choose, "animal").control,
        offered.control,
        grows=True,
    )


def _lines(tab: Tab, text: str) -> ft.Control:
    found = tab.vault.animals.search(text)
    if not found:
        words = "No animal fits." if text else "No animals yet."
        return quiet(f"{words} Add it below.")
    shown = [one.animal_id for one in found[:_SHOWN]]
    bitten = those_with_concern(tab.vault, shown)
    lines = (_line(tab, one, one in bitten) for one in shown)
    rest = len(found) - len(shown)
    more = [quiet(f"{rest} more. Type more to narrow it down.")] if rest else []
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

"""Where the numbers come from: a species, its lists of sources, what is missing."""

import flet as ft

from exam_app.app.practice_protocols import protocol_for, protocols, refused_words
from exam_app.app.view.source_lists import SourcedList, counted_sources, sourced_lists
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import refused_protocols
from exam_app.ui.widgets.texts import paragraph, quiet, section, stack

_WORDS = (
    "Read by us: checked against a copy. Recalled by us: from memory, not checked yet. "
    "Worked out by us: nobody printed it; joined from what its sources print."
)


async def build(tab: Tab) -> Screen:
    """Offer the species."""
    known = protocols(tab.session)
    offered = {species: known.of(species).protocol for species in known.species()}
    lines = [
        line_button(
            for_choice("sources-species", species.replace("_", "-")),
            protocol.label,
            counted_sources(protocol),
            tab.way(f"/settings/sources/{species}"),
            icon=ft.Icons.MENU_BOOK_OUTLINED,
        )
        for species, protocol in offered.items()
    ]
    return Screen(
        title="Sources",
        back="/settings",
        body=[
            *refused_protocols(refused_words(known)),
            paragraph(_WORDS),
            stack(*lines),
        ],
    )


async def build_species(tab: Tab, species: str) -> Screen:
    """Show what one species' protocol rests on, and what it has no source for."""
    protocol = protocol_for(tab.session, species).protocol
    missing = [paragraph(f"• {line}") for line in protocol.missing] or [
        quiet("Nothing is listed.")
    ]
    lists = [_list(tab, found) for found in sourced_lists(protocol)]
    return Screen(
        title="Sources",
        subtitle=f"{protocol.label}, version {protocol.version} of its protocol",
        back="/settings/sources",
        body=[
            paragraph(f"{counted_sources(protocol)}."),
            stack(*lists),
            identified("sources-missing", section("What is missing", *missing)),
        ],
    )


def _list(tab: Tab, found: SourcedList) -> ft.Control:
    def tapped() -> None:
        rows = [
            stack(paragraph(what), quiet(about), spacing=2)
            for what, about in found.lines
        ]
        tab.open_sheet(found.title, identified("sources-lines", stack(*rows)))

    return line_button(
        for_choice("sources-list", found.key),
        found.title,
        str(len(found.lines)),
        tapped,
        icon=ft.Icons.LIST_ALT,
    )

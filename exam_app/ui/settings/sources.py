"""What this app is, and where its numbers come from: of a species, list by list."""

import flet as ft

from exam_app.app.maintenance.first_start import belonging_words
from exam_app.app.maintenance.phone_words import about_words, release_of
from exam_app.app.practice_protocols import (
    by_name,
    protocol_for,
    protocols,
    refused_words,
)
from exam_app.app.view.source_lists import SourcedList, counted_sources, sourced_lists
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import refused_protocols
from exam_app.ui.widgets.texts import paragraph, quiet, section, stack


async def build_about(tab: Tab) -> Screen:
    """Build the page about the app."""
    release = await release_of(tab.session.opener)
    demo = tr("Everything here is invented and is thrown away when the app ends.")
    return Screen(
        title=tr("About this app"),
        back="/settings",
        body=[
            section(
                tr("What it does"),
                paragraph(
                    (f"{demo} " if tab.session.is_demo else "")
                    + tr(
                        "It leads through the examination of an animal and keeps a "
                        "closed, signed record on this device. Nothing leaves it by "
                        "itself."
                    )
                ),
            ),
            section(
                tr("What it does not"),
                paragraph(
                    tr(
                        "It makes no diagnosis. A flag says that a number lies outside "
                        "published limits for that species, age and situation, and "
                        "names the source; what it means is for the veterinarian to "
                        "say."
                    )
                ),
                paragraph(
                    tr(
                        "The signature proves which device closed a record and that it "
                        "was not changed since. Names, roles and PINs are claims of "
                        "the people at the screen."
                    )
                ),
            ),
            section(
                tr("Sources"),
                paragraph(
                    tr(
                        "Every range, scale, caution and urgent sign carries its "
                        "source. In an exam a button beside it opens who printed it, "
                        "when, and whether we read it or recalled it. All of them, and "
                        "what has no source, stand under Settings, Sources of the "
                        "numbers."
                    )
                ),
                button(
                    "settings-sources",
                    tr("Sources of the numbers"),
                    tab.way("/settings/sources"),
                    icon=ft.Icons.MENU_BOOK_OUTLINED,
                ),
            ),
            *_said(
                tr("Where the exams are"), "about-address", belonging_words(tab.vault)
            ),
            *_said(
                tr("This release"),
                "about-release",
                about_words(release) if release else "",
            ),
        ],
    )


def _said(title: str, identifier: str, words: str) -> list[ft.Control]:
    if not words:
        return []
    return [section(title, identified(identifier, paragraph(words)))]


_WORDS = to_translate(
    "Read by us: checked against a copy. Recalled by us: from memory, not checked yet. "
    "Worked out by us: nobody printed it; joined from what its sources print."
)


async def build(tab: Tab) -> Screen:
    """Offer the species."""
    known = protocols(tab.session)
    offered = by_name(known)
    lines = [
        line_button(
            for_choice("sources-species", species.replace("_", "-")),
            tr(protocol.label),
            counted_sources(protocol),
            tab.way(f"/settings/sources/{species}"),
            icon=ft.Icons.MENU_BOOK_OUTLINED,
        )
        for species, protocol in offered.items()
    ]
    return Screen(
        title=tr("Sources of the numbers"),
        back="/settings",
        body=[
            *refused_protocols(refused_words(known)),
            paragraph(tr(_WORDS)),
            stack(*lines),
        ],
    )


async def build_species(tab: Tab, species: str) -> Screen:
    """Show what one species' protocol rests on, and what it has no source for."""
    protocol = protocol_for(tab.session, species).protocol
    missing = [paragraph(f"• {tr(line)}") for line in protocol.missing] or [
        quiet(tr("Nothing is listed."))
    ]
    lists = [_list(tab, found) for found in sourced_lists(protocol)]
    return Screen(
        title=tr("Sources"),
        subtitle=tr(
            "{label}, version {version} of its protocol",
            label=tr(protocol.label),
            version=protocol.version,
        ),
        back="/settings/sources",
        body=[
            paragraph(f"{counted_sources(protocol)}."),
            stack(*lists),
            identified("sources-missing", section(tr("What is missing"), *missing)),
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
        found.counted,
        tapped,
        icon=ft.Icons.LIST_ALT,
    )

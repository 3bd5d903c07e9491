"""What this app is, what it is not, and where to read where its numbers come from."""

import flet as ft

from exam_app.app.maintenance.first_start import belonging_words
from exam_app.app.maintenance.phone_words import about_words, release_of
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import paragraph, section


async def build(tab: Tab) -> Screen:
    """Build the page about the app."""
    release = await release_of(tab.session.opener)
    demo = "Everything here is invented and is thrown away when the app ends. "
    return Screen(
        title="About this app",
        back="/settings",
        body=[
            section(
                "What it does",
                paragraph(
                    (demo if tab.session.is_demo else "")
                    + "It leads through the examination of an animal and keeps a "
                    "closed, signed record on this device. Nothing leaves it by "
                    "itself."
                ),
            ),
            section(
                "What it does not",
                paragraph(
                    "It makes no diagnosis. A flag says that a number lies outside "
                    "published limits for that species, age and situation, and names "
                    "the source; what it means is for the veterinarian to say."
                ),
                paragraph(
                    "The signature proves which device closed a record and that it was "
                    "not changed since. Names, roles and PINs are claims of the people "
                    "at the screen."
                ),
            ),
            section(
                "Sources",
                paragraph(
                    "Every range, scale, caution and urgent sign carries its source. "
                    "In an exam a button beside it opens who printed it, when, and "
                    "whether we read it or recalled it. All of them, and what has no "
                    "source, stand under Settings, Sources of the numbers."
                ),
                button(
                    "settings-sources",
                    "Sources of the numbers",
                    tab.way("/settings/sources"),
                    icon=ft.Icons.MENU_BOOK_OUTLINED,
                ),
            ),
            *_said("Where the exams are", "about-address", belonging_words(tab.vault)),
            *_said(
                "This release", "about-release", about_words(release) if release else ""
            ),
        ],
    )


def _said(title: str, identifier: str, words: str) -> list[ft.Control]:
    if not words:
        return []
    return [section(title, identified(identifier, paragraph(words)))]

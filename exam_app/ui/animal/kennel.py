"""Kennel cards to copy by hand: large lines, no owner, what presses most first."""

import flet as ft

from exam_app.app.exam_words import closed_line, draft_line
from exam_app.app.queries import kennel_cards
from exam_app.app.queries.animals import AnimalNotHereError
from exam_app.app.queries.bite_concerns import name_with_concern
from exam_app.domain.wording.kennel_card import NOT_YET_SEEN, WARNINGS, Line
from exam_app.language.catalogue import to_translate, tr
from exam_app.paper.fonts import Font
from exam_app.paper.printing import print_kennel_card
from exam_app.paper.sheet import PageSize
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.ui.paper.print_sheet import Printable, print_button
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import CORNER
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button, nothing_yet
from exam_app.ui.widgets.texts import quiet

_NOTE = to_translate(
    "Print it, or copy it by hand. It holds no owner and no private note. It says what "
    "the newest records say; look again after each exam."
)


async def build_list(tab: Tab) -> Screen:
    """Build the list of the shelter's animals."""
    rows = await tab.session.read(lambda: kennel_cards.shelter_rows(tab.vault))
    lines: list[ft.Control] = [_row(tab, *row) for row in rows]
    return Screen(
        title=tr("Kennel cards"),
        subtitle=tab.vault.settings.get("practice", ""),
        back="/",
        body=lines or [_nobody_housed(tab)],
    )


def _nobody_housed(tab: Tab) -> ft.Control:
    choose = tab.way("/animals")
    return nothing_yet(
        tr(
            "No animal was taken in on this device yet. Each one that is taken in, or "
            "examined in a shelter, will stand here with its card."
        ),
        button("kennel-begin", tr("Choose an animal"), choose, icon=ft.Icons.PETS),
    )


def _row(tab: Tab, row: ClosedExam | OpenExam, has_concern: object) -> ft.Control:
    return line_button(
        for_choice("kennel-row", row.animal_id),
        name_with_concern(row.name, has_concern),
        draft_line(row) if isinstance(row, OpenExam) else closed_line(row),
        tab.way(f"/kennel/{row.animal_id}"),
        icon=ft.Icons.WARNING_AMBER if has_concern else ft.Icons.PETS,
    )


async def build(tab: Tab, animal_id: str) -> Screen:
    """Build the card of one animal.

    Raises:
        AnimalNotHereError: There is no exam of it.
    """
    card = await tab.session.read(lambda: kennel_cards.card_of(tab.vault, animal_id))
    if card is None:
        raise AnimalNotHereError
    animal, written = card
    lines = ft.Column(
        [_line(number, line) for number, line in enumerate(written)],
        spacing=10,
        horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
    )

    def card_sheet(size: PageSize, font: Font) -> bytes:
        return print_kennel_card(tab.vault, animal_id, size, font) or b""

    printed = Printable("kennel-card", tr("Kennel card"), card_sheet)
    return Screen(
        title=tr("Kennel card: {name}", name=animal.name),
        subtitle=tr("Demo") if animal.is_demo else "",
        back="/kennel",
        body=[identified("kennel-card", lines), quiet(tr(_NOTE))],
        bottom=[print_button(tab, printed)],
    )


def _line(number: int, line: Line) -> ft.Control:
    label, text = line
    is_warning = label in WARNINGS and text != tr(NOT_YET_SEEN)
    colour = ft.Colors.ON_TERTIARY if is_warning else ft.Colors.ON_SURFACE
    words: list[ft.Control] = [
        ft.Text(tr(label), theme_style=ft.TextThemeStyle.BODY_MEDIUM, color=colour),
        ft.Text(text, theme_style=ft.TextThemeStyle.HEADLINE_SMALL, color=colour),
    ]
    box = ft.Container(
        ft.Column(words, spacing=2, tight=True),
        bgcolor=ft.Colors.TERTIARY if is_warning else ft.Colors.SURFACE_CONTAINER,
        border_radius=CORNER,
        padding=ft.Padding.symmetric(vertical=8, horizontal=14),
    )
    return identified(for_choice("kennel-line", str(number)), box)

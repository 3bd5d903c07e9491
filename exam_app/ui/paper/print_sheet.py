"""Print: which sheet, on which paper. The browser shows the file and prints it.

A sheet is made here and goes nowhere but to this browser.
"""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

import flet as ft

from exam_app.app.queries.kept_records import KeptRecord
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.language.catalogue import to_translate, tr
from exam_app.paper.font_file import sheet_font
from exam_app.paper.fonts import Font
from exam_app.paper.printing import (
    PAPER,
    paper_size,
    print_draft,
    print_record,
    print_take_home,
)
from exam_app.paper.sheet import PageSize
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.files import offer_file
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.texts import across, quiet

_SIZES = (("a4", "A4"), ("letter", to_translate("Letter")))
_WHAT_HAPPENS = to_translate(
    "The sheet is made here and given to this browser as a PDF: in a tab of its own "
    "that offers to print, or as a download that does once it is opened. It is not "
    "sealed: keep it as you keep paper."
)
_GIVEN = to_translate(
    "The sheet is in a tab of its own, or else among the browser's downloads."
)
Make = Callable[[PageSize, Font], bytes]


@dataclass(frozen=True, slots=True)
class Printable:
    """One kind of sheet that a screen can print.

    Attributes:
        key: Names it in the file's name.
        label: On its button.
        make: Returns the PDF; it may read what is kept.
    """

    key: str
    label: str
    make: Make


def record_sheets(tab: Tab, kept: KeptRecord) -> tuple[Printable, ...]:
    """Return what is printed of a closed record."""

    def record(size: PageSize, font: Font) -> bytes:
        return print_record(tab.vault, kept, size, font)

    def take_home(size: PageSize, font: Font) -> bytes:
        return print_take_home(tab.vault, kept, size, font)

    return (
        Printable("record", tr("Record for the veterinarian"), record),
        Printable("take-home", tr("To take home, in plain words"), take_home),
    )


def draft_sheet(tab: Tab, exam: Exam, protocol: SpeciesProtocol) -> Printable:
    """Return what is printed of an exam that is open: it says that it is."""

    def draft(size: PageSize, font: Font) -> bytes:
        return print_draft(tab.vault, exam, protocol, size, font)

    return Printable("draft", tr("Draft as it stands"), draft)


def print_button(tab: Tab, *sheets: Printable) -> ft.Semantics:
    """Make the button that leads to what a screen can print."""

    def opened() -> None:
        open_print(tab, sheets)

    return button("print", tr("Print"), opened, icon=ft.Icons.PRINT_OUTLINED)


def open_print(tab: Tab, sheets: Sequence[Printable]) -> None:
    """Ask which sheet and which paper; the paper is kept for the next time."""
    paper = [paper_size(tab.vault).name.lower()]

    async def chosen(value: str) -> None:
        paper[0] = value
        await tab.save(lambda: tab.vault.settings.put(PAPER, value))

    sizes = [(key, tr(label)) for key, label in _SIZES]
    row = ChoiceRow("print-paper", sizes, chosen, paper[0], columns=2)
    tab.open_sheet(
        tr("Print"),
        row.control,
        *(across(_sheet_button(tab, one, paper)) for one in sheets),
        quiet(tr(_WHAT_HAPPENS)),
    )


def _sheet_button(tab: Tab, one: Printable, paper: Sequence[str]) -> ft.Semantics:
    name = for_choice("print-sheet", one.key)
    return button(name, one.label, _printed(tab, one, paper), kind="tile")


def _printed(
    tab: Tab, one: Printable, paper: Sequence[str]
) -> Callable[[], Awaitable[None]]:
    async def printed() -> None:
        sheet, size = tab.sheet, PageSize[paper[0].upper()]
        font = await sheet_font()
        pdf = await tab.session.read(lambda: one.make(size, font))
        day = f"{datetime.now().astimezone():%Y-%m-%d}"
        await offer_file(tab, f"{one.key}-{day}.pdf", pdf)
        tab.close_only(sheet)
        tab.tell(tr(_GIVEN))

    return printed

"""Six words to compare, and the clinic that was paired before."""

import flet as ft

from exam_app.app.handover import pairing_device as pairing
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import CORNER
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import banner


def numbered_words(words: tuple[str, ...]) -> ft.Control:
    """Number the words, since their order counts."""
    boxes = [_word(number, word) for number, word in enumerate(words, 1)]
    row = ft.Row(boxes, wrap=True, spacing=12, run_spacing=12)
    return identified("pair-words", row)


def _word(number: int, word: str) -> ft.Control:
    style = ft.TextThemeStyle.HEADLINE_MEDIUM
    box = ft.Container(
        ft.Text(f"{number}. {word}", theme_style=style),
        bgcolor=ft.Colors.SURFACE,
        border=ft.Border.all(2, ft.Colors.OUTLINE),
        border_radius=CORNER,
        padding=ft.Padding.symmetric(vertical=8, horizontal=14),
    )
    return identified(for_choice("pair-words", str(number)), box)


def paired_banner(tab: Tab) -> ft.Control:
    """Name the clinic that this device is paired with; empty when there is none."""
    words = pairing.clinic_words(tab.vault)
    if not words:
        return ft.Container()
    text = f"Paired with {words}. A new card replaces this clinic."
    return banner("pair-clinic", text)

"""A line of a list that leads somewhere, and a list that grows at a tap."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import flet as ft

from exam_app.ui.widgets.buttons import button, sign_size
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.still_button import THIN, StillButton, still
from exam_app.ui.widgets.texts import (
    paragraph,
    quiet,
    section,
    side_by_side,
    stack,
    strong,
)


def line_button(
    identifier: str,
    title: str,
    words: str,
    on_click: Callable[..., Any],
    *,
    icon: ft.IconData,
    is_here: bool = False,
) -> ft.Semantics:
    """Make a whole line tappable; both texts wrap, and the second may be empty.

    Args:
        is_here: Whether what it leads to is shown beside the list already.
    """
    padding = ft.Padding.symmetric(vertical=12, horizontal=14)
    frame, ground = THIN, None
    if is_here:
        frame, ground = ft.BorderSide(3, ft.Colors.PRIMARY), ft.Colors.PRIMARY_CONTAINER

    def make() -> ft.Control:
        style = ft.ButtonStyle(padding=padding, color=ft.Colors.ON_SURFACE)
        if is_here:
            # The thicker frame takes its room from the padding: nothing moves.
            style.padding = ft.Padding.symmetric(vertical=10, horizontal=12)
            style.side, style.bgcolor = frame, ground
        content = _face(title, words, icon)
        return ft.OutlinedButton(content=content, on_click=on_click, style=style)

    tapped = still(
        make,
        _face(title, words, icon),
        on_click,
        ground=ground,
        frame=frame,
        sides=padding.left,
        above=padding.top,
    )
    named = identified(identifier, tapped)
    named.button = isinstance(tapped, StillButton)
    named.selected = is_here or None
    return named


def _face(title: str, words: str, icon: ft.IconData) -> ft.Row:
    texts: list[ft.Control] = [strong(title), *([quiet(words)] if words else [])]
    ahead = ft.Icon(
        ft.Icons.CHEVRON_RIGHT, color=ft.Colors.ON_SURFACE_VARIANT, size=sign_size()
    )
    row: list[ft.Control] = [
        ft.Icon(icon, color=ft.Colors.PRIMARY, size=sign_size()),
        ft.Column(texts, spacing=2, expand=True, tight=True),
        ahead,
    ]
    return ft.Row(row, spacing=12)


def nothing_yet(words: str, *ways: ft.Control) -> ft.Control:
    """Say what will stand in a list that is empty, with the ways that lead there.

    Args:
        words: One plain sentence, after what is missing.
        ways: Buttons; none where the screen has one at its foot.
    """
    return section("", paragraph(words), *([side_by_side(*ways)] if ways else []))


# Given how many lines are wanted: those there are, and what the button for more says,
# which is empty where there are no more.
DrawLines = Callable[[int], tuple[list[ft.Control], str]]


@dataclass(slots=True)
class GrowingList:
    """A list that shows a page more at each tap of its last button.

    Attributes:
        identifier: Of the button.
        page: How many lines come at once.
        spacing: Between lines.
        count: How many are shown; drawn anew, it keeps them.
    """

    identifier: str
    page: int
    spacing: int = 8
    count: int = 0

    def __post_init__(self) -> None:
        """Begin with one page."""
        self.count = self.count or self.page

    def drawn(self, draw: DrawLines) -> ft.Control:
        """Draw the list."""

        def more() -> None:
            self.count += self.page
            slot.refresh()

        def shown() -> ft.Control:
            lines, label = draw(self.count)
            ends = [button(self.identifier, label, more)] if label else []
            return stack(*lines, *ends, spacing=self.spacing)

        slot = Slot(shown)
        return slot.control

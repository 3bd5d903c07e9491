"""One choice among a few: a row of buttons that wraps, the chosen one ticked."""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field

import flet as ft

from exam_app.ui.shell.theme import (
    CONTROL_HEIGHT,
    EXAM_CONTROL_HEIGHT,
    GAP,
    GLOVED_CONTROL_HEIGHT,
)
from exam_app.ui.widgets.buttons import button_padding
from exam_app.ui.widgets.identifiers import for_choice, identified

OnChoose = Callable[[str], Awaitable[None]]


@dataclass(slots=True, repr=False)
class ChoiceRow:
    """Buttons of which at most one is chosen; nothing is chosen beforehand.

    Attributes:
        group: Identifier of the group; buttons are named ``GROUP-KEY``.
        options: ``(key, label)`` in the order shown; at least one.
        on_choose: Awaited with the key after a tap.
        chosen: Key of the chosen option, or ``None``.
        exam: Whether the buttons have the exam's height.
        tall: Whether they are meant for a dirty glove.
        clearable: Whether a second tap on the chosen one clears the choice; then
            ``on_choose`` gets an empty key.
    """

    group: str
    options: Sequence[tuple[str, str]]
    on_choose: OnChoose
    chosen: str | None = None
    exam: bool = True
    tall: bool = False
    clearable: bool = False
    control: ft.Row = field(init=False)

    def __post_init__(self) -> None:
        """Build the row; place ``control`` on a screen."""
        self.control = ft.Row(
            controls=self._draw(), wrap=True, spacing=GAP, run_spacing=GAP
        )

    def choose(self, key: str | None) -> None:
        """Show a choice without calling ``on_choose``."""
        self.chosen = key
        self.control.controls = self._draw()
        self.control.update()

    def _draw(self) -> list[ft.Control]:
        return [self._button(key, label) for key, label in self.options]

    def _button(self, key: str, label: str) -> ft.Control:
        async def tapped() -> None:
            cleared = self.clearable and self.chosen == key
            self.choose(None if cleared else key)
            await self.on_choose("" if cleared else key)

        is_chosen = key == self.chosen
        height = EXAM_CONTROL_HEIGHT if self.exam else CONTROL_HEIGHT
        height = GLOVED_CONTROL_HEIGHT if self.tall else height
        button = ft.OutlinedButton(
            content=label,
            icon=ft.Icons.CHECK if is_chosen else None,
            on_click=tapped,
            style=_style(is_chosen, height),
        )
        named = identified(for_choice(self.group, key), button)
        named.selected = is_chosen
        # The same key is the same button to Flet: it keeps the focus when ticked.
        named.key = named.identifier
        return named


def _style(is_chosen: bool, height: int) -> ft.ButtonStyle:
    padding = button_padding(height, ticked=is_chosen)
    if not is_chosen:
        return ft.ButtonStyle(padding=padding, color=ft.Colors.ON_SURFACE)
    return ft.ButtonStyle(
        padding=padding,
        bgcolor=ft.Colors.PRIMARY_CONTAINER,
        color=ft.Colors.ON_PRIMARY_CONTAINER,
        icon_color=ft.Colors.ON_PRIMARY_CONTAINER,
        side=ft.BorderSide(3, ft.Colors.PRIMARY),
    )

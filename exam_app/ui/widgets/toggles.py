"""Several choices among a few: buttons that tick and untick, in a row that wraps."""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field

import flet as ft

from exam_app.ui.shell.theme import GAP
from exam_app.ui.widgets.exam_parts import tile
from exam_app.ui.widgets.identifiers import for_choice

OnToggle = Callable[[tuple[str, ...]], Awaitable[None]]


@dataclass(slots=True, repr=False)
class ToggleRow:
    """Buttons of which any number is chosen; nothing is chosen beforehand.

    Attributes:
        group: Identifier of the group; buttons are named ``GROUP-KEY``.
        options: ``(key, label)`` in the order shown.
        on_toggle: Awaited with every chosen key, in the order shown, after a tap.
        chosen: Keys chosen now.
        control: Place it on a screen.
    """

    group: str
    options: Sequence[tuple[str, str]]
    on_toggle: OnToggle
    chosen: tuple[str, ...] = ()
    control: ft.Row = field(init=False)

    def __post_init__(self) -> None:
        """Draw the row."""
        self.control = ft.Row(
            controls=self._draw(), wrap=True, spacing=GAP, run_spacing=GAP
        )

    def _draw(self) -> list[ft.Control]:
        return [
            self._button(number, key, label)
            for number, (key, label) in enumerate(self.options)
        ]

    def _button(self, number: int, key: str, label: str) -> ft.Control:
        async def tapped() -> None:
            now = set(self.chosen) ^ {key}
            self.chosen = tuple(k for k, _ in self.options if k in now)
            self.control.controls = self._draw()
            self.control.update()
            await self.on_toggle(self.chosen)

        is_chosen = key in self.chosen
        icon = ft.Icons.CHECK_BOX if is_chosen else ft.Icons.CHECK_BOX_OUTLINE_BLANK
        button = tile(for_choice(self.group, str(number)), label, tapped, icon=icon)
        button.checked = is_chosen
        return button

"""Buttons that are chosen or not: one, one of a few, several of a few, a side."""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.view.region_presenter import keys_chosen, side_choices
from exam_app.language.catalogue import in_english, to_translate, tr
from exam_app.ui.widgets.buttons import SIDES, OnClick, button, button_padding, centred
from exam_app.ui.widgets.even_rows import even_rows, evenly
from exam_app.ui.widgets.exam_parts import from_above
from exam_app.ui.widgets.hands import Size, control_height
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.room import ROOM, needs_of
from exam_app.ui.widgets.still_button import (
    THIN,
    StillButton,
    still,
    still_face,
)
from exam_app.ui.widgets.texts import quiet

OnChoose = Callable[[str], Awaitable[None]]
OnToggle = Callable[[tuple[str, ...]], Awaitable[None]]

_CELL_SIDES = 6
# A tick takes its room from them, and leaves its words off the frame.
_PICK_SIDES = 26
_OF_CELL, _CELL_FONT = ft.TextThemeStyle.BODY_SMALL, 15
_WHOSE = to_translate("The animal's own left and right, seen from above.")


def pick(
    identifier: str,
    label: str,
    on_click: OnClick,
    *,
    is_chosen: bool,
    is_row: bool = False,
    is_cell: bool = False,
    size: Size = "exam",
) -> ft.Semantics:
    """Make a button that is chosen or not; the chosen one is ticked and framed.

    Args:
        is_row: Whether it fills the width, its text at the left.
        is_cell: Whether it stands in a grid, whose cells are as wide as one another;
            then it is framed and not ticked, so that its words keep their lines.
    """
    sides = _CELL_SIDES if is_cell else SIDES if is_row else _PICK_SIDES
    is_ticked = is_chosen and not is_cell
    height = control_height(size)
    words = label if is_cell else ""
    padding = button_padding(height, sides=sides, ticked=is_ticked, words=words)
    sign = ft.Icons.CHECK if is_ticked else None
    colour, ground, line = ft.Colors.ON_SURFACE, None, None
    if is_chosen:
        colour, ground = ft.Colors.ON_PRIMARY_CONTAINER, ft.Colors.PRIMARY_CONTAINER
        line = ft.BorderSide(3, ft.Colors.PRIMARY)

    def make() -> ft.Control:
        return ft.OutlinedButton(
            content=centred(label, height, _OF_CELL) if is_cell else label,
            icon=sign,
            on_click=on_click,
            style=ft.ButtonStyle(
                padding=padding,
                color=colour,
                icon_color=colour,
                bgcolor=ground,
                side=line,
                alignment=ft.Alignment.CENTER_LEFT if is_row else None,
            ),
        )

    face = still_face(
        label,
        height - 2 * padding.top,
        colour,
        icon=sign,
        style=_OF_CELL if is_cell else ft.TextThemeStyle.LABEL_LARGE,
        is_row=is_row,
    )
    tapped = still(
        make,
        face,
        on_click,
        ground=ground,
        frame=line or THIN,
        sides=padding.left,
        above=padding.top,
    )
    named = identified(identifier, tapped)
    named.button, named.selected = isinstance(tapped, StillButton), is_chosen
    named.data = needs_of(label, _CELL_FONT, 2 * sides)
    return named


def grid(cells: Sequence[ft.Control], columns: int) -> ft.Column:
    """Put controls in rows of equal cells: one that is chosen moves no other.

    Args:
        columns: How many in a row; fewer where a word would be cut.
    """
    return even_rows(cells, columns, min(ROOM.zone, ROOM.sheet))


@dataclass(slots=True, repr=False)
class ChoiceRow:
    """Buttons of which at most one is chosen; nothing is chosen beforehand.

    Attributes:
        group: Identifier of the group; buttons are named ``GROUP-KEY``.
        options: ``(key, label)`` in the order shown; at least one.
        on_choose: Awaited with the key after a tap.
        clearable: Whether a second tap on the chosen one clears the choice; then
            ``on_choose`` gets an empty key.
        columns: How many stand in a row; 0: as many as their words have room for.
    """

    group: str
    options: Sequence[tuple[str, str]]
    on_choose: OnChoose | None = None
    chosen: str | None = None
    size: Size = "exam"
    clearable: bool = False
    columns: int = 0
    control: ft.Column = field(init=False)

    def __post_init__(self) -> None:
        """Draw the row."""
        self.control = self._laid_out()

    def _laid_out(self) -> ft.Column:
        if self.columns:
            return grid(self._draw(), self.columns)
        return evenly(self._draw())

    def choose(self, key: str | None) -> None:
        """Show a choice without calling ``on_choose``."""
        self.chosen = key
        self.control.controls = self._laid_out().controls
        self.control.update()

    def _draw(self) -> list[ft.Control]:
        return [self._option(key, label) for key, label in self.options]

    def _option(self, key: str, label: str) -> ft.Control:
        async def tapped() -> None:
            cleared = self.clearable and self.chosen == key
            self.choose(None if cleared else key)
            if self.on_choose is not None:
                await self.on_choose("" if cleared else key)

        name, is_chosen = for_choice(self.group, key), key == self.chosen
        named = pick(
            name,
            label,
            tapped,
            is_chosen=is_chosen,
            is_cell=True,
            size=self.size,
        )
        # The same key is the same button to Flet: it keeps the focus when ticked.
        named.key = name
        return named


@dataclass(slots=True, repr=False)
class ToggleRow:
    """Buttons of which any number is chosen; nothing is chosen beforehand.

    Attributes:
        group: Identifier of the group; buttons are named ``GROUP-NUMBER``.
        options: ``(key, label)`` in the order shown.
        on_toggle: Awaited with every chosen key, in the order shown, after a tap.
    """

    group: str
    options: Sequence[tuple[str, str]]
    on_toggle: OnToggle | None = None
    chosen: tuple[str, ...] = ()
    size: Size = "exam"
    control: ft.Column = field(init=False)

    def __post_init__(self) -> None:
        """Draw the row."""
        self.control = self._laid_out()

    def _laid_out(self) -> ft.Column:
        column = evenly(self._draw())
        # One below the other they are lines, whose signs stand in a line too.
        return column if _is_grid(column) else evenly(self._draw(is_row=True))

    def _draw(self, *, is_row: bool = False) -> list[ft.Control]:
        return [self._option(n, *one, is_row) for n, one in enumerate(self.options)]

    def _option(self, number: int, key: str, label: str, is_row: bool) -> ft.Control:
        async def tapped() -> None:
            now = set(self.chosen) ^ {key}
            self.chosen = tuple(k for k, _ in self.options if k in now)
            self.control.controls = self._laid_out().controls
            self.control.update()
            if self.on_toggle is not None:
                await self.on_toggle(self.chosen)

        is_chosen = key in self.chosen
        icon = ft.Icons.CHECK_BOX if is_chosen else ft.Icons.CHECK_BOX_OUTLINE_BLANK
        name = for_choice(self.group, str(number))
        named = button(
            name, label, tapped, kind="tile", icon=icon, size=self.size, is_row=is_row
        )
        named.checked = is_chosen
        # The same button to Flet: a tap on the next one is not lost meanwhile.
        named.key = name
        return named


def _is_grid(column: ft.Column) -> bool:
    """Whether any of its rows holds more than one cell."""
    return any(len(getattr(row, "controls", ())) > 1 for row in column.controls)


def side_question(
    group: str,
    keys: tuple[str, ...],
    on_choose: Callable[[tuple[str, ...]], None],
) -> list[ft.Control]:
    """Ask for the side of a paired part, with the picture of where the head points.

    Args:
        group: Identifier of the group; buttons are ``GROUP-left`` and so on.
        keys: The two region keys, left first.
        on_choose: Called with the key or keys chosen.
    """

    def side(key: str, choice: str, name: str) -> ft.Control:
        def chosen() -> None:
            on_choose(keys_chosen(choice, keys))

        identifier = for_choice(group, key)
        return button(identifier, name, chosen, kind="tile", size="hands", expand=1)

    whose = ft.Container(quiet(tr(_WHOSE)), expand=True)
    with in_english():
        named = [name.lower() for _, name in side_choices(keys)]
    sides = zip(named, side_choices(keys), strict=True)
    return [
        ft.Row([from_above(), whose], spacing=12),
        ft.Row([side(key, *choice) for key, choice in sides], spacing=12),
    ]

"""Where a number, a scale or a caution comes from: a button that opens it in place."""

from collections.abc import Callable, Iterable

import flet as ft

from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, stack


def source_note(
    key: str, lines: Iterable[str], label: str = "Where this comes from"
) -> ft.Control:
    """Make a button that opens and closes its sources below itself.

    Args:
        key: What it belongs to, for the button's identifier.
        lines: A line for each source: who, when, read or recalled.
        label: What the button says while it is closed.
    """
    written = tuple(lines)
    name = for_choice("source-note", key.replace("_", "-"))
    return opens_below(
        name, lambda: [quiet(line) for line in written], label, label, spacing=6
    )


def opens_below(
    identifier: str,
    draw: Callable[[], list[ft.Control]],
    closed: str,
    opened: str,
    *,
    spacing: int,
) -> ft.Control:
    """Make a button that opens and closes something below itself.

    Args:
        identifier: Of the button.
        draw: Gives what is shown while it is open.
        closed: What the button says while it is closed.
        opened: What it says while it is open.
        spacing: Between what is shown.
    """
    is_open = [False]

    def toggled() -> None:
        is_open[0] = not is_open[0]
        slot.refresh()

    def shown() -> ft.Control:
        label = opened if is_open[0] else closed
        icon = ft.Icons.EXPAND_LESS if is_open[0] else ft.Icons.EXPAND_MORE
        action = button(identifier, label, toggled, icon=icon, kind="quiet")
        return stack(action, *draw(), spacing=spacing) if is_open[0] else action

    slot = Slot(shown)
    return slot.control

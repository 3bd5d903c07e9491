"""Where a number, a scale or a caution comes from: a button that opens it in place."""

from collections.abc import Iterable

import flet as ft

from exam_app.ui.identifiers import SOURCE_NOTE, for_choice
from exam_app.ui.parts.buttons import quiet_button
from exam_app.ui.parts.slot import Slot
from exam_app.ui.parts.texts import quiet, stack


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
    is_open = [False]

    def toggled() -> None:
        is_open[0] = not is_open[0]
        slot.refresh()

    def draw() -> ft.Control:
        icon = ft.Icons.EXPAND_LESS if is_open[0] else ft.Icons.EXPAND_MORE
        name = for_choice(SOURCE_NOTE, key.replace("_", "-"))
        button = quiet_button(name, label, toggled, icon=icon)
        if not is_open[0]:
            return button
        return stack(button, *(quiet(line) for line in written), spacing=6)

    slot = Slot(draw)
    return slot.control

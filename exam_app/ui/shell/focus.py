"""Where the keyboard goes on: after a sheet, and when a button was drawn away."""

from collections.abc import Mapping
from dataclasses import dataclass

import flet as ft

from exam_app.ui.widgets.slot import is_on_page

BUTTONS = (ft.OutlinedButton, ft.FilledButton, ft.IconButton)
# What takes keys: buttons, and a drawing.
TAKES_KEYS = (*BUTTONS, ft.KeyboardListener)


@dataclass(frozen=True, slots=True)
class Opener:
    """What a key activated: a control, and the name it keeps when it is drawn anew."""

    control_id: int
    identifier: str = ""


@dataclass(slots=True)
class Keys:
    """Whether the last thing was done with a key, and at which control.

    Attributes:
        is_by_key: Whether it was a key, and not a finger or a mouse.
        clicked: The control that was activated last.
    """

    is_by_key: bool = False
    clicked: Opener | None = None
    _last: str = ""

    def note(self, control_id: int, event_name: str, identifier: str = "") -> None:
        """Take in one event of the page; Enter and Space come before their click."""
        if event_name == "keyboard_event":
            self.is_by_key = True
            self.clicked = None
        elif event_name == "click":
            self.is_by_key = self._last == "keyboard_event"
            self.clicked = Opener(control_id, identifier)
        self._last = event_name

    def opener(self) -> Opener | None:
        """Tell which control is activated now, if it is by a key."""
        return self.clicked if self.is_by_key else None


def identifier_of(control: ft.BaseControl | None) -> str:
    """Tell the identifier around a control; empty if it has none of its own."""
    around = control and control.parent
    return (around.identifier or "") if isinstance(around, ft.Semantics) else ""


def opener_drawn(
    drawn: Mapping[int, ft.BaseControl], opener: Opener
) -> ft.Control | None:
    """Find what opened the sheet that is gone now, to give it the focus back.

    A button of Flet's forgets that it had it; other controls are given it back by
    Flutter. What was drawn anew under the sheet is known by its identifier.
    """
    control = drawn.get(opener.control_id)
    if isinstance(control, ft.Control) and is_on_page(control):
        return control
    return next(
        (
            one.content
            for one in list(drawn.values())
            if isinstance(one, ft.Semantics)
            and one.identifier == opener.identifier != ""
            and is_on_page(one)
        ),
        None,
    )


def wants_typing(control: ft.Control) -> bool:
    """Whether a text field within a control wants to be typed in at once."""
    if isinstance(control, ft.TextField):
        return bool(control.autofocus)
    inside = getattr(control, "content", None)
    within = [inside] if isinstance(inside, ft.Control) else []
    return any(map(wants_typing, [*within, *getattr(control, "controls", [])]))

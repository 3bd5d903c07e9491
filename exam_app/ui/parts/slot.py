"""A place on a screen that is drawn anew when what it shows has changed."""

from collections.abc import Callable

import flet as ft


class Slot:
    """A control drawn by a plain function, redrawn on request and by itself.

    One slot per region, vital or list keeps a tap at about a millisecond, since
    only this part is compared and sent. Keep a text field that is being typed in
    outside of a slot that its own change redraws: a redrawn field loses the focus.
    """

    def __init__(
        self, draw: Callable[[], ft.Control], *, expand: bool | None = None
    ) -> None:
        """Draw for the first time; place ``control`` on a screen."""
        self._draw = draw
        self.control = ft.Container(content=draw(), expand=expand)

    def refresh(self) -> None:
        """Draw again; a slot that is on no screen now is drawn and not sent."""
        self.control.content = self._draw()
        if is_on_page(self.control):
            self.control.update()


def is_on_page(control: ft.BaseControl) -> bool:
    """Whether the control belongs to a page that could be updated."""
    try:
        return bool(control.page)
    except RuntimeError:
        return False

"""A place on a screen that is drawn anew when what it shows has changed."""

from collections.abc import Callable
from typing import Any

import flet as ft

from exam_app.app.observed import Observed


class Slot:
    """A control drawn by a plain function, redrawn on request and by itself.

    One slot per region, vital or list keeps a tap at about a millisecond, since
    only this part is compared and sent. Keep a text field that is being typed in
    outside of a slot that its own change redraws: a redrawn field loses the focus.
    """

    def __init__(
        self,
        draw: Callable[[], ft.Control],
        *followed: Observed,
        expand: int | bool | None = None,
        in_place: bool = False,
        hides_empty: bool = False,
    ) -> None:
        """Draw for the first time; place ``control`` on a screen.

        Args:
            draw: Makes the controls from what is true now.
            followed: Parts of the exam's view, whose every change redraws the slot
                for as long as its control lives.
            expand: As in a row or column.
            in_place: Whether what looks the same stays the same control, so that it
                keeps the focus and less is sent. Only for a draw function that makes
                all its controls anew, with no slot and no text field among them.
            hides_empty: Whether an empty container takes no room, not even the
                space between it and the next.
        """
        self._draw = draw
        self.in_place = in_place
        self._hides_empty = hides_empty
        # Observables hold their listeners weakly: the control keeps this slot, and
        # the slot its listener.
        self._listener = self._changed
        self.control = ft.Container(content=draw(), expand=expand, data=self)
        self._hide_if_empty()
        for observed in followed:
            observed.subscribe(self._listener)

    def refresh(self) -> None:
        """Draw again; a slot that is on no screen now is drawn and not sent."""
        content = self._draw()
        if self.in_place:
            # Flet compares a frozen control with the one before it by what it shows.
            object.__setattr__(content, "_frozen", True)
        elif hasattr(self.control.content, "_frozen"):
            # Else what comes after it is compared too, and no field of it could change.
            object.__delattr__(self.control.content, "_frozen")
        self.control.content = content
        self._hide_if_empty()
        send(self.control)

    def redraw(self) -> None:
        """Draw again, and let nothing stay the same control."""
        kept, self.in_place = self.in_place, False
        self.refresh()
        self.in_place = kept

    def _hide_if_empty(self) -> None:
        shown = self.control.content
        is_empty = isinstance(shown, ft.Container) and shown.content is None
        self.control.visible = not (self._hides_empty and is_empty)

    def _changed(self, _sender: Any, _field: str | None) -> None:  # noqa: ANN401
        self.refresh()


def send(control: ft.Control) -> None:
    """Send what has changed of a control, unless it stands on no page."""
    if is_on_page(control):
        control.update()


def slot_around(control: ft.BaseControl) -> Slot | None:
    """Return the nearest slot that a control was drawn by; None without one."""
    while (around := control.parent) is not None:
        if isinstance(around, ft.Container) and isinstance(around.data, Slot):
            return around.data
        control = around
    return None


def is_on_page(control: ft.BaseControl) -> bool:
    """Whether the control belongs to a page that could be updated."""
    try:
        # Of a page that was closed the controls stay for a while, without a session.
        return bool(control.page and control.page.session)
    except RuntimeError:
        return False

"""A slot that is drawn anew by itself when the part of the exam it shows changes."""

from collections.abc import Callable

import flet as ft

from exam_app.ui.parts.slot import Slot


class LiveSlot(Slot):
    """A slot that follows one or more observables for as long as it is shown."""

    def __init__(
        self,
        draw: Callable[[], ft.Control],
        *followed: ft.Observable,
        expand: bool | None = None,
    ) -> None:
        """Draw for the first time, and again at each change of what is followed."""
        super().__init__(draw, expand=expand)

        def changed(_sender: object, _field: str | None) -> None:
            self.refresh()

        # Observables hold their listeners weakly: the control keeps this one alive,
        # so that it ends together with its screen.
        self.control.data = changed
        for observable in followed:
            observable.subscribe(changed)

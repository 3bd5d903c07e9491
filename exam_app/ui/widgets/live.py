"""A slot that follows several observables: both sides of an eye, or a whole heading."""

from collections.abc import Callable

import flet as ft

from exam_app.app.observed import Observed
from exam_app.ui.widgets.slot import Slot


class LiveSlot(Slot):
    """A slot drawn anew whenever one of what it follows changes."""

    def __init__(
        self,
        draw: Callable[[], ft.Control],
        *followed: Observed,
        expand: bool | None = None,
        in_place: bool = False,
        hides_empty: bool = False,
    ) -> None:
        """Draw for the first time; place ``control`` on a screen.

        Args:
            draw: Makes the controls from what is true now.
            followed: Parts of the exam's view; each tells when it has changed.
            expand: As in a row or column.
            in_place: As of any slot.
            hides_empty: As of any slot.
        """
        super().__init__(
            draw, expand=expand, in_place=in_place, hides_empty=hides_empty
        )
        for observed in followed:
            observed.subscribe(self._listener)

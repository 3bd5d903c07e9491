"""A sheet that leads on after a save, and takes nothing away that was opened since.

A save takes as long as the device takes. Meanwhile the sheet may have been closed, and
another sheet or another screen opened: that stays, and what is typed there with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.typed_entries import Typed
from exam_app.ui.shell.page_controller import Tab


@dataclass(slots=True, repr=False)
class OwnSheet:
    """One sheet over one screen; its buttons close it through this, and no other.

    Made before the sheet is opened, so that its handlers know it. Without ``open`` it
    stands for what is done on the screen itself.

    Attributes:
        tab: Where it is shown.
    """

    tab: Tab
    _shown: ft.Control | None = None
    _route: str | None = field(init=False)

    def __post_init__(self) -> None:
        """Remember the screen that it lies over."""
        self._route = self.tab.page.route

    def open(
        self,
        title: str,
        *controls: ft.Control,
        typed: Typed | None = None,
        grows: bool = False,
        foot: Sequence[ft.Control] = (),
    ) -> None:
        """Lay it over the screen; as ``Tab.open_sheet``."""
        self.tab.open_sheet(title, *controls, typed=typed, grows=grows, foot=foot)
        self._shown = self.tab.sheet

    @property
    def is_left(self) -> bool:
        """Whether another sheet lies there now, or another screen is shown."""
        tab = self.tab
        has_other = tab.sheet is not None and tab.sheet is not self._shown
        return has_other or tab.page.route != self._route

    async def show_anew(self) -> None:
        """Close it and show its screen as it is now, unless it was left."""
        if not self.is_left:
            await self.tab.show_route()

    async def go(self, route: str) -> None:
        """Close it and go to another screen, unless it was left."""
        if not self.is_left:
            self.tab.close_sheet()
            await self.tab.go(route)

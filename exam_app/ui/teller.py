"""Tell what was done, for a few seconds, with a way back."""

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from exam_app.ui import telling

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab

# It lies over the list: no longer than it takes to read, or to reach its "Undo".
TOLD_SECONDS = 5.0
UNDO_SECONDS = 7.0


@dataclass(slots=True)
class Teller:
    """What is told in one tab, one sentence at a time."""

    _number: int = 0

    def tell(
        self,
        tab: "Tab",
        sentence: str,
        undo: Callable[[], Awaitable[None]] | None,
    ) -> None:
        """Show a sentence in the place of the one before it."""
        self._number += 1

        def close() -> None:
            tab.frame.take_off("told")

        async def undone() -> None:
            close()
            if undo:
                await undo()

        bar = telling.told_bar(sentence, undone if undo else None, close)
        tab.frame.lay_over("told", bar, is_wide=tab.is_wide)
        tab.start(
            self._forget(tab, self._number, UNDO_SECONDS if undo else TOLD_SECONDS)
        )

    async def _forget(self, tab: "Tab", number: int, seconds: float) -> None:
        await asyncio.sleep(seconds)
        if number == self._number:
            tab.frame.take_off("told")

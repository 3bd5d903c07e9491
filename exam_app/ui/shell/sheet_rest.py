"""What of a long sheet is out of sight at first, and comes once the rest is drawn.

A page draws all that it is sent before it shows any of it. So what certainly lies
below the window is kept back until the part in sight is on its way, and is added
below it: nothing in sight is moved, and no control is made anew.
"""

import asyncio
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import flet as ft

from exam_app.ui.widgets.slot import is_on_page
from exam_app.ui.widgets.still_button import StillButton

# By then the page draws what it was sent first.
_UNTIL_DRAWN_SECONDS = 0.02
# Less than any of them is high, in pixels.
_LEAST: tuple[tuple[type[ft.Control], float], ...] = (
    (StillButton, 48),
    (ft.OutlinedButton, 48),
    (ft.FilledButton, 48),
    (ft.TextButton, 48),
    (ft.IconButton, 48),
    (ft.TextField, 48),
    (ft.Text, 18),
)


@dataclass(frozen=True, slots=True, repr=False)
class KeptBack:
    """The last controls of a column, and those it shows meanwhile."""

    column: ft.Column
    shown: list[ft.Control]
    rest: list[ft.Control]

    def put_back(self) -> None:
        """Add the rest below, unless the column was drawn anew or is gone."""
        column = self.column
        if column.controls is not self.shown:
            return
        column.controls = [*self.shown, *self.rest]
        if _stands(column):
            column.update()


@dataclass(frozen=True, slots=True, repr=False)
class MadeLater:
    """The last controls of a column, which are not made before the rest is sent."""

    column: ft.Column
    make: Callable[[], Iterable[ft.Control]]

    def put_back(self) -> None:
        """Make them and add them below, unless the column is gone."""
        if _stands(self.column):
            self.column.controls = [*self.column.controls, *self.make()]
            self.column.update()


def _stands(control: ft.Control) -> bool:
    """Whether a control is on its page, and was not left behind by another drawing."""
    return is_on_page(control) and control.page.session.index.get(control._i) is control


async def put_back_soon(kept: Sequence[KeptBack | MadeLater]) -> None:
    """Add what was kept back, once the page draws what it was sent before."""
    if not kept:
        return
    await asyncio.sleep(_UNTIL_DRAWN_SECONDS)
    for one in kept:
        one.put_back()


def keep_back(control: ft.Control, height: float | None) -> list[KeptBack]:
    """Take out of columns what lies below a window, and return it.

    Args:
        control: Shown from the window's top on.
        height: Of the window, in pixels; where it is not known, nothing is taken out.
    """
    kept: list[KeptBack] = []
    if height:
        _walk(control, height, kept)
    return kept


def _walk(control: ft.Control | None, left: float, kept: list[KeptBack]) -> float:
    """Return the height that is left below a control, after keeping back its end."""
    inner = _inside(control)
    if inner is not None:
        return _walk(inner, left, kept)
    if not isinstance(control, ft.Column) or not control.visible:
        return left - _least_height(control)
    for number, one in enumerate(control.controls):
        if left <= 0:
            shown, rest = control.controls[:number], control.controls[number:]
            control.controls = shown
            kept.append(KeptBack(control, shown, rest))
            break
        left = _walk(one, left, kept)
    return left


def _inside(control: ft.Control | None) -> ft.Control | None:
    """Return what a frame holds; None of anything else."""
    if isinstance(control, StillButton) or not (control and control.visible):
        return None
    if not isinstance(control, ft.Container | ft.Semantics):
        return None
    inner = control.content
    return inner if isinstance(inner, ft.Control) else None


def _least_height(control: ft.Control | None) -> float:
    """Return a height that a control has in any case, in pixels."""
    if control is None or not control.visible:
        return 0
    known = next((high for kind, high in _LEAST if isinstance(control, kind)), None)
    if known is not None:
        return known
    if isinstance(control, ft.Row | ft.Stack):
        return max(map(_least_height, control.controls), default=0)
    if isinstance(control, ft.Column):
        return sum(map(_least_height, control.controls))
    return _least_height(_inside(control))

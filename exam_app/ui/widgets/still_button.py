"""A button for a finger or a mouse: nothing moves on it while it is tapped.

Flet's own buttons draw a circle that spreads for 0.4 seconds after each tap: 24
pictures of the whole screen, while the browser should draw what the tap has changed.
What an exam is answered with is drawn without. It takes no focus of a key: once a key
leads from control to control, each becomes the button that it stands for.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from typing import Any

import flet as ft

from exam_app.ui.shell.theme import CORNER, LABEL_LINE, LARGEST_SIGN
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.slot import Slot, send, slot_around

# Of a keyboard, from one control to another.
LEADING_KEYS = ("Tab", "Arrow Up", "Arrow Down", "Arrow Left", "Arrow Right")
THIN = ft.BorderSide(2, ft.Colors.OUTLINE)
_AFTER_SIGN = 8


@ft.control("Container")  # type: ignore[arg-type]
class StillButton(ft.Container):
    """What a finger taps; ``data`` makes the button that it stands for."""


def still(
    make_button: Callable[[], ft.Control],
    face: ft.Control,
    on_click: Callable[..., Any],
    *,
    tooltip: str | None = None,
    ground: ft.ColorValue | None = None,
    frame: ft.BorderSide | None = None,
    sides: float = 0,
    above: float = 0,
    height: float | None = None,
) -> ft.Control:
    """Make what a finger taps in place of a button; the button itself for a key.

    Args:
        make_button: Makes the button, which does the same.
        face: Its content, with its own colours.
        ground: Colour behind the face; none where it is not filled.
        frame: Line around it, which takes its room from the padding.
        sides: Padding at the left and at the right.
        above: Padding above and below.
        height: Where that is fixed.
    """
    if HANDS.has_keys:
        return make_button()
    line = frame.width if frame else 0
    return StillButton(
        content=face,
        on_click=on_click,
        tooltip=tooltip,
        bgcolor=ground,
        border=ft.Border(frame, frame, frame, frame) if frame else None,
        border_radius=CORNER,
        padding=ft.Padding.symmetric(vertical=above - line, horizontal=sides - line),
        height=height,
        data=make_button,
    )


def still_face(
    words: str,
    height: float,
    colour: ft.ColorValue,
    *,
    icon: ft.IconData | None = None,
    style: ft.TextThemeStyle = ft.TextThemeStyle.LABEL_LARGE,
    is_row: bool = False,
) -> ft.Row:
    """Write the words of a still button, which are wrapped rather than cut.

    Args:
        height: That its face has at least.
        icon: Stands before the words, as high as a line of them.
        is_row: Whether the words begin at the left; else they stand in the middle.
    """
    parts: list[ft.Control] = [ft.Container(width=0, height=height)]
    if icon is not None:
        size = LABEL_LINE * min(ROOM.text_scale, LARGEST_SIGN)
        parts += [ft.Icon(icon, size=size, color=colour)]
        parts += [ft.Container(width=_AFTER_SIGN)]
    said = ft.Text(words, color=colour, theme_style=style)
    if not is_row:
        said.text_align = ft.TextAlign.CENTER
    said.expand, said.expand_loose = True, True
    place = ft.MainAxisAlignment.START if is_row else ft.MainAxisAlignment.CENTER
    return ft.Row([*parts, said], spacing=0, tight=True, alignment=place)


def button_of(named: ft.Control) -> ft.Control | None:
    """Return the button inside what has its identifier, made for a still one."""
    inner = getattr(named, "content", None)
    return inner.data() if isinstance(inner, StillButton) else inner


def sides_of(inner: object) -> float | None:
    """Return the padding at the sides of a button, a still one's frame included."""
    still_line = THIN.width if isinstance(inner, StillButton) and inner.border else 0
    around = inner if isinstance(inner, StillButton) else getattr(inner, "style", None)
    padding = getattr(around, "padding", None)
    return padding.left + still_line if isinstance(padding, ft.Padding) else None


def loosen_sides(inner: object, sides: float) -> None:
    """Give a button this padding at its sides, and what a still one stands for."""
    style = getattr(inner, "style", None)
    if isinstance(inner, StillButton):
        line = THIN.width if inner.border else 0
        if isinstance(inner.padding, ft.Padding):
            inner.padding.left = inner.padding.right = sides - line
        inner.data = partial(_made_loose, inner.data, sides)
    elif isinstance(style, ft.ButtonStyle) and isinstance(style.padding, ft.Padding):
        style.padding.left = style.padding.right = sides


def _made_loose(make_button: Callable[[], ft.Control], sides: float) -> ft.Control:
    button = make_button()
    loosen_sides(button, sides)
    return button


def give_keys_their_buttons(drawn: Iterable[ft.BaseControl]) -> None:
    """Draw every still button as the one that takes the focus, from now on.

    What has the identifier is made anew as well: a browser takes the name from what
    has become another.

    Args:
        drawn: All that is on the page now.
    """
    HANDS.has_keys = True
    slots: dict[int, Slot] = {}
    for named in [one for one in drawn if isinstance(one, ft.Semantics)]:
        if not isinstance(named.content, StillButton):
            continue
        if slot := slot_around(named):
            slots[id(slot)] = slot
            continue
        named.content = named.content.data()
        around, anew = named.parent, replace(named, button=False)
        siblings = getattr(around, "controls", [])
        siblings[:] = [anew if one is named else one for one in siblings]
        if isinstance(around, ft.Control):
            send(around)
    for slot in slots.values():
        slot.redraw()

"""What a screen hands to the frame: its title, its controls, its hooks."""

import re
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import flet as ft

from exam_app.ui.shell.theme import BODY_WIDTH


@dataclass(slots=True, repr=False)
class Screen:
    """One screen, drawn once by its builder and changed by its own handlers.

    Attributes:
        title: Shown in the header; at most two short lines on a phone.
        body: Controls below one another.
        subtitle: A quieter line under the title: animal, scope.
        back: Route of the arrow; without one there is no arrow.
        pinned: Above the body, never scrolled away: urgent notices, tabs.
        bottom: Below the body, never scrolled away: the buttons that lead on.
        scrolls: False for a body that fills the place itself: a pad for counting
            must not stand inside a scroller, where taps arrive late.
        width: Greatest width of the body in pixels; None for the whole window.
        actions: Buttons in the header, beside who examines.
        progress: In the header beside what is saved, on a phone without room for the
            subtitle.
        is_dense: Whether header and gaps are as low as a thumb allows, and what is told
            stands at the top: the foot is where the hand works.
        has_examiner: Whether the header offers to change the examiner.
        on_shown: Called once the screen is up: to set the cursor somewhere.
        on_leave: Awaited before another screen is shown.
        on_key: Awaited for each key pressed outside a text field.
        on_resize: Called after the window has changed its size.
        on_person: Called when somebody else examines: what they may read is drawn.
    """

    title: str
    body: list[ft.Control]
    subtitle: str = ""
    back: str | None = None
    pinned: list[ft.Control] = field(default_factory=list)
    bottom: list[ft.Control] = field(default_factory=list)
    scrolls: bool = True
    width: int | None = BODY_WIDTH
    has_examiner: bool = True
    actions: list[ft.Control] = field(default_factory=list)
    progress: ft.Control | None = None
    is_dense: bool = False
    on_shown: Callable[[], None] | None = None
    on_leave: Callable[[], Awaitable[None]] | None = None
    on_key: Callable[[ft.KeyboardEvent], Awaitable[None]] | None = None
    on_resize: Callable[[], None] | None = None
    on_person: Callable[[], None] | None = None


Builder: TypeAlias = Callable[..., Awaitable[Screen]]


@dataclass(frozen=True, slots=True)
class Route:
    """A path of the page and the builder of its screen.

    Attributes:
        pattern: ``/exam/{exam_id}``; a part in braces is passed by that name.
        build: ``async def build(tab, exam_id) -> Screen``.
    """

    pattern: str
    build: Builder

    def match(self, path: str) -> dict[str, str] | None:
        """Read the named parts of a path, or None if it is another screen's."""
        wanted = re.sub(r"{(\w+)}", r"(?P<\1>[^/]*)", self.pattern.strip("/"))
        found = re.fullmatch(wanted, path.strip("/"))
        return found and found.groupdict()


async def build_at(tab: object, routes: Sequence[Route], path: str) -> Screen:
    """Build the screen of a path; of one that nobody knows, the first screen."""
    place = path.partition("?")[0]
    for route in routes:
        if (named := route.match(place)) is not None:
            return await route.build(tab, **named)
    return await routes[0].build(tab)

"""What a screen says, read from its controls without a browser."""

from types import SimpleNamespace

import flet as ft

from exam_app.app.session import Session
from exam_app.ui.shell import access_gate
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen

_HOLDS = (
    "title",
    "content",
    "controls",
    "value",
    "text",
    "leading",
    "subtitle",
    "semantics_label",
)


def tab_at(session: Session, route: str) -> Tab:
    """Return a tab that shows nothing yet, at an address and as wide as a phone."""
    return Tab(
        SimpleNamespace(route=route, width=390, height=844), session, (), access_gate
    )


def words_of(shown: object) -> str:
    """Return every text of controls, in the order they are drawn."""
    return "\n".join(_words(shown))


def _words(shown: object):
    if isinstance(shown, str):
        yield shown
    elif isinstance(shown, Screen):
        for part in (shown.title, shown.subtitle, shown.pinned, shown.body):
            yield from _words(part)
    elif isinstance(shown, list | tuple):
        for one in shown:
            yield from _words(one)
    elif isinstance(shown, ft.BaseControl):
        for name in _HOLDS:
            yield from _words(getattr(shown, name, None))

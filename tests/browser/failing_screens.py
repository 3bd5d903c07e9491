"""Screens that fail on purpose, added to the app by tests only."""

import flet as ft

from exam_app.domain.errors import MissingReasonError
from exam_app.ui.shell.screen import Route, Screen
from exam_app.ui.widgets.buttons import button


async def build(tab) -> Screen:
    def break_down() -> None:
        raise RuntimeError("the thing that nobody foresaw")

    def refuse() -> None:
        raise MissingReasonError

    async def break_later() -> None:
        raise RuntimeError("broken in the background")

    kept = ft.TextField(label="kept text")
    return Screen(
        title="Failing on purpose",
        back="/",
        body=[
            kept,
            button("fail-now", "Fail", break_down, kind="main"),
            button("fail-refuse", "Refuse", refuse, kind="main"),
            button(
                "fail-later", "Later", lambda: tab.start(break_later()), kind="main"
            ),
        ],
    )


ROUTE = Route("/failing", build)

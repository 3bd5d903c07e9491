"""A handler that leads to another screen."""

from collections.abc import Awaitable, Callable

from exam_app.ui.shell.page_controller import Tab


def way(tab: Tab, route: str) -> Callable[[], Awaitable[None]]:
    """Return a handler that goes to a route.

    A lambda around ``tab.go`` would not do: Flet awaits functions that are declared
    ``async`` and calls any other one, whose coroutine then never runs.
    """

    async def go() -> None:
        await tab.go(route)

    return go

"""What lies over the screen and has to be left first: sheet, refusal, cover.

Each stands in a modal route of its own, so that Tab walks only it, and what opened it
has the focus again afterwards. What lies below keeps its place and says nothing to
assistive tools meanwhile. Flet takes away the topmost route, whichever is meant;
therefore one below another waits until that one is gone.

A few routes stand on the page from its beginning, closed: the client draws the whole
screen anew for one that comes or goes, as long as the sheet itself takes. A route is
taken for another sheet only once the page has told that it is gone.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import flet as ft

from exam_app.ui.shell.focus import Opener
from exam_app.ui.widgets.slot import send

NAMES = ("sheet", "stop", "cover", "over")
# As many as lie over one another, and one that is being closed meanwhile.
_READY = 4
_SCRIM = "#99000000"
_CLEAR = "#00000000"


@dataclass(slots=True, repr=False)
class _Layer:
    """What is to be shown at one place over the screen, and its route if it is open.

    Attributes:
        control: None if nothing is to be shown there.
        beside: Called by a tap beside it, and by Escape.
        escape: Called by Escape only.
        route: The open route.
        box: What stands in it.
    """

    name: str
    control: ft.Control | None = None
    beside: Callable[..., Any] | None = None
    escape: Callable[..., Any] | None = None
    route: ft.BottomSheet | None = None
    box: ft.Container = field(default_factory=ft.Container)


@dataclass(slots=True, repr=False)
class Modals:
    """The layers over the screen, from below: ``NAMES``.

    ``over`` is for what a cover itself has to say, as that five PINs were wrong.

    Attributes:
        page: Gives Flet's page, which is there once something is shown.
        opener: Tells the control that a key activates now, if any.
        on_left: Called with that control when a layer is gone from the page.
        ready: Closed routes, which are put on the page before anything is laid over it.
    """

    page: Callable[[], Any]
    opener: Callable[[], Opener | None]
    on_left: Callable[[Opener | None], None]
    ready: list[ft.BottomSheet] = field(
        default_factory=lambda: [_closed_route() for _ in range(_READY)]
    )
    _layers: dict[str, _Layer] = field(
        default_factory=lambda: {name: _Layer(name) for name in NAMES}
    )

    def lay(
        self,
        name: str,
        control: ft.Control,
        *,
        beside: Callable[..., Any] | None,
        escape: Callable[..., Any] | None,
    ) -> None:
        """Show a control on a layer, in the place of what was there.

        Args:
            name: One of ``NAMES``.
            control: What is shown there.
            beside: Called by a tap beside it, and by Escape.
            escape: Called by Escape only.
        """
        layer = self._layers[name]
        layer.control, layer.beside, layer.escape = control, beside, escape
        if layer.route is not None:
            _fill(layer)
            send(layer.box)
        self._settle()

    def take(self, name: str) -> None:
        """Take what is on a layer away."""
        if self.has(name):
            self._layers[name].control = None
            self._settle()

    def has(self, name: str) -> bool:
        """Whether something is to be seen on this layer."""
        return self._layers[name].control is not None

    def escape(self) -> bool:
        """Leave the topmost layer, if it can be left without an answer."""
        top = next(filter(self.has, reversed(NAMES)), None)
        layer = self._layers[top] if top else None
        leave = layer and (layer.beside or layer.escape)
        if leave:
            leave()
        return leave is not None

    def _settle(self) -> None:
        """Close from above what is no longer wanted, then open what is."""
        stay = False
        for layer in reversed(self._layers.values()):
            if layer.route is not None and layer.control is None and not stay:
                route, layer.route = layer.route, None
                route.open = False
                send(route)
            stay = stay or layer.route is not None
        open_above = False
        wanted = []
        for layer in reversed(self._layers.values()):
            open_above = open_above or layer.route is not None
            if layer.control is not None and not open_above:
                wanted.append(layer)
        for layer in reversed(wanted):
            self._open(layer)

    def _open(self, layer: _Layer) -> None:
        layer.box = ft.Container(expand=True)
        _fill(layer)
        opener = self.opener()
        is_extra = not self.ready
        route = _closed_route() if is_extra else self.ready.pop(0)

        def left() -> None:
            self._left(layer, route, opener)
            if not is_extra:
                # What stood in it can be found no more, as by who looks for a button.
                route.content, route.open = ft.Container(), False
                send(route)
                self.ready.append(route)

        layer.route = route
        route.content, route.on_dismiss = layer.box, left
        if is_extra:
            self.page().show_dialog(route)
            return
        route.open = True
        send(route)

    def _left(
        self,
        layer: _Layer,
        route: ft.BottomSheet,
        opener: Opener | None,
    ) -> None:
        if layer.route is route:
            # Taken away by the browser itself: a cover must not go with it.
            layer.route = None
            self._settle()
        else:
            self.on_left(opener)


def _closed_route() -> ft.BottomSheet:
    return ft.BottomSheet(
        content=ft.Container(),
        fullscreen=True,
        dismissible=False,
        draggable=False,
        bgcolor=_CLEAR,
        barrier_color=_CLEAR,
        elevation=0,
        shape=ft.RoundedRectangleBorder(radius=0),
        animation_style=ft.AnimationStyle(duration=0, reverse_duration=0),
    )


def _fill(layer: _Layer) -> None:
    box, is_cover = layer.box, layer.name == "cover"
    box.content = layer.control
    box.bgcolor = ft.Colors.SURFACE if is_cover else _SCRIM
    box.alignment = ft.Alignment.TOP_CENTER if is_cover else None
    box.on_click = layer.beside

"""A photograph by the computer's own camera: a live picture, and one button.

The camera is let go of as soon as a picture was taken, and where the sheet is closed,
another one or another screen takes its place, or the exams are locked or open in
another tab.
"""

import asyncio
import importlib.util
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import flet as ft

from exam_app.app.pictures.preparing import mirrored_back
from exam_app.app.session import LockState
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.camera import (
    is_not_allowed,
    is_taken,
    new_camera,
    open_camera,
)
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.slot import Slot, is_on_page, send
from exam_app.ui.widgets.texts import quiet, stack

_PHONES = (ft.PagePlatform.ANDROID, ft.PagePlatform.IOS)
_MIRRORED, _AS_SEEN = ft.Scale(scale_x=-1, scale_y=1), ft.Scale(scale_x=1, scale_y=1)
LOOK_SECONDS = 0.2
NOT_ALLOWED = to_translate(
    "The camera was not allowed. Nothing was taken, and the exam is as it was. Allow "
    "it in the settings that the browser keeps for this page, then press the button "
    "again; or choose a picture that another camera took."
)
IN_USE = to_translate(
    "The camera does not start; another program may be using it. Nothing was taken, "
    "and the exam is as it was. Close that program and press the button again; or "
    "choose a picture that another camera took."
)
NO_CAMERA = to_translate(
    "No camera was found on this computer. Nothing was taken, and the exam is as it "
    "was. Plug one in and press the button again; or choose a picture that another "
    "camera took."
)
NO_PICTURE = to_translate(
    "The camera gave no picture. Nothing was taken, and the exam is as it was. Press "
    "the button to start it again; or choose a picture that another camera took."
)
LOCKED = to_translate(
    "The camera was turned off when the exams were locked. Nothing was taken, and the "
    "exam is as it was. Press the button to start it again."
)
_ASKING = to_translate(
    "Asking for the camera. The browser may ask you whether it is allowed …"
)
_READY = to_translate(
    "What the camera sees now. Nothing is kept of it before you press the button."
)
# What stands above and below the live picture on a phone, at normal text.
_BESIDE_VIEW = 360
_LEAST_HEIGHT = 150
# The part that shows a camera in a browser mirrors it, unless the browser says that it
# looks away from the person.
_LOOKS_AWAY = "back"


def offers_camera(page: ft.Page) -> bool:
    """Whether a photograph can be taken in the page itself.

    A phone's browser offers its own camera where a file is chosen; that one focuses
    and lights better. Flet's own window on a computer shows no camera.
    """
    is_installed = importlib.util.find_spec("flet_camera") is not None
    return is_installed and page.web and page.platform not in _PHONES


@dataclass(slots=True, repr=False)
class ComputerCamera:
    """The camera of one sheet.

    Attributes:
        tab: Where it is shown.
        on_turn: Called when the camera is turned on or off; ``view`` is to be shown
            while it is on.
        on_ready: Called when the button that takes the picture has become usable or
            is usable no more.
        say: Says what is wrong.
        is_on: Whether there is a live picture, or one is asked for.
        is_ready: Whether it can be taken.
        view: The live picture, which must keep its place while the camera is on.
    """

    tab: Tab
    on_turn: Callable[[], None]
    on_ready: Callable[[], None]
    say: Callable[[str], object]
    is_on: bool = False
    is_ready: bool = False
    view: ft.Control = field(default_factory=ft.Container)
    _camera: Any = None
    _cameras: list[Any] = field(default_factory=list)
    _chosen: Any = None
    _seen: ft.Container = field(default_factory=ft.Container)
    _said: Slot = field(init=False)
    # What the browser is asked for now, and whatever follows from its answer.
    _asked: asyncio.Task[Any] | None = None

    def __post_init__(self) -> None:
        """Draw nothing yet; no camera is asked for before ``start``."""
        self._said = Slot(self._draw_said)

    def start(self) -> None:
        """Ask the browser for the camera and show what it sees."""
        if self.is_on:
            return
        self._camera, self.is_on, self.is_ready = new_camera(), True, False
        self._said = Slot(self._draw_said)
        height = (self.tab.page.height or 0) - _BESIDE_VIEW * ROOM.text_scale
        self._seen = ft.Container(
            self._camera,
            width=ROOM.sheet,
            height=max(_LEAST_HEIGHT, min(ROOM.sheet * 9 / 16, height)),
            alignment=ft.Alignment.CENTER,
            bgcolor=ft.Colors.SURFACE_CONTAINER,
            # Of another kind later the view would be made anew, and the camera with it.
            scale=_MIRRORED,
        )
        named = identified("photo-live", self._seen, label=tr("What the camera sees"))
        self.view = stack(named, self._said.control, spacing=8)
        self.on_turn()
        self._asked = self.tab.start(self._open(self._camera))
        self.tab.start(self._let_go_when_left(self._camera, self.tab.sheet))

    def stop(self, sentence: str = "") -> None:
        """Let the camera go; nothing that it still answers is waited for.

        Args:
            sentence: Says why, where nobody asked for it.
        """
        if not self.is_on:
            return
        asked, self._asked = self._asked, None
        if asked is not None and asked is not asyncio.current_task():
            asked.cancel()
        self._camera, self.view = None, ft.Container()
        self.is_on = self.is_ready = False
        self.say(tr(sentence) if sentence else "")
        self.on_turn()

    def leave(self) -> None:
        """Let the camera go, as somebody asked for."""
        self.stop()

    async def take(self) -> bytes | None:
        """Return the picture as a JPEG and let the camera go; ``None`` without one."""
        if not self.is_ready:
            return None
        self.is_ready = False
        self.on_ready()
        camera = self._camera
        self._asked = asyncio.create_task(camera.take_picture())
        try:
            picture = bytes(await self._asked)
        except asyncio.CancelledError:
            # Left meanwhile.
            return None
        except (RuntimeError, TimeoutError):
            self.stop(NO_PICTURE)
            return None
        self.stop()
        return mirrored_back(picture) if self._is_mirrored else picture

    async def _open(self, camera: Any) -> None:  # noqa: ANN401
        try:
            self._cameras = await camera.get_available_cameras()
            await self._show(camera)
        except Exception as error:
            # The browser's refusals have no common kind.
            self.stop(why_none(str(error), has_any=bool(self._cameras)))

    async def _show(self, camera: Any) -> None:  # noqa: ANN401
        if not self._cameras:
            self.stop(NO_CAMERA)
            return
        if self._chosen not in self._cameras:
            self._chosen = self._cameras[0]
        self._seen.scale = _MIRRORED if self._is_mirrored else _AS_SEEN
        send(self._seen)
        await open_camera(camera, self._chosen)
        self.is_ready = True
        self._said.refresh()
        self.on_ready()

    async def _choose(self, key: str) -> None:
        self._chosen = self._cameras[int(key)]
        self.stop()
        self.start()

    async def _let_go_when_left(self, camera: Any, sheet: ft.Control | None) -> None:  # noqa: ANN401
        while self._camera is camera:
            if self.tab.sheet is not sheet or not is_on_page(self._said.control):
                self.stop()
            elif self._is_locked:
                self.stop(LOCKED)
            await asyncio.sleep(LOOK_SECONDS)

    @property
    def _is_mirrored(self) -> bool:
        return bool(self._chosen.lens_direction.value != _LOOKS_AWAY)

    @property
    def _is_locked(self) -> bool:
        session = self.tab.session
        return session.state is not LockState.OPEN or session.holder != self.tab.key

    def _draw_said(self) -> ft.Control:
        said = quiet(tr(_READY if self.is_ready else _ASKING))
        named = identified("photo-camera-said", said, live=True)
        if len(self._cameras) < 2 or not self.is_ready:
            return named
        names = [(str(at), words) for at, words in enumerate(_words(self._cameras))]
        at = str(self._cameras.index(self._chosen))
        row = ChoiceRow("photo-camera", names, self._choose, at, "usual")
        return stack(named, row.control, spacing=8)


def why_none(refusal: str, *, has_any: bool = False) -> str:
    """Say why there is no camera, by what the browser's refusal contains."""
    if is_not_allowed(refusal):
        return NOT_ALLOWED
    return IN_USE if has_any or is_taken(refusal) else NO_CAMERA


def _words(cameras: list[Any]) -> list[str]:
    """Name cameras as the browser does, and by number those that it does not name."""
    return [
        one.name.strip() or tr("Camera {number}", number=at)
        for at, one in enumerate(cameras, 1)
    ]

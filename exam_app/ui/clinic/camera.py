"""The browser's camera, looked through for codes until it is stopped.

Pictures are taken one after the other and never kept. While it looks, the app does
not lock itself, with the ceiling that the session sets.
"""

import asyncio
import importlib
import math
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Any

import flet as ft

from exam_app.app.clinic.pictures import PictureUnreadableError, read_codes
from exam_app.app.session import LONGEST_WAKE_SECONDS
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.slot import Slot, is_on_page
from exam_app.ui.widgets.texts import quiet, stack

OnCodes = Callable[[tuple[str, ...]], Awaitable[bool]]
_WIDTH = 480
_LONGEST_PICTURE_SECONDS = 10.0
# What a page and a section leave at the sides of a phone.
_MARGINS = 64
_INSTEAD = "or open a photo of the code, paste its text, or bring a file."
NOT_ALLOWED = (
    "The camera was not allowed. Allow it in the settings that the browser keeps for "
    f"this page, then press the button again; {_INSTEAD}"
)
NO_CAMERA = (
    "No camera was found here, or another program is using it. Close that program "
    f"and press the button again; {_INSTEAD}"
)
NO_PICTURES = f"The camera gives no more pictures. Press the button again; {_INSTEAD}"


@dataclass(slots=True, repr=False)
class CodeCamera:
    """One camera on one screen.

    Attributes:
        tab: Where it is shown.
        on_codes: Awaited with the codes of each picture that has any; True once
            nothing more is looked for.
    """

    tab: Tab
    on_codes: OnCodes
    slot: Slot = field(init=False)
    _camera: Any = None
    _problem: str = ""
    _is_looking: bool = False
    _task: asyncio.Task[Any] | None = None

    def __post_init__(self) -> None:
        """Draw the button; no camera is asked for before it is pressed."""
        self.slot = Slot(self._draw)

    async def start(self) -> None:
        """Ask the browser for the camera and look through it in the background."""
        if self._is_looking:
            return
        self._problem, self._is_looking = "", True
        library = importlib.import_module("flet_camera")
        self._camera = library.Camera(expand=True, preview_enabled=True)
        self.slot.refresh()
        self._task = self.tab.start(self._look(library))

    async def stop(self) -> None:
        """Let the camera go, once the picture under way has come.

        An answer for a control that was taken away meanwhile ends Flet's session, so
        every screen with a camera awaits this before it is left.
        """
        self._is_looking = False
        task = self._task
        if task is not None and task is not asyncio.current_task():
            await asyncio.wait({task}, timeout=_LONGEST_PICTURE_SECONDS)

    async def _look(self, library: Any) -> None:  # noqa: ANN401
        try:
            with self.tab.session.stay_awake(LONGEST_WAKE_SECONDS):
                await self._open(library)
                await self._look_until_stopped()
        finally:
            self._is_looking, self._camera = False, None
            self.slot.refresh()

    async def _open(self, library: Any) -> None:  # noqa: ANN401
        camera = self._camera
        try:
            cameras = await camera.get_available_cameras()
            back = [c for c in cameras if c.lens_direction.value == "back"]
            # 1080 lines: codes of normal dots are read from a hand's breadth away.
            size = library.ResolutionPreset.VERY_HIGH
            await camera.initialize((back or cameras)[0], size, enable_audio=False)
        except Exception as error:
            # The browser's refusals have no common kind.
            self._problem, self._is_looking = refusal_words(str(error)), False

    async def _look_until_stopped(self) -> None:
        camera = self._camera
        while self._is_looking and is_on_page(self.slot.control):
            try:
                picture = await camera.take_picture()
                codes = await read_codes(bytes(picture))
            except PictureUnreadableError:
                continue
            except (RuntimeError, TimeoutError):
                # The camera was taken away, or gives no pictures any more.
                self._problem = NO_PICTURES
                break
            if codes and await self.on_codes(codes):
                break

    def _draw(self) -> ft.Control:
        if self._camera is None:
            action = button(
                "clinic-camera",
                "Use the camera",
                self.start,
                icon=ft.Icons.PHOTO_CAMERA_OUTLINED,
            )
            row = ft.Row([action], wrap=True)
            return stack(row, quiet(self._problem)) if self._problem else row
        width, height = view_size(self.tab.page.width)
        view = ft.Container(self._camera, width=width, height=height)
        return stack(
            identified("clinic-camera", ft.Row([view]), label="What the camera sees"),
            ft.Row(
                [
                    button(
                        "clinic-camera-stop",
                        "Stop the camera",
                        self.stop,
                        icon=ft.Icons.STOP,
                    )
                ],
                wrap=True,
            ),
        )


def refusal_words(refusal: str) -> str:
    """Say why there is no camera, by what the browser's refusal contains."""
    lowered = refusal.lower()
    is_refused = any(word in lowered for word in ("denied", "permission", "notallowed"))
    return NOT_ALLOWED if is_refused else NO_CAMERA


def view_size(page_width: float | None) -> tuple[int, int]:
    """Return width and height of the view, in logical pixels.

    A wide page shows the shape of a camera's picture, and nothing is cut off. A
    narrow one shows a square: the middle of what is read, however a phone is held.
    """
    room = math.floor(page_width) - _MARGINS if page_width else _WIDTH
    if room < _WIDTH:
        return room, room
    return _WIDTH, _WIDTH * 9 // 16

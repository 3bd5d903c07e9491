"""The one way in of codes: the camera, photos and files, text pasted or scanned.

Pictures are taken one after the other and never kept. While the camera looks, the app
does not lock itself, with the ceiling that the session sets.
"""

import asyncio
import contextlib
import math
from collections.abc import Awaitable, Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, ClassVar

import flet as ft

from exam_app.app.clinic.pictures import (
    PICTURE_ENDINGS,
    PictureUnreadableError,
    can_use_camera,
    read_codes,
)
from exam_app.app.session import LONGEST_WAKE_SECONDS
from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.camera import is_not_allowed, new_camera, open_camera
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.files import pick_files
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.slot import Slot, is_on_page
from exam_app.ui.widgets.texts import quiet, side_by_side, stack
from sync.errors import CardError, NotACardError
from sync.trust.cards import from_text

OnCodes = Callable[[tuple[str, ...]], Awaitable[bool]]
_WIDTH = 480
_LONGEST_PICTURE_SECONDS = 10.0
# What a page and a section leave at the sides of a phone.
_MARGINS = 64
NOT_ALLOWED = to_translate(
    "The camera was not allowed. Allow it in the settings that the browser keeps for "
    "this page, then press the button again; or open a photo of the code, paste its "
    "text, or bring a file."
)
NO_CAMERA = to_translate(
    "No camera was found here, or another program is using it. Close that program "
    "and press the button again; or open a photo of the code, paste its text, or "
    "bring a file."
)
NO_PICTURES = to_translate(
    "The camera gives no more pictures. Press the button again; or open a photo of the "
    "code, paste its text, or bring a file."
)


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
        self._camera = new_camera()
        self.slot.refresh()
        self._task = self.tab.start(self._look())

    async def stop(self) -> None:
        """Let the camera go, once the picture under way has come.

        An answer for a control that was taken away meanwhile ends Flet's session, so
        every screen with a camera awaits this before it is left.
        """
        self._is_looking = False
        task = self._task
        if task is not None and task is not asyncio.current_task():
            await asyncio.wait({task}, timeout=_LONGEST_PICTURE_SECONDS)

    async def _look(self) -> None:
        try:
            with self.tab.session.stay_awake(LONGEST_WAKE_SECONDS):
                await self._open()
                await self._look_until_stopped()
        finally:
            self._is_looking, self._camera = False, None
            self.slot.refresh()

    async def _open(self) -> None:
        camera = self._camera
        try:
            cameras = await camera.get_available_cameras()
            back = [c for c in cameras if c.lens_direction.value == "back"]
            await open_camera(camera, (back or cameras)[0])
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
            label, icon = tr("Use the camera"), ft.Icons.PHOTO_CAMERA_OUTLINED
            row = side_by_side(button("clinic-camera", label, self.start, icon=icon))
            if not self._problem:
                return row
            said = identified("clinic-camera-said", quiet(tr(self._problem)), live=True)
            return stack(row, said)
        width, height = view_size(self.tab.page.width)
        view = ft.Row([ft.Container(self._camera, width=width, height=height)])
        label, icon = tr("Stop the camera"), ft.Icons.STOP
        stop = button("clinic-camera-stop", label, self.stop, icon=icon)
        seen = identified("clinic-camera", view, label=tr("What the camera sees"))
        return stack(seen, side_by_side(stop))


def refusal_words(refusal: str) -> str:
    """Say why there is no camera, by what the browser's refusal contains."""
    return NOT_ALLOWED if is_not_allowed(refusal) else NO_CAMERA


def view_size(page_width: float | None) -> tuple[int, int]:
    """Return width and height of the view, in logical pixels.

    A wide page shows the shape of a camera's picture, and nothing is cut off. A
    narrow one shows a square: the middle of what is read, however a phone is held.
    """
    room = math.floor(page_width) - _MARGINS if page_width else _WIDTH
    if room < _WIDTH:
        return room, room
    return _WIDTH, _WIDTH * 9 // 16


class NoCodeInPictureError(ExamError):
    """A picture was opened, and there is no code in it."""

    advice: ClassVar[str] = to_translate(
        "No code was found in that picture. Nothing was taken from it. Take it "
        "again: closer, sharp, straight on, with all four edges of the code."
    )


class CodeIn:
    """The ways in of one screen, and what was wrong with what came last."""

    # Given to a person in place of a text or code that stands for nothing.
    nothing = NotACardError.advice
    opens_several = False

    def __init__(
        self,
        tab: Tab,
        identifier: str,
        label: str,
        taken: Callable[[bytes], Awaitable[bool]],
        *,
        hint: str | None = None,
        lines: int = 3,
        problem: str = "",
        **notice: Any,  # noqa: ANN401
    ) -> None:
        """Make the field and the camera, which is not asked for before a tap.

        Args:
            tab: Where it is shown.
            identifier: Begins those of the field (``-text``) and of its problem
                (``-said``).
            label: Of the field.
            taken: Awaited with what a text, a code or a file stands for; True once
                nothing more is looked for.
            hint: Below the field.
            lines: Of the field; in one line pasted codes would run together.
            problem: Finds the problem, where that is no ``-said``.
            **notice: As of ``ProblemNotice``.
        """
        self.tab, self.taken = tab, taken
        self.field = text_field(
            f"{identifier}-text",
            label,
            hint=hint,
            lines=lines,
            on_change=self._look_for_end,
        )
        # Apart from the camera, which a redrawing would start anew.
        self.problem = ProblemNotice(problem or f"{identifier}-said", **notice)
        self.camera = CodeCamera(tab, self.take_codes)

    def camera_parts(self, *missing: str) -> list[ft.Control]:
        """Draw the camera, or what is missing for it, if that is to be said."""
        if can_use_camera():
            return [self.camera.slot.control]
        return [quiet(line) for line in missing]

    async def read(self) -> None:
        """Take what stands in the field."""
        await self.take_codes((self.field.typed,))

    async def pick(self) -> None:
        """Take the files that a person chooses; a refusal is said."""
        for name, content in await pick_files(self.tab, several=self.opens_several):
            try:
                await self.take_file(name, content)
            except ExamError as refusal:
                self.say(tr(refusal.advice))

    async def take_file(self, name: str, content: bytes) -> None:
        """Take a photo's codes, a file's text, or else its content."""
        texts = await texts_of(name, content)
        await (self.take_codes(texts) if texts else self.taken(content))

    async def take_codes(self, codes: tuple[str, ...]) -> bool:
        """Take the first text that is one of those wanted here; True if one was."""
        whole = list(whole_ones(codes))
        if not whole:
            self.say(tr(self.nothing))
        for content in whole:
            if await self.taken(content):
                return True
        return False

    def say(self, sentence: str) -> None:
        """Say what is wrong, or nothing where it is empty."""
        # A camera sees the same wrong code many times.
        if sentence != self.problem.text:
            self.problem.say(sentence)

    async def _look_for_end(self) -> None:
        """Read by itself what a scanner ended with Enter."""
        if self.field.typed.endswith("\n"):
            await self.read()


def whole_ones(texts: Iterable[str]) -> Iterator[bytes]:
    """Give what each text that is whole stands for."""
    for text in texts:
        with contextlib.suppress(CardError):
            yield from_text(text)


async def texts_of(name: str, content: bytes) -> tuple[str, ...]:
    """Return the codes of a photo, or the text of a text file; else nothing.

    Raises:
        NoCodeInPictureError: It is a picture without a code.
        PictureUnreadableError: It is named like a picture and is none.
        CodesUnreadableError: The part that reads codes is not installed.
        CodeReaderNotStartedError: The phone's reader of codes did not start.
    """
    if name.lower().endswith(PICTURE_ENDINGS):
        codes = await read_codes(content)
        if not codes:
            raise NoCodeInPictureError
        return codes
    try:
        return (content.decode("ascii"),)
    except UnicodeDecodeError:
        return ()

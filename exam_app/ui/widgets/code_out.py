"""The one way out of codes: a QR code in whole pixels, its text, and its file."""

import base64

import flet as ft

from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import OnClick, button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.files import copy_text, offer_file
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import side_by_side, stack
from sync.transport.qr import qr_png

# Black on white in any theme.
WHITE = "#FFFFFF"
# Fits the width of a phone.
_WIDEST = 330
_CUT = ft.ClipBehavior.HARD_EDGE
# One white pixel: without any picture Flet writes a fault in red on the screen.
NO_CODE = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABAQAAAAA3bvkkAA"
    "AACklEQVR42mNoAAAAggCB2kUIOwAAAABJRU5ErkJggg=="
)


def code_picture(png: bytes, side: float) -> ft.Image:
    """Make the picture of a code; give it another ``src`` to show the next one.

    Args:
        png: One pixel per module with the quiet zone; the browser enlarges it.
        side: Width and height in the page's own units.
    """
    return ft.Image(
        src=png,
        width=side,
        height=side,
        fit=ft.BoxFit.FILL,
        # Without the first, blank frames flicker in between; the second keeps
        # edges sharp.
        gapless_playback=True,
        filter_quality=ft.FilterQuality.NONE,
        exclude_from_semantics=True,
    )


class CodeFilm:
    """One code at a time out of pictures that hold several, one below the other.

    A new picture makes the browser draw the page twice, once more when it is decoded.
    To move a decoded one draws it once, and meanwhile the next lies out of sight.

    Attributes:
        left: How many codes of the present picture are still to be shown.
        has_next: Whether the next picture lies there.
    """

    def __init__(self) -> None:
        """Show white until there is a code."""
        self._images = [code_picture(NO_CODE, 0) for _ in range(2)]
        self._places = [ft.Container(one, left=0, top=0) for one in self._images]
        self.control = ft.Stack([*self._places], clip_behavior=_CUT)
        self._counts, self._modules = [1, 1], [0, 0]
        self._current, self._number = 0, 0
        self._side, self.left, self.has_next = 0.0, 0, False

    @property
    def modules(self) -> int:
        """Of one side of the code that is shown; 0 while there is none."""
        return self._modules[self._current]

    def bring(self, png: bytes, count: int, modules: int) -> None:
        """Put the next picture out of sight, of so many codes of one size."""
        hidden = 1 - self._current
        self._images[hidden].src = png
        self._counts[hidden], self._modules[hidden] = count, modules
        self.has_next = True
        self._place()

    def drop(self) -> None:
        """Show nothing more of the present picture, nor of the next."""
        self.left, self.has_next = 0, False

    def turn(self) -> None:
        """Show the next code: of the present picture, or the first of the next."""
        if self.left:
            self._number, self.left = self._number + 1, self.left - 1
        else:
            self._current, self._number = 1 - self._current, 0
            self.left, self.has_next = self._counts[self._current] - 1, False
        self._place()

    def resize(self, side: float) -> None:
        """Show codes of this side, in the page's own units."""
        self._side = side
        self.control.width = self.control.height = side
        self._place()

    def _place(self) -> None:
        side, above = self._side, -self._number * self._side
        for index, image in enumerate(self._images):
            image.width, image.height = side, side * self._counts[index]
            self._places[index].top = above if index == self._current else side


def on_white(identifier: str, picture: ft.Control, spoken: str) -> ft.Control:
    """Put a code on its own white ground, with a name for assistive tools."""
    ground = ft.Container(picture, bgcolor=WHITE, alignment=ft.Alignment.CENTER)
    return identified(identifier, ground, label=spoken)


def still_code(identifier: str, text: str, spoken: str) -> ft.Control:
    """Draw one code as large as a phone's width allows.

    Args:
        identifier: Finds the control; given to nothing else.
        text: In the alphanumeric mode.
        spoken: Read aloud in the code's place.

    Raises:
        BundleTooLargeError: It is too long for one code.
    """
    png = qr_png(text)
    modules = modules_of(png)
    side = max(2, _WIDEST // modules) * modules
    return on_white(identifier, code_picture(png, side), spoken)


def modules_of(png: bytes) -> int:
    """Return how many modules a side of such a picture has, with the quiet zone."""
    return int.from_bytes(png[16:20], "big")


def copied(tab: Tab, text: str, said: str) -> OnClick:
    """Return what puts a text on the clipboard and says so."""

    async def copy() -> None:
        await copy_text(tab, text)
        tab.tell(said)

    return copy


def saved(tab: Tab, name: str, content: bytes) -> OnClick:
    """Return what offers a file of this name."""

    async def save() -> None:
        await offer_file(tab, name, content)

    return save


def text_and_file(
    tab: Tab,
    identifier: str,
    text: str,
    spoken: str,
    file: tuple[str, bytes],
    told: str,
) -> ft.Control:
    """Draw the text that a code stands for, to be copied, or saved as a file.

    Args:
        tab: Where it is shown.
        identifier: Begins those of field and buttons.
        text: What the code says.
        spoken: What it is; names the field.
        file: Name and content.
        told: Said once it is copied.
    """
    # A field, since a selectable text says nothing to assistive tools.
    shown = text_field(
        f"{identifier}-text", tr("{spoken} as text", spoken=spoken), value=text, lines=3
    )
    shown.entry.read_only = True
    copy, save = f"{identifier}-copy", f"{identifier}-file"
    copying, saving = ft.Icons.CONTENT_COPY, ft.Icons.SAVE_ALT
    return stack(
        shown.control,
        side_by_side(
            button(copy, tr("Copy the text"), copied(tab, text, told), icon=copying),
            button(save, tr("Save as a file"), saved(tab, *file), icon=saving),
        ),
    )

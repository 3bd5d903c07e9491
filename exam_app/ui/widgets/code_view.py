"""A QR code on a screen: whole pixels per module, black on white in any theme."""

import base64

import flet as ft

from exam_app.ui.widgets.identifiers import identified

WHITE = "#FFFFFF"
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


def on_white(identifier: str, picture: ft.Control, spoken: str) -> ft.Control:
    """Put a code on its own white ground, with a name for assistive tools."""
    ground = ft.Container(picture, bgcolor=WHITE, alignment=ft.Alignment.CENTER)
    return identified(identifier, ground, label=spoken)


def modules_of(png: bytes) -> int:
    """Return how many modules a side of such a picture has, with the quiet zone."""
    return int.from_bytes(png[16:20], "big")

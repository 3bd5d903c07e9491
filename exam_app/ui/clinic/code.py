"""A still code on the screen: black on white in every theme, dots of whole pixels."""

import flet as ft

from exam_app.ui.widgets.identifiers import identified
from sync.transport.qr import qr_png, qr_rows

_WIDEST = 330
_QUIET = 8


def code_picture(identifier: str, text: str, spoken: str) -> ft.Control:
    """Draw one code as large as a phone's width allows.

    Args:
        identifier: Finds the control; given to nothing else.
        text: In the alphanumeric mode.
        spoken: Read aloud in the code's place.
    """
    modules = len(qr_rows(text)) + _QUIET
    pixels = max(2, _WIDEST // modules)
    side = modules * pixels
    picture = ft.Image(
        src=qr_png(text, module_pixels=pixels),
        width=side,
        height=side,
        fit=ft.BoxFit.FILL,
        filter_quality=ft.FilterQuality.NONE,
        gapless_playback=True,
        semantics_label=spoken,
    )
    box = ft.Container(picture, bgcolor="#FFFFFF", width=side, height=side)
    return identified(identifier, ft.Row([box], wrap=True))

"""The one font of every sheet: beside the app, or kept by a phone's browser."""

import importlib
from typing import Any

from exam_app.paper.fonts import Font, FontDamagedError
from exam_app.resources import ResourceMissingError, fallback_font

# As the phone's build places it; its browser keeps it with the app's other files.
_ON_A_PHONE = "/fonts/DejaVuSans.ttf"


async def sheet_font() -> Font:
    """Read the font.

    Raises:
        FontDamagedError: It is no font, or the browser does not give it.
        ResourceMissingError: The installation carries none.
    """
    try:
        content = fallback_font()
    except ResourceMissingError:
        content = await _kept_by_browser()
    return Font(content)


async def _kept_by_browser() -> bytes:
    try:
        js, ffi = map(importlib.import_module, ("js", "pyodide.ffi"))
    except ImportError as error:
        raise ResourceMissingError(_ON_A_PHONE) from error
    try:
        answer: Any = await js.fetch(_ON_A_PHONE)
        if not answer.ok:
            raise FontDamagedError(str(answer.status))
        return bytes((await answer.arrayBuffer()).to_bytes())
    except ffi.JsException as error:
        raise FontDamagedError(str(error)) from error

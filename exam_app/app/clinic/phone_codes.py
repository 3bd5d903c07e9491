"""Read codes out of pictures where Python itself runs in a browser.

``phone/static/codes.js`` puts a reader into the worker that runs Python; what it needs
is fetched from the app's own files at the first picture.
"""

import importlib
import importlib.util
import sys
from typing import Any, ClassVar

from exam_app.domain.errors import ExamError


class CodeReaderNotStartedError(ExamError):
    """The browser did not start the part that reads codes."""

    advice: ClassVar[str] = (
        "The part that reads codes did not start in this browser. Nothing was lost. "
        "Close other windows and try again, or paste the text or open the file "
        "instead of the code."
    )


def is_browser() -> bool:
    """Return whether Python runs in a browser here."""
    return sys.platform == "emscripten"


def can_read() -> bool:
    """Return whether the browser's reader of codes is here."""
    return is_browser() and hasattr(importlib.import_module("js"), "examCodes")


async def codes_in(
    content: bytes, *, is_known: bool, most_pixels: int
) -> tuple[str, ...] | None:
    """Return the text of every QR code in one picture; None where it is none.

    Args:
        content: A picture file.
        is_known: Whether the reader knows its format; else the browser itself is
            asked to draw it.
        most_pixels: What the browser draws must not be larger.

    Raises:
        CodeReaderNotStartedError: A file of it is missing, or memory is short.
    """
    js, ffi = map(importlib.import_module, ("js", "pyodide.ffi"))
    try:
        found: Any = await js.examCodes.read(ffi.to_js(content), is_known, most_pixels)
    except ffi.JsException as error:
        raise CodeReaderNotStartedError(str(error)) from error
    # A JavaScript null is no None.
    return tuple(map(str, found)) if hasattr(found, "length") else None

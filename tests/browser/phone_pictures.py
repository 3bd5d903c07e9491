"""The first module of a build that only prepares pictures, and tells what came out.

It runs in Python's worker in the real page, with the browser's own parts; the pictures
are put in by the test.
"""

import asyncio
import base64
import json
import sys
from typing import Any

from exam_app.app.pictures.preparing import prepare_photograph
from exam_app.domain.errors import ExamError
from exam_app.record.jpeg import check_picture

PICTURES: dict[str, str] = {}


async def became(content: bytes) -> dict[str, Any]:
    """Prepare one picture; give its bytes and its size, or the refusal's name."""
    try:
        kept = await prepare_photograph(content)
    except ExamError as refusal:
        return {"refused": type(refusal).__name__}
    pixels, jpeg = check_picture(kept), base64.b64encode(kept).decode()
    return {"jpeg": jpeg, "width": pixels.width, "height": pixels.height}


async def run() -> None:
    """Tell of each picture, one after the other."""
    for name, content in PICTURES.items():
        told = await became(base64.b64decode(content))
        sys.stdout.write(f"PICTURE {json.dumps({'name': name, **told})}\n")
    sys.stdout.write("DONE\n")


async def _connected(_: object) -> None:
    """Answer to the worker in the place of a page."""


def start() -> None:
    """Begin; the worker waits for nothing else."""
    import flet_js  # is there in the browser only

    flet_js.start_connection = _connected
    asyncio.get_event_loop().create_task(run())

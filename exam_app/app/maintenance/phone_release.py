"""Say which release of the app a phone runs, and that a newer one is ready.

Only the worker that answers for the page (``exam_app/phone/static/keeper.js``) knows
either. Where the files lie in the system's folders nothing is said: there an installer
brings the app, and says its version.
"""

import importlib
import json
import re
from dataclasses import dataclass

from exam_app.store.engine.files import Opener, OwnPlace

_PLACE = "/release"
_NUMBER = re.compile(r"[0-9a-f]{12}")
_NEWER = (
    "A newer release of the app is whole on this device. When no exam is in your "
    "hands, close the app in every window and open it again; exams stay."
)


@dataclass(frozen=True, slots=True)
class Release:
    """What answers for the page.

    Attributes:
        number: Twelve digits, as the build printed them.
        newer_waits: Whether another one was fetched whole and waits until the app is
            closed.
    """

    number: str
    newer_waits: bool


async def release_of(opener: Opener) -> Release | None:
    """Ask what answers for this page; None on a computer, or without an answer."""
    if not isinstance(opener, OwnPlace):
        return None
    try:
        answer = await importlib.import_module("js").fetch(_PLACE)
        return read_release(str(await answer.text()))
    except Exception:
        # It only informs: a browser that refuses it must not hold a screen back.
        return None


def read_release(text: str) -> Release | None:
    """Read an answer; None if it is not one."""
    try:
        told = json.loads(text)
    except ValueError:
        return None
    if not isinstance(told, dict):
        return None
    number = told.get("release")
    if not isinstance(number, str) or not _NUMBER.fullmatch(number):
        return None
    return Release(number, told.get("newer") is True)


def about_words(release: Release) -> str:
    """Name the release, and the newer one that waits."""
    newer = f" {_NEWER}" if release.newer_waits else ""
    return f"Release {release.number}, kept whole on this device.{newer}"


def newer_words(release: Release | None) -> str:
    """Say on the day list that a newer release waits; else empty."""
    return _NEWER if release is not None and release.newer_waits else ""

"""What a phone's page says of itself: its release, and how the browser keeps the exams.

Where the files lie in the system's folders nothing is said: there an installer brings
the app and says its version, and no browser can clear what is kept.

References:
    Storage Standard (WHATWG): a lasting ("persistent") bucket is cleared only when a
    person says so; any other may be cleared when room is short.
"""

import importlib
import json
import re
from dataclasses import dataclass

from exam_app.app.maintenance.stored_exams import Facts, size_words
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.engine.browser_files import answered
from exam_app.store.engine.files import Opener, OwnPlace, Room

_PLACE = "/release"
_NUMBER = re.compile(r"[0-9a-f]{12}")
_NEWER = to_translate(
    "A newer release of the app is whole on this device. When no exam is in your "
    "hands, close the app in every window and open it again; exams stay."
)
_LASTING = to_translate(
    "For good: this browser clears the exams only when somebody removes the app or "
    "clears its site data. A lost or broken phone takes them along all the same: hand "
    "over every day."
)
_WHAT_NEXT = to_translate(
    "Hand over every day, and back up. Then put the app on the home screen and open "
    "it from there; on some phones, iPhones among them, it begins empty there, so "
    "hand over first what is here."
)
_CLEARED = to_translate(
    "Not for good: this browser may clear the exams when the device is short of room "
    "or the app was not used for some days."
)
_UNKNOWN = to_translate("This browser does not say whether it may clear the exams.")
_DAY = to_translate(
    "The browser may clear what is kept only here: hand over today. "
    "More in the settings, The stored exams."
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
    """Ask what answers for the page; None on a computer, or without an answer.

    Only that worker knows (``exam_app/phone/static/keeper.js``).
    """
    if not isinstance(opener, OwnPlace):
        return None
    return await answered(_told_release())


async def _told_release() -> Release | None:
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
    kept = tr("Release {number}, kept whole on this device.", number=release.number)
    return f"{kept} {tr(_NEWER)}" if release.newer_waits else kept


def newer_words(release: Release | None) -> str:
    """Say on the day list that a newer release waits; else empty."""
    return tr(_NEWER) if release is not None and release.newer_waits else ""


async def room_of(opener: Opener) -> Room | None:
    """Ask the place of the files; None where they lie in the system's folders."""
    return await opener.room() if isinstance(opener, OwnPlace) else None


def room_facts(room: Room | None) -> Facts:
    """Say how the exams are kept and what room there is, as (label, text)."""
    if room is None:
        return ()
    return ((tr("How long they are kept"), kept_words(room)), *_room_left(room))


def kept_words(room: Room) -> str:
    """Say whether the browser keeps the exams, and what to do next."""
    if room.is_lasting:
        return tr(_LASTING)
    said = _UNKNOWN if room.is_lasting is None else _CLEARED
    return f"{tr(said)} {tr(_WHAT_NEXT)}"


def day_words(room: Room | None, only_here: int) -> str:
    """Warn on the day list; empty where nothing can be cleared.

    Args:
        room: The browser's answer.
        only_here: Exams, open or closed, that the clinic has not confirmed.
    """
    if room is None or room.is_lasting or not only_here:
        return ""
    return tr(_DAY)


def _room_left(room: Room) -> Facts:
    if room.used is None or room.most is None:
        return ()
    told = tr(
        "{taken} taken by the exams and the app itself; about {left} left, as it says.",
        taken=size_words(room.used),
        left=size_words(max(0, room.most - room.used)),
    )
    return ((tr("Room in this browser"), told),)

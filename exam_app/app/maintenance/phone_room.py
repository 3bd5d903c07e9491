"""What is said of how a phone's browser keeps the exams, and for how long.

Plain functions over the browser's own answers. Where the files lie in the system's
folders nothing is said: no browser can clear them.

References:
    Storage Standard (WHATWG): a lasting ("persistent") bucket is cleared only when a
    person says so; any other may be cleared when room is short.
"""

from exam_app.app.maintenance.store_care import Facts, size_words
from exam_app.store.engine.files import Opener, OwnPlace, Room

_LASTING = (
    "For good: this browser clears the exams only when somebody removes the app or "
    "clears its site data. A lost or broken phone takes them along all the same: hand "
    "over every day."
)
_WHAT_NEXT = (
    "Hand over every day, and back up. Then put the app on the home screen and open "
    "it from there; on some phones, iPhones among them, it begins empty there, so "
    "hand over first what is here."
)
_CLEARED = (
    "Not for good: this browser may clear the exams when the device is short of room "
    f"or the app was not used for some days. {_WHAT_NEXT}"
)
_UNKNOWN = f"This browser does not say whether it may clear the exams. {_WHAT_NEXT}"
_DAY = (
    "The browser may clear what is kept only here: hand over today. "
    "More in the settings, Look after the exams."
)


async def room_of(opener: Opener) -> Room | None:
    """Ask the place of the files; None where they lie in the system's folders."""
    return await opener.room() if isinstance(opener, OwnPlace) else None


def room_facts(room: Room | None) -> Facts:
    """Say how the exams are kept and what room there is, as (label, text)."""
    if room is None:
        return ()
    return (("How long they are kept", kept_words(room)), *_room_left(room))


def kept_words(room: Room) -> str:
    """Say whether the browser keeps the exams, and what to do next."""
    if room.is_lasting is None:
        return _UNKNOWN
    return _LASTING if room.is_lasting else _CLEARED


def day_words(room: Room | None, only_here: int) -> str:
    """Warn on the day list; empty where nothing can be cleared.

    Args:
        room: The browser's answer.
        only_here: Exams, open or closed, that the clinic has not confirmed.
    """
    if room is None or room.is_lasting or not only_here:
        return ""
    return _DAY


def _room_left(room: Room) -> Facts:
    if room.used is None or room.most is None:
        return ()
    left = size_words(max(0, room.most - room.used))
    taken = f"{size_words(room.used)} taken by the exams and the app itself"
    return (("Room in this browser", f"{taken}; about {left} left, as it says."),)

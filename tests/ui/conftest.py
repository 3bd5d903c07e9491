"""What screens know of the hands and the window is of the process, not of a test."""

from collections.abc import Iterator

import pytest

from exam_app.ui.widgets.hands import HANDS, Hands
from exam_app.ui.widgets.room import ROOM, Room


@pytest.fixture(autouse=True)
def usual_hands_and_room() -> Iterator[None]:
    """Begin each test with bare hands, no keys, a wide window and normal text."""
    _begin_anew()
    yield
    # A test of another folder may come next.
    _begin_anew()


def _begin_anew() -> None:
    for known, usual in ((HANDS, Hands()), (ROOM, Room())):
        for name in known.__slots__:
            setattr(known, name, getattr(usual, name))

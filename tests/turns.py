"""Which of the long tests, and of very many cases, a whole everyday run takes.

Each is in one of ``SHARE`` runs: which ones is told by the turn, a number that grows by
one a day, so that every case comes round. All of them run where files are named, and
with ``-m exhaustive``, which marks them and prints how many they are.
"""

import os
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from zlib import crc32

import pytest

SHARE = 6
DAY_SECONDS = 86_400
# More cases of one test function than these take turns.
MANY = 24
# Run in whole every time, whatever they take: what a source or a stored file says.
IN_WHOLE = ("in_whole", "reference", "vector", "browser", "benchmark")


def asked_turn() -> int:
    """Give the turn of a run: today's, or the one that EXAM_TURN names."""
    return int(os.environ.get("EXAM_TURN", time.time() // DAY_SECONDS))


def taking_turns(items: Iterable[pytest.Item]) -> Iterator[list[pytest.Item]]:
    """Yield what takes turns with one another: all that is long, and many cases."""
    long = []
    cases = defaultdict(list)
    for item in items:
        if any(map(item.get_closest_marker, IN_WHOLE)):
            continue
        if item.get_closest_marker("exhaustive"):
            continue
        if item.get_closest_marker("slow") or is_walk(item):
            long.append(item)
        else:
            cases[item.nodeid.partition("[")[0]].append(item)
    yield long
    yield from (group for group in cases.values() if len(group) > MANY)


def is_walk(item: pytest.Item) -> bool:
    """Whether it walks through screens in this process, beside those in a browser."""
    return Path(item.path).parent.name == "browser"


def have_turn(group: list[pytest.Item], turn: int) -> list[pytest.Item]:
    """Give the share of a group that a turn takes; each item is in one of ``SHARE``."""
    mixed = sorted(group, key=lambda item: (crc32(item.nodeid.encode()), item.nodeid))
    return [item for at, item in enumerate(mixed) if (at + turn) % SHARE == 0]


def mark(
    items: list[pytest.Item], turn: int | None, *, is_whole: bool
) -> set[pytest.Item]:
    """Mark as exhaustive what this run leaves to the exhaustive one.

    Args:
        items: All tests that were collected.
        turn: Which share is taken; None where nothing is left out.
        is_whole: Whether the exhaustive cases are asked for, and so all of these.

    Returns:
        All that takes turns, whether it has its turn or not.
    """
    all_of_them = set()
    for group in taking_turns(items):
        all_of_them.update(group)
        taken = set(group) if turn is None else set(have_turn(group, turn))
        for item in group:
            if is_whole or item not in taken:
                item.add_marker(pytest.mark.exhaustive)
    return all_of_them


def told(taken: int, total: int, turn: int | None) -> str:
    """Say how many a run took that takes turns."""
    if turn is None:
        return f"{taken} of {total} long tests and many cases"
    return (
        f"{taken} of {total} long tests and many cases: turn {turn} "
        f"(EXAM_TURN={turn} takes the same, -m exhaustive all)"
    )

"""What takes turns is lost in no run: each has its turn, and all are exhaustive."""

import os
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.turns import IN_WHOLE, MANY, SHARE, have_turn, mark, taking_turns, told

TURN = 20_000
EVERYDAY = "not exhaustive and not benchmark"
COUNTS = re.compile(r"(\d+) of (\d+) long tests and many cases: turn 20000 ")


class Item(SimpleNamespace):
    """A collected test with its marks, as pytest gives them."""

    def __init__(self, nodeid, *marks):
        super().__init__(nodeid=nodeid, marks=set(marks), path=Path("tests/test_x.py"))

    __hash__ = object.__hash__

    def get_closest_marker(self, name):
        return name if name in self.marks else None

    def add_marker(self, marker):
        self.marks.add(marker.name)


def items():
    """Some of each kind: long, many, few, and those that run in whole every time."""
    made = [Item(f"test_x.py::test_long_{n}", "slow") for n in range(9)]
    made += [Item(f"test_x.py::test_many[{n}]") for n in range(MANY + 1)]
    made += [Item(f"test_x.py::test_few[{n}]") for n in range(MANY)]
    for name in IN_WHOLE:
        made += [Item(f"test_x.py::test_{name}[{n}]", name) for n in range(MANY + 1)]
        made += [Item(f"test_x.py::test_long_{name}", "slow", name)]
    return made


def named(made):
    return {one.nodeid for one in made}


def left_out(made):
    return named(one for one in made if "exhaustive" in one.marks)


def test_each_has_its_turn_once_and_none_is_lost():
    for group in taking_turns(items()):
        turns = [named(have_turn(group, TURN + day)) for day in range(SHARE)]
        assert set.union(*turns) == named(group)
        assert sum(map(len, turns)) == len(group)


def test_a_turn_takes_the_same_whatever_the_order():
    (long, _) = taking_turns(items())
    assert named(have_turn(long, TURN)) == named(have_turn(long[::-1], TURN))


def test_an_everyday_run_leaves_out_what_is_long_or_many_alone():
    made = items()
    take_turns = mark(made, TURN, is_whole=False)
    assert len(take_turns) == 9 + MANY + 1
    out = left_out(made)
    assert out < named(take_turns)
    taken = len(take_turns) - len(out)
    assert len(take_turns) // SHARE <= taken <= len(take_turns) // SHARE + 2
    assert f"{taken} of {len(take_turns)}" in told(taken, len(take_turns), TURN)


def test_with_no_turn_nothing_is_left_out():
    made = items()
    mark(made, None, is_whole=False)
    assert left_out(made) == set()


def test_the_exhaustive_run_marks_all_of_them():
    made = items()
    take_turns = mark(made, None, is_whole=True)
    assert left_out(made) == named(take_turns)
    assert len(take_turns) == 9 + MANY + 1


def collected(marks, **environment):
    """Return the names that a whole run with such marks takes, and what it tells."""
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "--collect-only", "-q", "-n0", "-m", marks],
        cwd=Path(__file__).parents[1],
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=True,
    )
    lines = done.stdout.splitlines()
    said = [line for line in lines if "long tests and many cases" in line]
    return {line for line in lines if line.startswith("tests/")}, said


@pytest.mark.exhaustive
def test_every_test_of_this_checkout_is_in_one_of_the_two_runs():
    everyday, told_everyday = collected(EVERYDAY, EXAM_TURN=str(TURN))
    exhaustive, told_exhaustive = collected("exhaustive and not benchmark")
    all_of_them, _ = collected("not benchmark")
    assert everyday | exhaustive == all_of_them
    assert everyday < all_of_them
    (counts,) = map(COUNTS.match, told_everyday)
    taken, total = map(int, counts.groups())
    assert 0 < taken < total
    assert told_exhaustive == [f"{total} of {total} long tests and many cases"]
    print(
        f"{len(everyday)} every day, {len(exhaustive)} exhaustive, {taken} of {total}"
    )

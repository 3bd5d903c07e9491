"""A walk that had to be repeated is named, and too many of them fail the run."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.repeated_walks import are_too_many

ROOT = Path(__file__).resolve().parents[1]
WALKS = """
import pytest
tried = []

@pytest.mark.parametrize("number", range({walks}))
def test_walk(number):
    if number < {unsteady} and number not in tried:
        tried.append(number)
        raise AssertionError
"""


def run_walks(folder, walks, unsteady, *options):
    """Run so many walks in a pytest of their own, some failing at first."""
    (folder / "test_walks.py").write_text(WALKS.format(walks=walks, unsteady=unsteady))
    options = ("-q", "-p", "tests.repeated_walks", "-p", "no:cacheprovider", *options)
    return subprocess.run(
        [sys.executable, "-m", "pytest", *options, str(folder)],
        cwd=folder,
        env={"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_one_repeated_walk_of_fifty_is_named_in_the_last_line_and_passes(tmp_path):
    done = run_walks(tmp_path, 50, 1, "--reruns", "1")
    assert done.returncode == 0, done.stdout
    assert done.stdout.splitlines()[-1] == "REPEATED: test_walks.py::test_walk[0]"


def test_four_repeated_walks_of_fifty_fail_the_run_and_all_are_named(tmp_path):
    done = run_walks(tmp_path, 50, 4, "--reruns", "1")
    assert done.returncode == 1
    named = [line for line in done.stdout.splitlines() if line.startswith("REPEATED")]
    assert named == [f"REPEATED: test_walks.py::test_walk[{n}]" for n in range(4)]


def test_a_walk_that_fails_is_not_tried_again_unless_that_is_asked_for(tmp_path):
    done = run_walks(tmp_path, 50, 1)
    assert done.returncode == 1
    assert "REPEATED" not in done.stdout


@pytest.mark.parametrize(
    ("repeated", "walks", "too_many"),
    [(0, 0, False), (3, 25, False), (4, 25, True), (4, 200, False), (5, 200, True)],
)
def test_more_than_two_of_a_hundred_and_than_three_are_too_many(
    repeated, walks, too_many
):
    assert are_too_many(repeated, walks) is too_many

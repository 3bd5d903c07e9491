"""A walk that had to be repeated is named, and too many of them are a fault."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.repeated_walks import main

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


@pytest.mark.slow
def test_one_repeated_walk_of_fifty_is_named_in_the_last_line_and_passes(tmp_path):
    done = run_walks(tmp_path, 50, 1, "--reruns", "1")
    assert done.returncode == 0, done.stdout
    assert done.stdout.splitlines()[-1] == "REPEATED: test_walks.py::test_walk[0]"


@pytest.mark.slow
def test_a_walk_that_fails_is_not_tried_again_unless_that_is_asked_for(tmp_path):
    done = run_walks(tmp_path, 50, 1)
    assert done.returncode == 1
    assert "REPEATED" not in done.stdout


@pytest.mark.slow
def test_repeated_walks_of_every_part_are_counted_together(tmp_path, capsys):
    logs = []
    for part, unsteady in enumerate((1, 1)):
        folder = tmp_path / str(part)
        folder.mkdir()
        logs.append(folder / "log")
        done = run_walks(folder, 50, unsteady, "--reruns", "1")
        logs[-1].write_text(done.stdout)
    assert main([str(log) for log in logs]) == 0
    name = "test_walks.py::test_walk[0]"
    shown = f"2 of 100 walks were repeated\n  {name}\n  {name}\n"
    assert capsys.readouterr().out == shown


@pytest.mark.parametrize(
    ("repeated", "walks", "code"),
    [(0, 0, 1), (0, 25, 0), (1, 25, 1), (1, 50, 0), (3, 162, 0), (4, 162, 1)],
)
def test_more_than_two_of_a_hundred_are_too_many(tmp_path, repeated, walks, code):
    log = tmp_path / "log"
    lines = [f"REPEATED: walk {number}" for number in range(repeated)]
    log.write_text("\n".join([f"== 1 skipped, {walks} passed in 3 s ==", *lines]))
    assert main([str(log)]) == code

"""A demonstration leaves nothing behind, however it is asked to end."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from exam_app.cli.process import ended_by_signals
from tests.store_disks import seeded

ROOT = Path(__file__).resolve().parents[2]
APP = ROOT / "tests" / "browser" / "cheap_app.py"
SIGNALS = [signal.SIGTERM, getattr(signal, "SIGHUP", signal.SIGTERM)]

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="signals of a Unix system"
)


def start(place, *arguments):
    return subprocess.Popen(
        [sys.executable, str(APP), "--no-browser", *map(str, arguments)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(place)},
        preexec_fn=heed_signals,  # noqa: PLW1509 - no thread is alive here
    )


def heed_signals():
    """Take back what the tests' own parent ignores, as under ``nohup``."""
    for asked in SIGNALS:
        signal.signal(asked, signal.SIG_DFL)


def wait_for(app, beginning):
    for line in app.stdout:
        if line.startswith(beginning):
            return
    raise AssertionError(beginning)


def end(app, asked):
    app.send_signal(asked)
    code = app.wait(timeout=60)
    app.stdin.close()
    app.stdout.close()
    return code


# A closed terminal's signal is turned into the other one, so it passes both ways.
@pytest.mark.slow
@pytest.mark.parametrize(
    "asked", [pytest.param(SIGNALS[0], marks=pytest.mark.exhaustive), SIGNALS[1]]
)
def test_demonstration_asked_to_end_removes_its_folder(tmp_path, asked):
    app = start(tmp_path, "--demo")
    wait_for(app, "http://")
    assert [path.name[:10] for path in tmp_path.iterdir()] == ["exam-demo-"]
    assert end(app, asked) == 128 + signal.SIGTERM
    assert list(tmp_path.iterdir()) == []


@pytest.mark.exhaustive
def test_demonstration_asked_to_end_at_any_moment_removes_its_folder(tmp_path):
    rng, rounds = seeded(1), 30
    for turn in range(rounds):
        app = start(tmp_path, "--demo")
        while not any(tmp_path.iterdir()):
            assert app.poll() is None
        try:
            app.wait(timeout=rng.random() * 4)
        except subprocess.TimeoutExpired:
            end(app, SIGNALS[turn % 2])
        assert list(tmp_path.iterdir()) == []
    print(f"{rounds} demonstrations ended at random moments, 0 folders left")


def test_signal_that_is_ignored_stays_ignored():
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with ended_by_signals():
            assert signal.getsignal(signal.SIGHUP) is signal.SIG_IGN
            with pytest.raises(SystemExit) as ended:
                signal.raise_signal(signal.SIGTERM)
            assert ended.value.code == 143
        assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL
    finally:
        signal.signal(signal.SIGHUP, before)

"""The command line: its help, and its refusals with a next step."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from exam_app.__main__ import main
from exam_app.store.engine.files import FolderLock

ROOT = Path(__file__).resolve().parents[2]


def test_help_names_every_option_and_says_that_nothing_leaves(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    assert ended.value.code == 0
    shown = capsys.readouterr().out
    for option in ("--demo", "--data", "--port", "--window", "--no-browser"):
        assert re.search(rf"{option}\b", shown), option
    assert "nothing leaves" in " ".join(shown.split())


def test_taken_port_is_refused_with_a_next_step(tmp_path, capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        code = main(["--data", str(tmp_path), "--port", str(port), "--no-browser"])
    assert code == 1
    assert "--port" in capsys.readouterr().err


def test_folder_in_use_is_refused_with_a_next_step(tmp_path, capsys):
    lock = FolderLock(tmp_path)
    try:
        assert main(["--data", str(tmp_path), "--no-browser"]) == 1
    finally:
        lock.release()
    assert "another copy of the app" in capsys.readouterr().err


def test_folder_that_cannot_be_made_is_refused_with_a_next_step(tmp_path, capsys):
    (tmp_path / "file").write_text("in the way")
    assert main(["--data", str(tmp_path / "file" / "exams"), "--no-browser"]) == 1
    assert "--data" in capsys.readouterr().err


@pytest.mark.parametrize("port", ["70000", "-1", "http"])
def test_impossible_port_is_refused(port, capsys):
    with pytest.raises(SystemExit) as refused:
        main(["--port", port])
    assert refused.value.code == 2
    said = capsys.readouterr().err
    assert "1 to 65535" in said or "expected one argument" in said


def stand_in_browser(folder, code):
    """Put a program named chromium first on the path: it notes what it is asked.

    It also notes what the file it is given holds, and who may read it.
    """
    program = folder / "chromium"
    program.write_text(
        f"""#!/bin/sh
place=$(echo "$@" | sed 's/.*file:\\/\\/\\([^ ]*\\).*/\\1/')
cat "$place" > {folder}/page
stat -c %a "$place" "$(dirname "$place")" > {folder}/modes
echo "$@" > {folder}/asked.part && mv {folder}/asked.part {folder}/asked
exit {code}
"""
    )
    program.chmod(0o755)
    return {
        **os.environ,
        "PATH": f"{folder}{os.pathsep}{os.environ['PATH']}",
        "BROWSER": f"{program} %s",
    }


def check_link(folder):
    """Check that the link went by a private file and through no program's arguments."""
    asked = (folder / "asked").read_text()
    link = re.search(
        r"http://127\.0\.0\.1:\d+/\?t=[\w-]{43}", (folder / "page").read_text()
    )
    assert link, "the file does not lead to the page"
    assert "http" not in asked
    assert link[0].split("=")[1] not in asked
    assert (folder / "modes").read_text().split() == ["600", "700"]
    return asked


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
@pytest.mark.parametrize(("code", "answer"), [(0, 0), (3, 1)])
def test_closing_the_window_ends_the_app_and_a_failing_one_is_named(
    tmp_path, code, answer
):
    ended = subprocess.run(
        [sys.executable, "-m", "exam_app", "--window", "--data", str(tmp_path / "d")],
        cwd=ROOT,
        env=stand_in_browser(tmp_path, code),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ended.returncode == answer, ended.stderr
    asked = check_link(tmp_path)
    assert "--app=file://" in asked
    assert "--disable-background-networking" in asked
    assert ("without --window" in ended.stderr) is (code != 0)
    left = re.search(r"file://(\S+)", asked)[1]
    assert not Path(left).parent.exists()


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
def test_one_time_link_of_the_usual_browser_stands_on_no_process_list(tmp_path):
    with subprocess.Popen(
        [sys.executable, "-m", "exam_app", "--data", str(tmp_path / "d")],
        cwd=ROOT,
        env=stand_in_browser(tmp_path, 0),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as app:
        assert "opens in the browser" in app.stdout.readline()
        # Enter gives a link to type where the browser shows none.
        app.stdin.write("\n")
        app.stdin.flush()
        assert app.stdout.readline().startswith("http://127.0.0.1:")
        until = time.monotonic() + 30
        while not (tmp_path / "asked").exists() and time.monotonic() < until:
            time.sleep(0.05)
        asked = check_link(tmp_path)
        app.send_signal(signal.SIGINT)
        assert app.wait(timeout=20) in (0, -signal.SIGINT, 130)
    left = re.search(r"file://(\S+)", asked)[1]
    assert not Path(left).parent.exists()


def test_window_without_any_chromium_is_refused_with_a_next_step(
    tmp_path, capsys, monkeypatch
):
    monkeypatch.setenv("PATH", str(tmp_path))
    assert main(["--data", str(tmp_path / "d"), "--window"]) == 1
    assert "without --window" in capsys.readouterr().err

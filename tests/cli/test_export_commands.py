"""``export`` and the check of its folder, as they are run: stopped, gone on with."""

import asyncio
import io
import json
import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from exam_app.__main__ import Costs, main
from exam_app.app.signing import store_closed
from exam_app.cli import export
from exam_app.domain.animal.signalment import Owner
from exam_app.store.engine.files import open_file
from tests.handover_places import (
    BOUNDS,
    CHEAP,
    DOG,
    PASSPHRASE,
    animal,
    named_id,
    new_place,
    small_exam,
)
from tests.record_samples import closed_exam

COSTS = Costs(CHEAP, BOUNDS)
ROOT = Path(__file__).resolve().parents[2]
# As the command is run, with a store whose passphrase is cheap to try.
RUN = (
    "import sys\n"
    "from exam_app.__main__ import main\n"
    "from tests.cli.test_export_commands import COSTS\n"
    "code = main(sys.argv[1:], COSTS)\n"
    "status = open('/proc/self/status').read().split('VmHWM:')[1].split()[0]\n"
    "sys.stderr.write(f'peak {status}\\n')\n"
    "sys.exit(code)\n"
)


async def fill(folder, count=3):
    place = await new_place(folder, "Tablet", "field", is_demo=False, opener=open_file)
    exam = closed_exam(DOG.protocol, DOG.content_hash)
    with place.vault.transaction():
        for number in range(count):
            exam_id = named_id(f"exam {number}")
            store_closed(place.vault, replace(exam, exam_id=exam_id), DOG.protocol)
    place.close_exam(small_exam("owned", of=animal("Sorrel")), Owner("Ottilie Quandt"))
    place.vault.close()


@pytest.fixture
def data(tmp_path):
    asyncio.run(fill(tmp_path / "v"))
    return tmp_path / "v"


@pytest.fixture
def run(monkeypatch, capsys, data):
    def run(*arguments, typed=PASSPHRASE):
        monkeypatch.setattr(sys, "stdin", io.StringIO(f"{typed}\n"))
        code = main([*map(str, arguments), "--data", str(data)], COSTS)
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


def started(data, target, **more):
    command = [sys.executable, "-c", RUN, "export", str(target), "--data", str(data)]
    pipes = {"stdin": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    made = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, **pipes, **more)
    made.stdin.write(f"{PASSPHRASE}\n")
    made.stdin.flush()
    return made


@pytest.mark.slow
def test_an_export_is_verified_without_the_exams_by_the_key_that_was_printed(
    run, data, tmp_path
):
    code, out, _ = run("export", tmp_path / "out")
    assert code == 0
    assert "4 records in" in out
    assert "4 of them written now" in out
    key = out.split("to be kept elsewhere: ")[1].split()[0]
    for path in data.iterdir():
        path.unlink()
    # Nothing is asked for: there is no store any more.
    code, out, _ = run("verify", tmp_path / "out", "--key", key, typed="")
    assert (code, "verified. export, finished" in out) == (0, True)
    assert "4 records verified" in out
    (signed, *_) = sorted((tmp_path / "out").glob("records/*/*/record.cose"))
    code, out, _ = run("verify", signed, "--key", key, "--json", typed="")
    assert json.loads(out)["files"][0]["verified"] is True
    assert code == 0


@pytest.mark.slow
def test_without_a_key_from_elsewhere_nothing_is_called_verified(run, tmp_path):
    run("export", tmp_path / "out")
    code, out, _ = run("verify", tmp_path / "out")
    assert code == 4
    assert "NOT verified. Everything fits together" in out
    assert "give the one you know with --key" in out


@pytest.mark.slow
def test_a_tampered_folder_is_told_by_name(run, tmp_path):
    _, out, _ = run("export", tmp_path / "out")
    key = out.split("to be kept elsewhere: ")[1].split()[0]
    (text, *_) = sorted((tmp_path / "out").glob("records/*/*/record.txt"))
    text.write_text("nothing found")
    code, out, _ = run("verify", tmp_path / "out", "--key", key)
    assert code == 4
    assert f"{text.relative_to(tmp_path / 'out')} was changed." in out
    code, out, _ = run("export", tmp_path / "out")
    assert (code, "1 of them written now" in out) == (0, True)


@pytest.mark.slow
@pytest.mark.parametrize("key", ["", "xyz", "00" * 31])
def test_a_key_that_is_none_is_said(run, tmp_path, key):
    run("export", tmp_path / "out")
    code, out, _ = run("verify", tmp_path / "out", "--key", key)
    assert (code, "no hexadecimal text of 64 digits" in out) == (4, True)


@pytest.mark.slow
def test_owners_are_written_only_when_named(run, tmp_path):
    assert run("export", tmp_path / "out")[0] == 0
    assert not (tmp_path / "out" / "owners.csv").exists()
    assert run("export", tmp_path / "out", "--owners")[0] == 0
    assert "Quandt" in (tmp_path / "out" / "owners.csv").read_text("utf-8-sig")


def test_refusals_are_sentences(run, tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("mine")
    code, _, err = run("export", tmp_path / "mine")
    assert (code, "holds other files" in err) == (1, True)
    code, _, err = run("export", tmp_path / "mine" / "letter.txt")
    assert (code, "cannot be written or read" in err) == (1, True)
    code, out, _ = run("verify", tmp_path / "mine", "--key", "00" * 32)
    assert (code, "There is no export." in out) == (4, True)


@pytest.mark.slow
def test_only_its_owner_may_read_what_is_exported(run, tmp_path):
    run("export", tmp_path / "out")
    for path in (tmp_path / "out", *(tmp_path / "out").rglob("*")):
        assert path.stat().st_mode & 0o077 == 0, path


@pytest.mark.slow
def test_how_far_an_export_has_come_is_told_on_a_line_of_its_own(
    run, tmp_path, monkeypatch
):
    monkeypatch.setattr(export, "_SECONDS_BETWEEN", -1)
    _, _, err = run("export", tmp_path / "out")
    told = [line for line in err.splitlines() if " of 4 records" in line]
    assert told == [f"{n} of 4 records, {25 * n} %" for n in range(1, 5)]


@pytest.mark.slow
@pytest.mark.parametrize(
    "number",
    [
        signal.SIGINT,
        *(
            pytest.param(number, marks=pytest.mark.exhaustive)
            for number in (signal.SIGTERM, signal.SIGKILL)
        ),
    ],
)
def test_an_export_that_is_stopped_says_so_and_goes_on(tmp_path, number):
    asyncio.run(fill(tmp_path / "v", count=20))
    target = tmp_path / "out"
    made = started(tmp_path / "v", target)
    while len(list(target.glob("records/*/*/SHA256SUMS"))) < 3:
        assert made.poll() is None
    os.kill(made.pid, number)
    _, err = made.communicate(timeout=60)
    if number == signal.SIGINT:
        assert "Give the same command again to go on." in err
        assert made.returncode == 130
    else:
        assert made.returncode in (-number, 128 + number)
    there = len(list(target.glob("records/*/*/SHA256SUMS")))
    assert 3 <= there < 21
    out, err = started(tmp_path / "v", target).communicate(timeout=120)
    assert f"21 records in {target}, {21 - there} of them written now" in out


@pytest.mark.exhaustive
def test_memory_does_not_grow_with_what_is_exported(tmp_path):
    peaks = {}
    for count in (10, 90):
        data = tmp_path / f"v{count}"
        asyncio.run(fill(data, count=count))
        target = tmp_path / f"out{count}"
        made = started(data, target)
        _, err = made.communicate(timeout=240)
        assert made.returncode == 0, err
        peaks[count] = int(err.rpartition("peak ")[2])
        written = sum(p.stat().st_size for p in target.rglob("*") if p.is_file())
    # In kB. All that is written of 80 records is far more than what is allowed.
    assert written > 3 * 3_000_000
    assert peaks[90] - peaks[10] < 3_000

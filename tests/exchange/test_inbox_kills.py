"""The clinic's process killed while it imports, and two imports at once."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from exam_app.crypto import door
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import receive
from exam_app.store.engine.files import open_file
from tests.handover_places import (
    LATER,
    animal,
    open_place,
    paired_places,
    small_exam,
)
from tests.store_disks import seeded

ROOT = Path(__file__).resolve().parents[2]
POSIX = pytest.mark.skipif(os.name == "nt", reason="kills with a signal")
EXAMS = 3

# Every write is cut by the kill at each eighth, every flush is not reached by it.
KILLED_AT_EVERY_STEP = """
import asyncio, os, shutil, signal, sys
from pathlib import Path
from exam_app.crypto import door
from exam_app.exchange.exchange import Exchange
from exam_app.store.engine.files import LocalFile
from exam_app.exchange.inbox import receive
from tests.handover_places import LATER, open_place

folder, step = Path(sys.argv[1]), int(sys.argv[2])
sealed = [path.read_bytes() for path in sorted(folder.glob("*.exam-bundle"))]
write_at, flush = LocalFile.write_at, LocalFile.flush


CUTS = 8


def die_at(point):
    left, cut = [point // CUTS + 1], point % CUTS

    def cut_write(self, offset, content):
        left[0] -= 1
        if not left[0]:
            write_at(self, offset, bytes(content)[: len(content) * cut // CUTS])
            os.kill(os.getpid(), signal.SIGKILL)
        write_at(self, offset, content)

    def cut_flush(self):
        left[0] -= 1
        if not left[0]:
            os.kill(os.getpid(), signal.SIGKILL)
        flush(self)

    LocalFile.write_at, LocalFile.flush = cut_write, cut_flush


def import_all(place, point, told):
    clinic = asyncio.run(open_place(place, "Clinic"))
    die_at(point)
    for one in sealed:
        received = receive(one, clinic.exchange, LATER)
        os.write(told, received.receipt.hex().encode() + b"\\n")
    clinic.vault.close()


def check(place, told):
    clinic = asyncio.run(open_place(place, "Clinic"))
    incoming = Exchange(clinic.vault).incoming
    kept = clinic.hashes()
    assert len(kept) == len(set(kept)), "double"
    whole = 0
    for number, one in enumerate(sealed):
        bundle_hash = door.sha256(one).hex()
        receipt, entry = incoming.receipt(bundle_hash), incoming.get(bundle_hash)
        if receipt is None:
            assert number >= len(told), "a receipt was given out and is not kept"
            continue
        assert set(entry.outcomes) <= set(kept), "a receipt without its records"
        whole += len(entry.outcomes)
        if number < len(told):
            assert told[number] == receipt.hex(), "another receipt"
    assert whole == len(kept), "a record without its receipt"
    for one in sealed:
        receive(one, clinic.exchange, LATER)
    kept = clinic.hashes()
    assert len(kept) == len(set(kept)) == int(sys.argv[3]), "missing or double"
    clinic.vault.close()


points = 0
for point in range(0, 10_000, step):
    place = folder / f"at {point}"
    shutil.copytree(folder / "clinic", place)
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        os.close(reading)
        import_all(place, point, writing)
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        told = [line.strip() for line in pipe if line.endswith("\\n")]
    _, status = os.waitpid(child, 0)
    check(place, told)
    shutil.rmtree(place)
    if not os.WIFSIGNALED(status):
        assert status == 0
        break
    points += 1
print(points)
"""

IMPORT_ON = """
import asyncio, sys
from pathlib import Path
from exam_app.exchange.inbox import receive
from exam_app.protocols.loader import available, load_protocol
from tests.handover_places import LATER, open_place

folder = Path(sys.argv[1])
clinic = asyncio.run(open_place(folder / "clinic", "Clinic"))
# Read at the first bundle otherwise: every kill came before anything was stored.
for species in available():
    load_protocol(species)
print("ready", flush=True)
for path in sorted(folder.glob("*.exam-bundle")):
    receive(path.read_bytes(), clinic.exchange, LATER)
    print(path.name, flush=True)
"""


def run(script, *arguments):
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


async def bundles_in(folder, count):
    """Make a closed clinic and so many sealed bundles of three exams in files."""
    async with paired_places(folder, opener=open_file) as (clinic, tablet):
        for number in range(count):
            names = [f"exam {number} {n}" for n in range(EXAMS)]
            (bundle,) = tablet.hand_over(
                *[tablet.close_exam(small_exam(name)) for name in names]
            )
            (folder / f"{number:03}.exam-bundle").write_bytes(bundle.sealed)
        clinic.vault.close()


async def kill_at_every_step(folder, step):
    await bundles_in(folder, 3)
    process = run(KILLED_AT_EVERY_STEP, folder, step, 3 * EXAMS)
    out, err = process.communicate(timeout=600)
    assert (process.returncode, err) == (0, "")
    return int(out)


@pytest.mark.slow
@POSIX
async def test_a_clinic_killed_while_importing_keeps_all_or_nothing(tmp_path):
    assert await kill_at_every_step(tmp_path, 17) >= 3


@POSIX
@pytest.mark.exhaustive
async def test_a_clinic_killed_at_every_write_and_flush(tmp_path):
    points = await kill_at_every_step(tmp_path, 1)
    print(f"killed at {points} points of an import: 0 missing, 0 double")
    assert points >= 48


@POSIX
@pytest.mark.exhaustive
async def test_a_clinic_killed_at_random_moments(tmp_path):
    await bundles_in(tmp_path, 20)
    rng, told, rounds = seeded(5), set(), 0
    while len(told) < 20 and rounds < 30:
        process = run(IMPORT_ON, tmp_path)
        assert process.stdout.readline() == "ready\n"
        time.sleep(rng.random() * 0.12)
        os.kill(process.pid, signal.SIGKILL)
        out, err = process.stdout.read(), process.stderr.read()
        process.communicate(timeout=60)
        assert err == ""
        told |= {line for line in out.splitlines(keepends=True) if line.endswith("\n")}
        clinic = await open_place(tmp_path / "clinic", "Clinic")
        kept = clinic.hashes()
        assert len(kept) == len(set(kept))
        assert len(kept) % EXAMS == 0
        for line in told:
            sealed = (tmp_path / line.strip()).read_bytes()
            bundle = Exchange(clinic.vault).incoming.get(door.sha256(sealed).hex())
            assert set(bundle.outcomes) <= set(kept)
        clinic.vault.close()
        rounds += 1
    assert told
    print(f"{rounds} kills, {len(told)} receipts, 0 missing, 0 double")


async def test_two_imports_at_once_leave_one_copy(tmp_path):
    async with paired_places(tmp_path) as (clinic, tablet):
        exams = [small_exam(f"exam {n}") for n in range(4)]
        sealed = [
            tablet.seal_exams(clinic, *exams, sequence=1),
            tablet.seal_exams(clinic, *exams, sequence=2),
        ]
        started, answers = threading.Barrier(4), []

        def work(one):
            started.wait()
            answers.append(receive(one, clinic.exchange, LATER))

        threads = [threading.Thread(target=work, args=(one,)) for one in sealed * 2]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len(answers) == 4
        assert len(clinic.hashes()) == 4
        assert len(Exchange(clinic.vault).incoming.latest(9)) == 2
        assert len({answer.receipt for answer in answers}) == 2


RECEIVE_BESIDE = """
import io, sys
from exam_app.__main__ import Costs, main
from tests.handover_places import BOUNDS, CHEAP, PASSPHRASE

sys.stdin = io.StringIO(PASSPHRASE + "\\n")
sys.exit(main(["receive", *sys.argv[2:], "--data", sys.argv[1]], Costs(CHEAP, BOUNDS)))
"""


@pytest.mark.exhaustive
async def test_two_programs_at_once_leave_one_copy(tmp_path):
    async with paired_places(tmp_path, opener=open_file, is_demo=False) as (
        clinic,
        tablet,
    ):
        real = small_exam("one", of=animal(is_demo=False))
        sealed = tablet.seal_exams(clinic, real)
        path = tmp_path / "one.exam-bundle"
        path.write_bytes(sealed)
        clinic.vault.close()
        both = [run(RECEIVE_BESIDE, tmp_path / "clinic", path) for _ in range(2)]
        codes = []
        for process in both:
            _, err = process.communicate(timeout=120)
            assert err == ""
            codes.append(process.returncode)
        assert set(codes) <= {0, 3}
        last = run(RECEIVE_BESIDE, tmp_path / "clinic", path)
        assert last.wait(timeout=120) == 0
        last.communicate()
        again = await open_place(tmp_path / "clinic", "Clinic", is_demo=False)
        assert again.hashes() == [door.sha256(tablet.sign(real)).hex()]
        assert not list((tmp_path / "clinic").glob("spool/*.exam-bundle"))
        again.vault.close()

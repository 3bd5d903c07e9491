"""What a whole export of a large clinic takes: time, memory, room on the disk.

Asked for by name: ``pytest -m benchmark tests/benchmarks/test_export_benchmark.py -s``.
The export runs in a process of its own, so that filling the store counts nowhere.
``EXPORTED`` names how many records; three are of one animal.
"""

import asyncio
import json
import os
import random
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from exam_app.store.engine.files import open_file
from tests.benchmarks.test_inbox_benchmark import DIFFERENT, renamed
from tests.handover_places import DOG, new_place
from tests.sync_samples import closed_exam

pytestmark = pytest.mark.benchmark
ROOT = Path(__file__).resolve().parents[2]
COUNT = int(os.environ.get("EXPORTED", "10000"))
OF_ONE_ANIMAL = 3
_SCRIPT = """
import asyncio, json, sys, time
from pathlib import Path
from exam_app.whole_export.exporting import export_all
from tests.handover_places import LATER, open_place

def megabytes():
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6

async def run():
    place = await open_place(Path(sys.argv[1]), "Clinic", is_demo=True)
    steps, began, ran = [], time.perf_counter(), time.process_time()
    said = {"before": megabytes()}
    def tell(found):
        if found.done % max(found.total // 4, 1) == 0:
            steps.append((found.done, round(megabytes())))
    found = await export_all(place.vault, Path(sys.argv[2]), LATER, None, tell)
    said["seconds"] = time.perf_counter() - began
    said["core"] = time.process_time() - ran
    said["written"], said["memory"], said["after"] = found.written, steps, megabytes()
    print(json.dumps(said))

asyncio.run(run())
"""


async def filled(folder):
    place = await new_place(folder, "Clinic", "clinic", opener=open_file)
    stream = random.Random(17)
    typical = [closed_exam(DOG, n, n % 25) for n in range(DIFFERENT)]
    animal = None
    for number in range(COUNT):
        exam = renamed(stream.choice(typical), stream)
        if number % OF_ONE_ANIMAL:
            exam = replace(exam, animal=animal)
        animal = exam.animal
        place.close_exam(exam)
    place.vault.close()


def run(vault, target):
    command = [sys.executable, "-c", _SCRIPT, str(vault), str(target)]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    return json.loads(done.stdout)


def test_a_whole_export_and_the_same_again(tmp_path, capsys):
    asyncio.run(filled(tmp_path / "v"))
    first = run(tmp_path / "v", tmp_path / "out")
    again = run(tmp_path / "v", tmp_path / "out")
    assert (first["written"], again["written"]) == (COUNT, 0)
    size = sum(one.stat().st_size for one in (tmp_path / "out").rglob("*.*"))
    sheets = [one.stat().st_size for one in (tmp_path / "out").rglob("*.pdf")]
    assert len(sheets) == COUNT
    with capsys.disabled():
        print(f"\n{COUNT} records, {size / 1e6:.0f} MB, kB a record:")
        printed = sum(sheets) / COUNT / 1e3
        print(f"{size / COUNT / 1e3:.1f}, of it {printed:.1f} printed")
        for name, said in (("first", first), ("again", again)):
            each = said["core"] / COUNT * 1000
            print(
                f"{name}: {said['seconds']:.0f} s, {said['core']:.0f} s of a core, "
                f"{each:.1f} ms a record; memory {said['before']:.0f} MB before, "
                f"{said['memory']} on the way, {said['after']:.0f} MB after"
            )

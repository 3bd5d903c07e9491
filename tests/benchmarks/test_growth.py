"""What each act costs as a store grows, with the exponent of its growth.

Asked for by name: ``pytest -m benchmark tests/benchmarks/test_growth.py -s``. An
exponent of 0 is flat, 1 grows with the store. Steps that read everything grow with it;
what counts there is how long the event loop waits while they run as the app runs them.
All in time of the processor, which other programs lengthen little; a save by the clock
too, since it waits for the disk.

``GROWTH`` names the sizes, ``GROWTH_KEPT`` a file that keeps what was measured: sizes
can be measured one after the other, and the table then shows all of them.
"""

import asyncio
import json
import math
import os
import random
import statistics
import time
from functools import partial
from pathlib import Path

import pytest

from exam_app.exchange.inbox import receive
from exam_app.store.engine.files import open_file
from exam_app.store.engine.read_files import MemoryPart
from tests.benchmarks import test_store_benchmark as by_clock
from tests.benchmarks.store_rivals import OPEN_COUNT, WAITING, Sealed, draft_of
from tests.benchmarks.test_inbox_benchmark import (
    A_DAY,
    DIFFERENT,
    bundle_of,
    fill,
    floor_of,
    renamed,
)
from tests.benchmarks.test_store_benchmark import (
    bytes_written,
    forget_pages,
)
from tests.handover_places import DOG, NOW, paired_places
from tests.sync_samples import closed_exam

pytestmark = pytest.mark.benchmark
SIZES = [int(size) for size in os.environ.get("GROWTH", "1000 10000 100000").split()]
KEPT = os.environ.get("GROWTH_KEPT")
SAVES, DAYS = 100, 20


# By the processor's time: others may work on the machine as well.
milliseconds = partial(by_clock.milliseconds, clock=time.process_time)
middle = partial(by_clock.middle, clock=time.process_time)
first_of = partial(by_clock.first_of, clock=time.process_time)


def each_of(read, count, times):
    """Read different ones; the mean, since some read a whole part for others."""
    numbers = random.Random(5).sample(range(count), min(times, count))
    return statistics.mean(milliseconds(lambda n=n: read(n)) for n in numbers)


def opening(store):
    forget_pages(store.folder)
    spent = milliseconds(lambda: (store.open(), store.latest(50)))
    store.close()
    return spent


def saves(store):
    before, times, clock = bytes_written(), [], []
    for turn in range(SAVES):
        number = turn % OPEN_COUNT
        draft = draft_of(number, turn)
        at = time.perf_counter()
        times.append(milliseconds(lambda n=number, d=draft: store.autosave(n, d)))
        clock.append((time.perf_counter() - at) * 1000)
    written = (bytes_written() - before) / SAVES / 1000
    return statistics.median(times), statistics.median(clock), written


async def longest_wait(work):
    """Run a step in a thread, as the app does; the longest wait of the loop, in ms.

    In time of the processor: what the step takes between two turns of the loop, however
    busy other programs are.
    """
    longest, is_done = 0.0, asyncio.create_task(asyncio.to_thread(work))
    while not is_done.done():
        start = time.process_time()
        await asyncio.sleep(0.001)
        longest = max(longest, (time.process_time() - start) * 1000)
    await is_done
    return longest


def measured(store, size):
    found = {
        "cold open, latest 50": statistics.median(opening(store) for _ in range(7))
    }
    store.open()
    found["first name search"] = first_of(store, lambda: store.search("vetch 4"))
    rare = f"vetch {size // 3}"
    found["first rare search"] = first_of(store, lambda: store.search(rare))
    found["first not handed over"] = first_of(store, store.not_handed_over)
    assert len(store.not_handed_over()) == WAITING
    found["latest 50"] = middle(lambda: store.latest(50), 9)
    found["one animal's records"] = each_of(store.of_animal, size // 2, 100)
    found["get one"] = each_of(store.get, size, 100)
    found["first count"] = first_of(store, store.count)
    found["autosave"], found["autosave by the clock"], found["kB a save"] = saves(store)
    found["open after 100 saves"] = reopened(store)
    for name, work in (
        ("backup", lambda: store.vault.back_up(MemoryPart())),
        ("check", store.audit),
        ("writing anew", store.compact),
    ):
        found[name] = milliseconds(work)
        found[f"{name}: loop waits"] = asyncio.run(longest_wait(work))
    store.vault._storage.journal()._frames = 10_000
    assert store.vault.is_due()
    begun = time.process_time()
    found["lock when due: loop waits"] = asyncio.run(longest_wait(store.close))
    found["lock when due"] = (time.process_time() - begun) * 1000
    # What a thread that only counts makes the loop wait: the floor of these waits.
    found["floor of a loop's wait"] = asyncio.run(longest_wait(only_count))
    return found


def only_count():
    total, begun = 0, time.perf_counter()
    while time.perf_counter() - begun < 2:
        total += 1


def reopened(store):
    store.close()
    return milliseconds(lambda: (store.open(), store.latest(50)))


async def import_of_days(size, folder):
    """Take days of exams into a clinic that keeps so many; medians, in ms."""
    folder.mkdir()
    stream = random.Random(12)
    typical = [closed_exam(DOG, n, n % A_DAY) for n in range(DIFFERENT)]
    spent, floors = [], []
    async with paired_places(folder, opener=open_file) as (clinic, tablet):
        fill(clinic, tablet, size, typical[0], stream)
        with (folder / "floor").open("wb") as file:
            for day in range(DAYS + 1):
                exams = [renamed(stream.choice(typical), stream) for _ in range(A_DAY)]
                number = size // A_DAY + day + 1
                made = bundle_of(clinic, tablet, exams, number, stream)
                start = time.process_time()
                receive(made[0], clinic.exchange, NOW)
                spent.append((time.process_time() - start) * 1000)
                floors.append(floor_of(tablet, *made, file) * 1000)
    return {
        "import: the first 25 exams": spent[0],
        "import: 25 exams": statistics.median(spent[1:]),
        "import: its floor": statistics.median(floors),
    }


def exponent(sizes, values):
    """The slope of cost over size, both in logarithms, from the first to the last."""
    if len(values) < 2:
        return 0.0
    return math.log(values[-1] / values[0]) / math.log(sizes[-1] / sizes[0])


def kept_before():
    if KEPT and Path(KEPT).exists():
        return {
            int(size): found
            for size, found in json.loads(Path(KEPT).read_text()).items()
        }
    return {}


def test_cost_of_each_act_as_the_store_grows(tmp_path, capsys):
    columns = kept_before()
    for size in SIZES:
        store = Sealed(tmp_path / f"{size}")
        store.fill(size)
        store.open()
        store.close()
        found = measured(store, size)
        taken_in = asyncio.run(import_of_days(size, tmp_path / f"clinic-{size}"))
        columns[size] = {**found, **taken_in}
        if KEPT:
            Path(KEPT).write_text(json.dumps(columns))
    with capsys.disabled():
        show(dict(sorted(columns.items())))


def show(columns):
    sizes = [*columns]
    print(f"\n| ms | {' | '.join(map(str, sizes))} | exponent |")
    print("|---" * (len(sizes) + 2) + "|")
    for row in columns[sizes[0]]:
        values = [max(column[row], 1e-6) for column in columns.values()]
        cells = " | ".join(f"{value:.2f}" for value in values)
        print(f"| {row} | {cells} | {exponent(sizes, values):.2f} |")

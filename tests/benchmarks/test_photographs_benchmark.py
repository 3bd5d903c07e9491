"""What 2 000 photographs cost an opening and an autosave: nothing that can be measured.

Asked for by name: ``pytest -m benchmark tests/benchmarks/test_photographs_benchmark.py
-s``. Two stores with the same exams, one of them with photographs, are measured in
turns in the same run, so that both meet the same machine; the goal is a ratio of 1
within 5 %.
"""

import os
import statistics
import time

import pytest

from tests.benchmarks.store_rivals import OPEN_COUNT, Sealed, draft_of
from tests.benchmarks.test_store_benchmark import milliseconds
from tests.pictures import picture

pytestmark = pytest.mark.benchmark
EXAMS = int(os.environ.get("EXAMS", "2000"))
PHOTOGRAPHS = int(os.environ.get("PHOTOGRAPHS", "2000"))
BYTES = int(os.environ.get("PHOTOGRAPH_BYTES", "60000"))
OPENINGS, SAVES = 201, 1_200


def filled(folder, photographs):
    store = Sealed(folder)
    store.fill(EXAMS)
    store.open()
    for number in range(photographs):
        content = picture(number, BYTES)
        store.vault.photographs.add(f"{number % EXAMS:032x}", content)
    store.compact()
    store.close()
    return store


def opening(store, _turn):
    spent = both(lambda: (store.open(), store.latest(50)))
    store.close()
    return spent


def saving(store, turn):
    number = turn % OPEN_COUNT
    draft = draft_of(number, turn)
    return both(lambda: store.autosave(number, draft))


def both(action):
    """Time an action: by the clock, and of the processor, which others disturb less."""
    start, spent = time.perf_counter(), time.process_time()
    action()
    taken = time.process_time() - spent
    return (time.perf_counter() - start) * 1000, taken * 1000


def in_turns(stores, times, measure):
    """Measure both by turns, each first in every second one.

    Returns:
        Of each store by name: the median and the lower quartile by the clock, which a
        busy machine disturbs less, and the median of the processor.
    """
    found = ([], [])
    for turn in range(times):
        for place in (0, 1) if turn % 2 else (1, 0):
            found[place].append(measure(stores[place], turn))
    return [_middles(*zip(*one, strict=True)) for one in found]


def _middles(clock, cpu):
    return {
        "clock": statistics.median(clock),
        "clock, lower quartile": statistics.quantiles(clock, n=4)[0],
        "processor": statistics.median(cpu),
    }


def test_photographs_cost_neither_an_opening_nor_a_save(tmp_path):
    stores = filled(tmp_path / "without", 0), filled(tmp_path / "with", PHOTOGRAPHS)
    rows = {"opening, latest 50": in_turns(stores, OPENINGS, opening)}
    for store in stores:
        store.open()
    rows["autosave"] = in_turns(stores, SAVES, saving)
    photographs = stores[1].vault.photographs
    key = photographs.rows()[-1].sha256
    shown = statistics.median(
        milliseconds(lambda: photographs.get(key)) for _ in range(50)
    )
    sizes = [sum(p.stat().st_size for p in s.folder.glob("vault.*")) for s in stores]
    kept = photographs.space()
    for store in stores:
        store.close()
    print(f"\n{EXAMS} exams; {kept.count} photographs, {kept.used / 1e6:.0f} MB")
    for name, (without, with_them) in rows.items():
        for way, first in without.items():
            times = f"{first:8.2f} {with_them[way]:8.2f} ms"
            print(f"{name:20} {way:22} {times}  ratio {with_them[way] / first:.3f}")
    print(f"vault.* {sizes[0]} and {sizes[1]} bytes; one takes {shown:.2f} ms")
    assert kept.count == PHOTOGRAPHS

"""The sealed store beside SQLCipher, SQLite and TinyDB's JSON file, in one run.

Asked for by name: ``pytest -m benchmark tests/benchmarks/test_store_benchmark.py -s``.
Times of one machine mean little; the ratios to SQLCipher in the same run are the
result. Saves and openings of the rivals are interleaved, so that a busy moment hits
all alike. Openings: the sealed store's include its lock, its head and a derivation
that costs almost nothing; "cold" has all files dropped from the system's memory. What
is read is another one each time. "Floor" is what the machine cannot go below: as many
bytes appended and flushed; the files opened, and the head and one part of the index
read; the searched texts read and looked through; one sealed record read and unsealed.
"""

import os
import random
import shutil
import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from tests.benchmarks.store_rivals import (
    OPEN_COUNT,
    WAITING,
    PlainTinyDb,
    Sealed,
    SqlCipher,
    Sqlite,
    draft_of,
    sqlcipher,
)

pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(
        sqlcipher is None,
        reason="SQLCipher is not installed: pip install 'exam-app[benchmark]'",
    ),
]
SIZES = [1_000, 10_000, 50_000]
SAVES = 200
ROWS = (
    ("save p50", "ms"),
    ("save p99", "ms"),
    ("bytes per save", "kB"),
    ("cold open, latest 50", "ms"),
    ("warm open, latest 50", "ms"),
    ("get one", "ms"),
    ("open exams", "ms"),
    ("latest 50", "ms"),
    ("first name search", "ms"),
    ("name search", "ms"),
    ("first not handed over", "ms"),
    ("not handed over", "ms"),
    ("one animal's records", "ms"),
    ("first count", "ms"),
    ("count", "ms"),
    ("all animals", "ms"),
    ("size", "MB"),
    ("memory", "MB"),
)


def bytes_written():
    """Bytes that this process gave to write calls, by the kernel's count (Linux)."""
    for line in Path("/proc/self/io").read_text().splitlines():
        if line.startswith("wchar:"):
            return int(line.split()[1])
    raise AssertionError


def milliseconds(action, clock=time.perf_counter):
    start = clock()
    action()
    return (clock() - start) * 1000


def middle(action, times, clock=time.perf_counter):
    return statistics.median(milliseconds(action, clock) for _ in range(times))


def forget_pages(folder):
    """Drop the files from the system's memory, so that they come from the disk."""
    for path in folder.iterdir():
        descriptor = os.open(path, os.O_RDONLY)
        os.fsync(descriptor)
        os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
        os.close(descriptor)


def opening_times(stores, folders):
    """Open by turns, cold and warm; the median of each store."""
    found = {(store.label, way): [] for store in stores for way in ("cold", "warm")}
    for turn in range(15):
        for store in stores:
            if isinstance(store, PlainTinyDb) and turn > 2:
                continue
            for way in ("cold", "warm"):
                if way == "cold":
                    forget_pages(folders[type(store)])
                found[store.label, way].append(milliseconds(lambda s=store: first(s)))
                store.close()
    return {key: statistics.median(times) for key, times in found.items()}


def first(store):
    store.open()
    assert len(store.latest(50)) == 50


def measure_saves(stores):
    """Save by turns; give times and bytes for each store."""
    times = {store.label: [] for store in stores}
    written = dict.fromkeys(times, 0)
    for turn in range(1, SAVES + 1):
        for store in stores:
            if isinstance(store, PlainTinyDb) and turn > 3:
                continue
            number = turn % OPEN_COUNT
            draft = draft_of(number, turn)
            before = bytes_written()
            spent = milliseconds(lambda s=store, n=number, d=draft: s.autosave(n, d))
            written[store.label] += bytes_written() - before
            times[store.label].append(spent)
    return times, written


MEMORY = """
import sys
from pathlib import Path
from tests.benchmarks import store_rivals
def resident():
    text = Path("/proc/self/status").read_text()
    return int(text.split("VmRSS:")[1].split()[0]) / 1024
store = getattr(store_rivals, sys.argv[1])(Path(sys.argv[2]))
small = getattr(store_rivals, sys.argv[1])(Path(sys.argv[2] + "-small"))
small.fill(60)
small.open(); small.latest(50); small.search("bella")
before = resident()
store.open(); store.latest(50); store.search("bella")
print(resident() - before)
"""


def memory(store, folder):
    command = [sys.executable, "-c", MEMORY, type(store).__name__, str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return float(done.stdout)


def first_of(store, act, clock=time.perf_counter):
    """Do something first after an opening, five times; the median."""
    times = []
    for _ in range(5 if not isinstance(store, PlainTinyDb) else 1):
        store.close()
        store.open()
        times.append(milliseconds(act, clock))
    return statistics.median(times)


def measure(store, size, times, written):
    quick = not isinstance(store, PlainTinyDb)
    saves = sorted(times)
    found = {
        "save p50": statistics.median(saves),
        "save p99": saves[int(len(saves) * 0.99)],
        "bytes per save": written / len(saves) / 1000,
        "first not handed over": first_of(store, store.not_handed_over),
        "not handed over": middle(store.not_handed_over, 20 if quick else 2),
        "get one": each_of(store.get, size, 200 if quick else 2),
        "one animal's records": each_of(
            store.of_animal, size // 2, 100 if quick else 2
        ),
        "first count": first_of(store, store.count),
        "count": middle(store.count, 20 if quick else 2),
        "all animals": middle(store.every_animal, 3 if quick else 1),
        "open exams": middle(store.open_exams, 30 if quick else 2),
        "latest 50": middle(lambda: store.latest(50), 30 if quick else 2),
        "first name search": first_of(store, lambda: store.search("vetch 4")),
        "name search": middle(lambda: store.search("corrin 4"), 40 if quick else 2),
    }
    assert store.search("corrin 4")
    assert len(store.not_handed_over()) == WAITING
    assert store.count() == size
    return found


def each_of(read, count, times):
    """Read different ones; the mean, since some read a whole part for others."""
    numbers = random.Random(5).sample(range(count), min(times, count))
    return statistics.mean(milliseconds(lambda n=n: read(n)) for n in numbers)


def floors(folder, size, written):
    """What the machine itself needs for the least that each row has to do."""
    path = folder / "floor"
    path.write_bytes(b"demo bella 417 99900000417 demo owner 417 bella4179990\n" * size)
    record, key = os.urandom(1800), AESGCM(bytes(32))
    sealed = key.encrypt(bytes(12), record, b"")
    found = {row: 0.0 for row, _ in ROWS}
    with path.open("r+b", buffering=0) as file:

        def look():
            file.seek(0)
            return file.read().find(b"none of these")

        def append():
            file.seek(0, os.SEEK_END)
            file.write(os.urandom(written))
            os.fsync(file.fileno())

        found["first name search"] = found["name search"] = middle(look, 20)
        found["save p50"] = middle(append, SAVES)

        def read():
            file.seek(0)
            return file.read(1800), key.decrypt(bytes(12), sealed, b"")

        found["get one"] = middle(read, 200)
    found["bytes per save"] = written / 1000

    def open_all():
        for name in ("head", "a", "b", "reserve"):
            with (folder / f"vault.{name}").open("rb", buffering=0) as one:
                one.seek(-min(150_000, one.seek(0, os.SEEK_END)), os.SEEK_END)
                one.read(150_000)

    found["warm open, latest 50"] = middle(open_all, 15)
    cold = []
    for _ in range(15):
        forget_pages(folder)
        cold.append(milliseconds(open_all))
    found["cold open, latest 50"] = statistics.median(cold)
    return found


def show(size, results):
    base = results[SqlCipher.label]
    lines = [f"\n{size} exams; in brackets the ratio to SQLCipher"]
    lines.append(f"{'':24}" + "".join(f"{label:>26}" for label in results))
    for row, unit in ROWS:
        cells = "".join(
            f"{found[row]:>14.3f} {unit} [{found[row] / max(base[row], 1e-9):7.2f}]"
            for found in results.values()
        )
        lines.append(f"{row:24}{cells}")
    print("\n".join(lines), flush=True)


@pytest.mark.parametrize("size", SIZES)
def test_sealed_store_beside_its_rivals(size, tmp_path, capsys):
    kinds = (Sealed, SqlCipher, Sqlite, PlainTinyDb)
    folders = {kind: tmp_path / kind.__name__ for kind in kinds}
    stores = [kind(folders[kind]) for kind in kinds]
    for store in stores:
        store.fill(size)
        # The first closing of a large store makes its lists.
        store.open()
        store.close()
    opened = opening_times(stores, folders)
    sizes = {s.label: folder_size(folders[type(s)]) for s in stores}
    used = {s.label: memory(s, folders[type(s)]) for s in stores}
    for store in stores:
        store.open()
    times, written = measure_saves(stores)
    results = {}
    for store in stores:
        label = store.label
        results[label] = measure(store, size, times[label], written[label])
        results[label]["cold open, latest 50"] = opened[label, "cold"]
        results[label]["warm open, latest 50"] = opened[label, "warm"]
        results[label]["size"] = sizes[label]
        results[label]["memory"] = used[label]
    sealed = stores[0]
    written = int(1000 * results[Sealed.label]["bytes per save"])
    results["floor"] = floors(folders[Sealed], size, written)
    with capsys.disabled():
        show(size, results)
        print(f"reopening with {SAVES} more saves: {reopening(sealed):.1f} ms")
        sealed.open()
        print(f"writing anew: {milliseconds(sealed.compact):.0f} ms")
        print(f"full audit: {milliseconds(sealed.audit):.0f} ms", flush=True)
        assert sealed.audit().is_sound
    for store in stores:
        store.close()
    ours, theirs = results[Sealed.label], results[SqlCipher.label]
    assert ours["bytes per save"] * 20 <= theirs["bytes per save"]
    shutil.rmtree(tmp_path)


def reopening(sealed):
    """Time an opening that has to read the saves after the index."""
    sealed.close()
    spent = milliseconds(lambda: first(sealed))
    sealed.close()
    return spent


def folder_size(folder):
    found = (path for path in folder.iterdir() if path.name != "vault.reserve")
    return sum(path.stat().st_size for path in found) / 1e6

"""How fast import workers bring hand-overs into a register, and how fast it answers.

Asked for by name: ``pytest -m benchmark -s`` with the path of this file. The server
runs on the same cores as the workers, with its flushes, in the temporary folder. How
many exams and rows: EXAM_REGISTER_EXAMS (100 000) and EXAM_REGISTER_ROWS (1 000 000);
the sizes that were run are printed.
"""

import os
import random
import time
from concurrent.futures import ProcessPoolExecutor

import pytest

from exam_app.register.processes import work_together
from exam_app.register.queue import SpoolQueue
from tests import register_places, register_server
from tests.benchmarks.test_inbox_benchmark import bundle_of, renamed
from tests.handover_places import (
    DOG,
    named_bytes,
    new_place,
    new_register_place,
    pair,
)
from tests.sync_samples import closed_exam

pytestmark = pytest.mark.benchmark

EXAMS = int(os.environ.get("EXAM_REGISTER_EXAMS", "100000"))
ROWS = int(os.environ.get("EXAM_REGISTER_ROWS", "1000000"))
A_DAY, DIFFERENT, DEVICES, ASKED = 25, 100, 20, 200
WORKERS = (1, 2, 4)


@pytest.fixture
def server():
    register_server.require()
    with register_server.running(shared_buffers="256MB") as one:
        yield one


class _Sealing:
    """What sealing needs of a place, in a process of its own."""

    def __init__(self, place):
        self.seed, self.device_id = place.seed, place.device_id
        self.is_demo, self.vault = True, None

    def seal(self, clinic, contents, sequence):
        from tests.handover_places import Place

        return Place.seal(self, clinic, contents, sequence)


def _sealed_days(given):
    """Seal days of one device; the clinic's key is all that is asked of the clinic."""
    device, days, clinic_key, seed = given

    class Settings:
        def get(self, _):
            return clinic_key

    class Vault:
        settings = Settings()

    class Clinic:
        vault = Vault()

    stream = random.Random(seed)
    typical = [closed_exam(DOG, n, n % A_DAY) for n in range(DIFFERENT)]
    return [
        bundle_of(
            Clinic(),
            device,
            [renamed(stream.choice(typical), stream) for _ in range(A_DAY)],
            day + 1,
            stream,
        )[0]
        for day in range(days)
    ]


def _bytes_kept(register):
    """Bytes of tables and indexes, without what is free in them afterwards."""
    register.run("VACUUM")
    asked = """
        SELECT coalesce(sum(pg_total_relation_size(c.oid)), 0) FROM pg_class c
        JOIN pg_namespace n ON n.oid = c.relnamespace
        WHERE n.nspname = 'register' AND c.relkind = 'r' AND c.relname <> 'spooled'"""
    return int(register.run(asked)[0][0])


async def test_import_by_one_two_and_four_workers(server, tmp_path):
    devices = [
        await new_place(tmp_path / f"d{n}", f"Device {n}", "field")
        for n in range(DEVICES)
    ]
    days = max(1, EXAMS // A_DAY // DEVICES)
    key = named_bytes("agreement Clinic")
    asked = [(_Sealing(one), days, key, n) for n, one in enumerate(devices)]
    with ProcessPoolExecutor(2) as pool:
        bundles = [one for each in pool.map(_sealed_days, asked) for one in each]
    random.Random(1).shuffle(bundles)
    count = len(bundles) * A_DAY
    size = sum(map(len, bundles)) / count
    print(f"\n{count} exams in {len(bundles)} hand-overs of {DEVICES} devices")
    print(f"{size:.0f} bytes an exam as sealed")
    first = 0.0
    for workers in WORKERS:
        register = register_places.make(server)
        clinic = new_register_place(register, "Clinic", "clinic")
        for device in devices:
            pair(clinic, device)
        queue = SpoolQueue(clinic.vault.connection, clinic.vault.clinic)
        for one in bundles:
            queue.put(one)
        before = _bytes_kept(register)
        url, private = register.url(clinic.station), register.stations[clinic.station]
        start = time.perf_counter()
        work_together(url, private, workers, is_once=True)
        took = time.perf_counter() - start
        rate = count / took
        first = first or rate
        kept = clinic.vault.storage.count("closed")
        held = (_bytes_kept(register) - before) / count
        print(
            f"{workers} workers  {took:7.1f} s  {rate:6.0f} exams/s  "
            f"{rate / first:4.2f} times one  {held:5.0f} bytes an exam"
        )
        assert kept == count
        assert queue.state().waiting == queue.state().apart == 0
        clinic.vault.close()
    for device in devices:
        device.vault.close()

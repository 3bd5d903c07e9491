"""How fast import workers bring hand-overs into a register, and how fast it answers.

Asked for by name: ``pytest -m benchmark -s`` with the path of this file. The server
runs on the same cores as the workers, with its flushes, in the temporary folder. How
many exams and rows: EXAM_REGISTER_EXAMS (100 000) and EXAM_REGISTER_ROWS (1 000 000);
the sizes that were run are printed.
"""

import os
import random
import resource
import statistics
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pytest

from exam_app.app.queries.clinic_records import received_rows
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


def _spent(server):
    """Processor seconds of the server so far, of ended sessions too."""
    ticks, asked = 0, [server.process.pid]
    children = Path(f"/proc/{server.process.pid}/task/{server.process.pid}/children")
    asked += [int(one) for one in children.read_text().split()]
    for place, number in enumerate(asked):
        fields = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()
        ticks += sum(map(int, fields[11:13] if place else fields[11:15]))
    return ticks / os.sysconf("SC_CLK_TCK")


def _spent_by_workers():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


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
        start, at_server, at_workers = time.perf_counter(), _spent(server), 0.0
        at_workers = _spent_by_workers()
        work_together(url, private, workers, is_once=True)
        took = time.perf_counter() - start
        at_server = 1000 * (_spent(server) - at_server) / count
        at_workers = 1000 * (_spent_by_workers() - at_workers) / count
        rate = count / took
        first = first or rate
        kept = clinic.vault.storage.count("closed")
        held = (_bytes_kept(register) - before) / count
        print(
            f"{workers} workers  {took:7.1f} s  {rate:6.0f} exams/s  "
            f"{rate / first:4.2f} times one  {held:5.0f} bytes an exam, processor time "
            f"{at_workers:.2f} ms in workers, {at_server:.2f} ms in the server"
        )
        assert kept == count
        assert queue.state().waiting == queue.state().apart == 0
        clinic.vault.close()
    for device in devices:
        device.vault.close()


NAMES, OWNERS, AT_ONCE = 2_000, 5_000, 5_000
_RECORD = """COPY register.record (clinic, id, month, place, exam_id, animal_id,
    group_exam, record_hash, device_id, day, species, class, is_received,
    is_acknowledged, "row", body) FROM STDIN (FORMAT BINARY)"""
_RECORD_TYPES = """int4 text date int8 text text text text text date text int2 bool bool
    bytea bytea"""
_KEY = """COPY register.record_key (clinic, id, exam_id, month, version)
    FROM STDIN (FORMAT BINARY)"""
_ANIMAL = """COPY register.document (clinic, kind, id, place, version, terms, "row")
    FROM STDIN (FORMAT BINARY)"""


def fill_rows(given):
    """Copy rows into a register as if they had come; bodies are never opened."""
    url, owner_url, private, first, count = given
    import datetime
    import json

    import psycopg

    from exam_app.register.columns import CLOSED, record_columns
    from exam_app.register.register_vault import open_register
    from exam_app.store.repositories.animals import mark_texts, searchable
    from exam_app.store.repositories.rows import closed_projection

    stream = random.Random(first)
    vault = open_register(url, private)
    sealer, clinic = vault.sealer, vault.clinic
    typical = [closed_exam(DOG, n, n % A_DAY) for n in range(DIFFERENT)]
    shown = []
    for exam in typical:
        row = closed_projection(exam, DOG.protocol, "@hash", "d", b"").to_row()
        row |= {"exam_id": "@exam", "animal_id": "@animal", "name": "@name"}
        row |= {"is_received": True, "received": "2026-11-30 10:00"}
        plain = json.dumps(row, separators=(",", ":"))
        shown.append((plain, record_columns(row)))
    month = vault.connection.run("SELECT register.this_month()")[0][0]
    vault.close()
    with psycopg.connect(owner_url, autocommit=True) as owner:
        for start in range(first, first + count, AT_ONCE):
            records, keys, animals = [], [], []
            for place in range(start, min(start + AT_ONCE, first + count)):
                exam_id, animal_id = (stream.randbytes(16).hex() for _ in range(2))
                name = f"Name{stream.randrange(NAMES):04d}x"
                person = f"Owner{stream.randrange(OWNERS)} Demo"
                hashed = stream.randbytes(32).hex()
                plain, clear = stream.choice(shown)
                told = ("@exam", exam_id), ("@animal", animal_id)
                for mark, said in (*told, ("@name", name), ("@hash", hashed)):
                    plain = plain.replace(mark, said)
                sealed = sealer.seal("row", CLOSED, exam_id, plain.encode())
                ids = (exam_id, animal_id, "", hashed, "d")
                rest = (clear.day or datetime.date(2026, 1, 1), clear.species)
                said = (int(clear.review), True, stream.random() >= 0.02)
                body = stream.randbytes(1200)
                records.append(
                    (clinic, exam_id, month, place, *ids, *rest, *said, sealed, body)
                )
                keys.append((clinic, exam_id, exam_id, month, place))
                animal = {
                    "animal_id": animal_id,
                    "species": "dog",
                    "name": name,
                    "chip": f"9{place:014d}",
                    "owner": {"name": person},
                }
                find = searchable([name, animal["chip"], animal["owner"]])
                kept = json.dumps({"find": find, "animal": animal}).encode()
                terms = sealer.terms_of(find, mark_texts(animal))
                sealed = sealer.seal("row", "animals", animal_id, kept)
                animals.append(
                    (clinic, "animals", animal_id, place, place, terms, sealed)
                )
            copy_rows(owner, _RECORD, _RECORD_TYPES, records)
            copy_rows(owner, _KEY, "int4 text text date int8", keys)
            copy_rows(owner, _ANIMAL, "int4 text text int8 int8 int8[] bytea", animals)


def copy_rows(owner, statement, types, rows):
    with owner.cursor().copy(statement) as copied:
        copied.set_types(types.split())
        for row in rows:
            copied.write_row(row)


def test_lists_search_and_review_of_many_rows(server):
    register = register_places.make(server)
    clinic = new_register_place(register, "Clinic", "clinic")
    url, private = register.url(clinic.station), register.stations[clinic.station]
    half = ROWS // 2
    asked = [(url, register.url(), private, n * half + 1, half) for n in range(2)]
    start = time.perf_counter()
    with ProcessPoolExecutor(2) as pool:
        list(pool.map(fill_rows, asked))
    register.run(f"SELECT setval('register.change', {2 * half + 1})", "ANALYZE")
    print(
        f"\n{2 * half} records and as many animals in "
        f"{time.perf_counter() - start:.0f} s"
    )
    print(f"{_bytes_kept(register) / (2 * half):.0f} bytes each, together")
    stream = random.Random(5)
    some = [
        row[0]
        for row in register.run(
            "SELECT animal_id FROM register.record TABLESAMPLE BERNOULLI (1) LIMIT 400"
        )
    ]
    vault = clinic.vault
    questions = {
        "latest 50": lambda: vault.closed.latest(50),
        "to review, 50": lambda: vault.closed.pressing(50),
        "one animal's records": lambda: vault.closed.for_animal(stream.choice(some)),
        "search a name, 50": lambda: vault.animals.search(
            f"name{stream.randrange(NAMES):04d}x", 50
        ),
        "search name and owner": lambda: vault.animals.search(
            f"name{stream.randrange(NAMES):04d}x owner{stream.randrange(OWNERS)}", 50
        ),
        "search how it begins, 50": lambda: vault.animals.search("own", 50),
        "search a chip": lambda: vault.animals.search(
            f"9{stream.randrange(1, 2 * half):014d}", 50
        ),
        "same chip or owner": lambda: vault.animals.alike(
            {"chip": f"9{stream.randrange(1, 2 * half):014d}"}
        ),
        "get one": lambda: vault.animals.get(stream.choice(some)),
        "first screen, 2 000 rows": lambda: received_rows(vault),
    }
    for name, ask in questions.items():
        times, ran = [], time.process_time()
        for _ in range(ASKED if "2 000" not in name else ASKED // 10):
            start = time.perf_counter()
            ask()
            times.append(1000 * (time.perf_counter() - start))
        times.sort()
        ran = 1000 * (time.process_time() - ran) / len(times)
        print(
            f"{name:26} median {statistics.median(times):7.2f} ms, "
            f"95th percentile {times[int(len(times) * 0.95)]:7.2f} ms, "
            f"own processor time {ran:6.2f} ms"
        )
    clinic.vault.close()

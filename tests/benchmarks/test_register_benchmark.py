"""How fast import workers bring hand-overs into a register, and how fast it answers.

Asked for by name: ``pytest -m benchmark -s`` with the path of this file. The server
runs on the same cores as the workers, with its flushes, in the temporary folder. How
many exams and rows: EXAM_REGISTER_EXAMS (100 000) and EXAM_REGISTER_ROWS (1 000 000);
the sizes that were run are printed.
"""

import contextlib
import json
import os
import random
import resource
import statistics
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import timedelta
from pathlib import Path

import pytest

from exam_app.app.queries.clinic_records import received_rows
from exam_app.register.columns import ANIMALS, CLOSED, record_columns
from exam_app.register.processes import work_together
from exam_app.register.queue import SpoolQueue
from exam_app.register.register_vault import open_register
from exam_app.store.repositories.animals import mark_texts, searchable
from exam_app.store.repositories.rows import URGENT, URGENT_NOT_TOLD, closed_projection
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
        # A session may have ended since: the server counts it then.
        with contextlib.suppress(FileNotFoundError):
            said = Path(f"/proc/{number}/stat").read_text()
            fields = said.rpartition(")")[2].split()
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


NAMES, OWNERS, AT_ONCE, MONTHS = 2_000, 5_000, 5_000, 24
# Which share of the rows the clinic has that is asked; six others have the rest.
SHARE, OTHERS = 0.7, 6
_RECORD = """COPY register.record (clinic, id, month, place, exam_id, animal_id,
    group_exam, record_hash, device_id, day, species, class, is_received,
    is_acknowledged, "row", body) FROM STDIN (FORMAT BINARY)"""
_RECORD_TYPES = """int4 text date int8 text text text text text date text int2 bool bool
    bytea bytea"""
_KEY = """COPY register.record_key (clinic, id, exam_id, month, version)
    FROM STDIN (FORMAT BINARY)"""
_ANIMAL = """COPY register.document (clinic, kind, id, place, version, terms, "row")
    FROM STDIN (FORMAT BINARY)"""
_NOTE = """COPY register.document (clinic, kind, id, place, version, ref, "row", body)
    FROM STDIN (FORMAT BINARY)"""
URGENCIES = ((URGENT_NOT_TOLD, 0.003), (URGENT, 0.012), ("", 1.0))
_MARKS = ("@exam", "@animal", "@name", "@hash", "@device")


def _often(stream, count):
    """Choose a number below ``count``; the lowest are those most often chosen."""
    return int(count * stream.random() ** 2)


def _typical_rows():
    """Give plain rows of records with what of them is clear, by urgency."""
    rows = {urgency: [] for urgency, _ in URGENCIES}
    for n in range(DIFFERENT):
        exam = closed_exam(DOG, n, n % A_DAY)
        row = closed_projection(exam, DOG.protocol, "@hash", "@device", b"").to_row()
        row |= {"exam_id": "@exam", "animal_id": "@animal", "name": "@name"}
        row |= {"is_received": True, "received": "2026-11-30 10:00"}
        for urgency, found in rows.items():
            row |= {"urgency": urgency}
            plain = json.dumps(row, separators=(",", ":"))
            found.append((plain, record_columns(row)))
    return rows


def fill_rows(given):
    """Copy rows into a register as if they had come; bodies are never opened.

    Args:
        given: The station's address, its private key, the owner's address, numbers of
            other clinics, and the first place, how many, and out of how many.
    """
    url, private, owner_url, others, (first, count, every) = given
    import psycopg

    stream = random.Random(first)
    vault = open_register(url, private)
    own, sealers = vault.clinic, {vault.clinic: vault.sealer}
    sealers |= {other: vault.sealer.of_clinic(other) for other in others}
    asked = """SELECT (register.this_month() - n * interval '1 month')::date
        FROM generate_series(%s, 0, -1) AS n"""
    months = [row[0] for row in vault.connection.run(asked, (MONTHS - 1,))]
    vault.close()
    typical = _typical_rows()
    # Animals that come again, by clinic.
    known = {clinic: [stream.randbytes(16).hex()] for clinic in sealers}
    with psycopg.connect(owner_url, autocommit=True) as owner:
        for start in range(first, first + count, AT_ONCE):
            records, keys, animals, notes = [], [], [], []
            for place in range(start, min(start + AT_ONCE, first + count)):
                clinic = own if stream.random() < SHARE else stream.choice(others)
                month = months[(place - 1) * MONTHS // every]
                sealer, exam_id = sealers[clinic], stream.randbytes(16).hex()
                new_id, name = stream.randbytes(16).hex(), _often(stream, NAMES)
                name, chip = f"Name{name:04d}x", f"9{place:014d}"
                person = f"Owner{_often(stream, OWNERS)} Demo"
                came = known[clinic]
                if len(came) < 2000:
                    came.append(new_id)
                else:
                    came[stream.randrange(2000)] = new_id
                animal_id = stream.choice(came) if stream.random() < 0.3 else new_id
                drawn, device = stream.random(), f"{_often(stream, 40):032x}"
                urgency = next(one for one, below in URGENCIES if drawn < below)
                plain, clear = stream.choice(typical[urgency])
                hashed = stream.randbytes(32).hex()
                said = (exam_id, animal_id, name, hashed, device)
                for mark, text in zip(_MARKS, said, strict=True):
                    plain = plain.replace(mark, text)
                sealed = sealer.seal("row", CLOSED, exam_id, plain.encode())
                day = month + timedelta(days=stream.randrange(28))
                unread = 0.3 if month == months[-1] else 0.01
                ids = (exam_id, animal_id, "", hashed, device, day, clear.species)
                seen = (int(clear.review), True, stream.random() >= unread)
                rest = (*ids, *seen, sealed, stream.randbytes(1200))
                records.append((clinic, exam_id, month, place, *rest))
                keys.append((clinic, exam_id, exam_id, month, place))
                animal = {
                    "animal_id": new_id,
                    "species": "dog",
                    "name": name,
                    "chip": chip,
                    "owner": {"name": person},
                }
                find = searchable([name, chip, animal["owner"]])
                kept = json.dumps({"find": find, "animal": animal}).encode()
                terms = sealer.terms_of(find, mark_texts(animal))
                sealed = sealer.seal("row", ANIMALS, new_id, kept)
                put = (clinic, ANIMALS, new_id, place, place)
                animals.append((*put, terms, sealed))
                if stream.random() < 0.1:
                    put = (clinic, "notes", stream.randbytes(16).hex(), place, place)
                    notes.append(
                        (*put, exam_id, stream.randbytes(300), stream.randbytes(500))
                    )
            copy_rows(owner, _RECORD, _RECORD_TYPES, records)
            copy_rows(owner, _KEY, "int4 text text date int8", keys)
            copy_rows(owner, _ANIMAL, "int4 text text int8 int8 int8[] bytea", animals)
            copy_rows(owner, _NOTE, "int4 text text int8 int8 text bytea bytea", notes)


def make_rows(register, clinic, count):
    """Fill a register with rows of several clinics and of months; give the seconds."""
    with register.owner() as owner:
        for _ in range(OTHERS):
            register.admit(register.new_clinic())
        asked = "SELECT clinic FROM register.clinic WHERE clinic <> %s"
        others = [row[0] for row in owner.run(asked, (clinic.vault.clinic,))]
        for month in range(MONTHS):
            asked = f"""SELECT register.make_month((register.this_month()
                - {month} * interval '1 month')::date)"""
            owner.run(asked)
    url, private = register.url(clinic.station), register.stations[clinic.station]
    half, start = count // 2, time.perf_counter()
    asked = [
        (url, private, register.url(), others, (n * half + 1, half, count))
        for n in range(2)
    ]
    with ProcessPoolExecutor(2) as pool:
        list(pool.map(fill_rows, asked))
    register.run(f"SELECT setval('register.change', {2 * half + 1})", "VACUUM ANALYZE")
    return time.perf_counter() - start


def copy_rows(owner, statement, types, rows):
    with owner.cursor().copy(statement) as copied:
        copied.set_types(types.split())
        for row in rows:
            copied.write_row(row)


def questions_to(vault, register, count):
    """Give what lists, search and review ask a register, by name."""
    stream = random.Random(5)
    asked = f"""SELECT animal_id, exam_id FROM register.record
        TABLESAMPLE SYSTEM (1) WHERE clinic = {vault.clinic} LIMIT 400"""
    animals, exams = zip(*register.run(asked), strict=True)

    def name():
        return f"name{_often(stream, NAMES):04d}x"

    def chip():
        return f"9{stream.randrange(1, count):014d}"

    def many(most):
        return stream.sample(exams, min(most, len(exams)))

    return {
        "latest 50": lambda: vault.closed.latest(50),
        "to review, 50": lambda: vault.closed.pressing(50),
        "to review, 200": lambda: vault.closed.pressing(200),
        "one animal's records": lambda: vault.closed.for_animal(stream.choice(animals)),
        "versions of an exam": lambda: vault.closed.tips(stream.choice(exams)),
        "notes of 50 exams": lambda: vault.notes.counts_of(many(50)),
        "search a name, 50": lambda: vault.animals.search(name(), 50),
        "search name and owner": lambda: vault.animals.search(
            f"{name()} owner{_often(stream, OWNERS)}", 50
        ),
        "search how it begins, 50": lambda: vault.animals.search("own", 50),
        "search what is not there": lambda: vault.animals.search("zebulon", 50),
        "search a chip": lambda: vault.animals.search(chip(), 50),
        "same chip or owner": lambda: vault.animals.alike({"chip": chip()}),
        "get one": lambda: vault.animals.get(stream.choice(animals)),
        "first screen, 2 000 rows": lambda: received_rows(vault),
    }


def _ran_at_server(number):
    """Nanoseconds for which a session's process ran."""
    return int(Path(f"/proc/{number}/schedstat").read_text().split()[0])


def print_answers(vault, register, count):
    """Ask everything many times; print times and processor times."""
    number = vault.connection.run("SELECT pg_backend_pid()")[0][0]
    for name, ask in questions_to(vault, register, count).items():
        times, most = [], ASKED if "2 000" not in name else ASKED // 10
        ask()
        ran, at_server = time.process_time(), _ran_at_server(number)
        for _ in range(most):
            start = time.perf_counter()
            ask()
            times.append(1000 * (time.perf_counter() - start))
        times.sort()
        ran = 1000 * (time.process_time() - ran) / most
        at_server = (_ran_at_server(number) - at_server) / 1e6 / most
        print(
            f"{name:26} median {statistics.median(times):7.2f} ms, "
            f"95th percentile {times[int(most * 0.95)]:7.2f} ms, processor time "
            f"{ran:6.2f} ms here, {at_server:6.2f} ms in the server"
        )


def test_lists_search_and_review_of_many_rows(server):
    register = register_places.make(server)
    clinic = new_register_place(register, "Clinic", "clinic")
    took = make_rows(register, clinic, ROWS)
    print(f"\n{ROWS} records and as many animals in {took:.0f} s")
    print(f"{_bytes_kept(register) / ROWS:.0f} bytes each, together")
    print_answers(clinic.vault, register, ROWS)
    clinic.vault.close()

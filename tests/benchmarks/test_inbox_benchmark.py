"""How fast a clinic takes in bundles of a day, beside the floor, and in what memory.

Asked for by name: ``pytest -m benchmark -s`` with the path of this file. One save for
each bundle, on the disk of the temporary folder. The exams are a hundred different
typical ones with ids of their own; making and sealing them is not counted.

The floor, in the same run and of the same exams: each signature verified, each record
hashed and read by the CBOR library, the sealed bytes appended to a file and flushed.
"""

import contextlib
import os
import random
import resource
import statistics
import time
from dataclasses import replace

import cbor2
import pytest

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.exchange.inbox import receive
from exam_app.exchange.incoming import Incoming
from exam_app.record.cose import claimed_body
from exam_app.record.plain_form import to_plain
from exam_app.record.records import close_and_sign, read_exam
from exam_app.record.salted_blocks import owner_block
from exam_app.store.engine.files import open_file
from exam_app.store.repositories.rows import closed_projection
from sync.bundle.contents import Contents, OwnerPart
from tests.handover_places import DOG, NOW, open_place, paired_places
from tests.sync_samples import closed_exam, owner_of

pytestmark = pytest.mark.benchmark

EXAMS, A_DAY, DIFFERENT = 10_000, 25, 100
SIZES, DAYS, SAVED_AT_ONCE = (0, 10_000, 100_000), 40, 500


def megabytes():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def renamed(exam, stream):
    """The same exam of another animal, by another id."""
    ids = (stream.randbytes(16).hex(), stream.randbytes(16).hex())
    chip = f"9{stream.randrange(10**14):014d}"
    animal = replace(exam.animal, animal_id=ids[1], chip=chip)
    return replace(exam, exam_id=ids[0], animal=animal)


def bundle_of(clinic, tablet, exams, sequence, stream):
    records, owners = [], []
    for exam in exams:
        name = f"{stream.randbytes(4).hex()} Demo"
        owner, salt = replace(owner_of(stream), name=name), stream.randbytes(32)
        made = close_and_sign(exam, DOG.protocol, tablet.seed, owner, salt)
        records.append(made.signed)
        owners.append(OwnerPart(made.exam_hash, salt, owner_block(owner)))
    contents = Contents(tuple(records), (), tuple(owners))
    return tablet.seal(clinic, contents, sequence), records


def floor_of(tablet, sealed, records, file):
    """What no program can leave out, in seconds of processor time."""
    public = door.signing_public_key(tablet.seed)
    start = time.process_time()
    for record in records:
        door.verify(public, record[-64:], record)
        door.sha256(record)
        cbor2.loads(claimed_body(record))
    file.write(sealed)
    file.flush()
    os.fsync(file.fileno())
    return time.process_time() - start


async def test_ten_thousand_exams_into_a_clinic(tmp_path):
    stream = random.Random(11)
    typical = [closed_exam(DOG, n, n % A_DAY) for n in range(DIFFERENT)]
    async with paired_places(tmp_path, opener=open_file) as (clinic, tablet):
        spent, size, before, busy, floor = [], 0, megabytes(), 0.0, 0.0
        file = (tmp_path / "floor").open("wb")
        for day in range(EXAMS // A_DAY):
            exams = [renamed(stream.choice(typical), stream) for _ in range(A_DAY)]
            sealed, records = bundle_of(clinic, tablet, exams, day + 1, stream)
            floor += floor_of(tablet, sealed, records, file)
            size += len(sealed)
            start, ran = time.perf_counter(), time.process_time()
            received = receive(sealed, clinic.exchange, NOW)
            spent.append(time.perf_counter() - start)
            busy += time.process_time() - ran
            assert received.receipt_code
        at = time.perf_counter()
        again = receive(sealed, clinic.exchange, Moment(NOW.utc_ms + 1))
        replayed = time.perf_counter() - at
        assert again.was_known
        assert len(clinic.hashes()) == EXAMS
        peak = megabytes()
        file.close()
        clinic.vault.close()
        opening = time.perf_counter()
        kept = await open_place(tmp_path / "clinic", "Clinic")
        rows = kept.vault.closed.latest(100)
        opening = time.perf_counter() - opening
        kept.vault.close()
    first, last = sum(spent[:20]) / 20, sum(spent[-20:]) / 20
    print(f"\n{EXAMS} exams in {len(spent)} bundles, {size / EXAMS:.0f} bytes an exam")
    print(f"whole import      {sum(spent):8.1f} s, {EXAMS / sum(spent):6.0f} exams/s")
    print(f"processor alone   {busy:8.1f} s, {EXAMS / busy:6.0f} exams/s")
    print(f"its floor         {floor:8.1f} s, {EXAMS / floor:6.0f} exams/s", end="")
    print(f", ratio {busy / floor:.2f}")
    print(f"a day, first 20   {first * 1000:8.1f} ms")
    print(f"a day, last 20    {last * 1000:8.1f} ms")
    print(f"the last again    {replayed * 1000:8.1f} ms")
    print(f"peak memory       {peak:8.1f} MB ({before:.1f} MB before)")
    print(f"open and list 100 {opening * 1000:8.1f} ms")
    assert len(rows) == 100


def fill(clinic, tablet, count, typical, stream):
    """Keep as many exams as if they had come, each of an animal with an owner."""
    vault, exchange, device = clinic.vault, clinic.exchange, tablet.device_id
    made = close_and_sign(typical, DOG.protocol, tablet.seed, None, b"")
    keys = [door.signing_public_key(tablet.seed)]
    key_id = read_exam(made.signed, keys, lambda _: DOG.protocol).key_id
    shown = closed_projection(typical, DOG.protocol, made.exam_hash, device, key_id)
    for start in range(0, count, SAVED_AT_ONCE):
        with vault.transaction():
            for _ in range(SAVED_AT_ONCE):
                exam = renamed(typical, stream)
                one = exam.animal.animal_id
                own = {"exam_id": exam.exam_id, "animal_id": one}
                hashed = stream.randbytes(32).hex()
                row = replace(shown, record_hash=hashed, is_received=True, **own)
                vault.closed.put(row, stream.randbytes(32))
                name = f"{stream.randbytes(4).hex()} Demo"
                owner = to_plain(replace(owner_of(stream), name=name))
                animal = {**to_plain(exam.animal), "owner": owner}
                vault.animals.put(animal)
                vault.owners.put(exam.exam_id, bytes(32), owner)
                seen = f"seen:{device}"
                exchange.identity.put_version(one, seen, {"name": name}, 1)
            for number in range(start // A_DAY, (start + SAVED_AT_ONCE) // A_DAY):
                hashed = stream.randbytes(32).hex()
                times = {"made_ms": 0, "received_ms": 0, "skew_ms": 0}
                told = {"kind": "exams", "received": "", **times}
                bundle = Incoming(
                    bundle_hash=hashed, device_id=device, sequence=number + 1, **told
                )
                exchange.incoming.put(bundle, b"")


async def test_a_day_costs_the_same_in_clinics_of_any_size(tmp_path):
    stream = random.Random(12)
    typical = [closed_exam(DOG, n, n % A_DAY) for n in range(DIFFERENT)]
    spent = {size: [] for size in SIZES}
    floors, first = [], {}
    async with contextlib.AsyncExitStack() as stack:
        pairs = {}
        for size in SIZES:
            folder = tmp_path / str(size)
            folder.mkdir()
            opened = paired_places(folder, opener=open_file)
            pairs[size] = await stack.enter_async_context(opened)
            fill(*pairs[size], size, typical[0], stream)
        with (tmp_path / "floor").open("wb") as file:
            for day in range(DAYS + 1):
                exams = [renamed(stream.choice(typical), stream) for _ in range(A_DAY)]
                for size, (clinic, tablet) in pairs.items():
                    number = size // A_DAY + day + 1
                    made = bundle_of(clinic, tablet, exams, number, stream)
                    start = time.process_time()
                    receive(made[0], clinic.exchange, NOW)
                    took = time.process_time() - start
                    # What is read once after an opening is told apart.
                    first.setdefault(size, took)
                    if day:
                        spent[size].append(took)
                floors.append(floor_of(tablet, *made, file))
    floor = statistics.median(floors)
    print(f"\nfloor of a day: {floor * 1000:.1f} ms, {A_DAY / floor:.0f} exams/s")
    print("exams kept | day, ms (processor) | × floor | × empty | exams/s | first, ms")
    empty = statistics.median(spent[SIZES[0]])
    for size, took in spent.items():
        day = statistics.median(took)
        print(
            f"{size:10} | {day * 1000:19.1f} | {day / floor:7.2f} | "
            f"{day / empty:7.2f} | {A_DAY / day:7.0f} | {first[size] * 1000:.0f}"
        )
    assert statistics.median(spent[SIZES[-1]]) < 2 * empty

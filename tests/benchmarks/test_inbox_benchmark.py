"""How fast a clinic takes in 10 000 exams in bundles of a day, and in what memory.

Asked for by name: ``pytest -m benchmark -s`` with the path of this file. One save for
each bundle, on the disk of the temporary folder. The exams are a hundred different
typical ones with ids of their own; making and sealing them is not counted.
"""

import random
import resource
import time
from dataclasses import replace

import pytest

from exam_app.domain.moments import Moment
from exam_app.exchange.inbox import receive
from exam_app.record.records import close_and_sign
from exam_app.record.salted_blocks import owner_block
from exam_app.store.engine.files import open_file
from sync.bundle.contents import Contents, OwnerPart
from tests.handover_places import DOG, NOW, open_place, paired_places
from tests.sync_samples import closed_exam, owner_of

pytestmark = pytest.mark.benchmark

EXAMS, A_DAY, DIFFERENT = 10_000, 25, 100


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
    return tablet.seal(clinic, contents, sequence)


async def test_ten_thousand_exams_into_a_clinic(tmp_path):
    stream = random.Random(11)
    typical = [closed_exam(DOG, n, n % A_DAY) for n in range(DIFFERENT)]
    async with paired_places(tmp_path, opener=open_file) as (clinic, tablet):
        spent, size, before, busy = [], 0, megabytes(), 0.0
        for day in range(EXAMS // A_DAY):
            exams = [renamed(stream.choice(typical), stream) for _ in range(A_DAY)]
            sealed = bundle_of(clinic, tablet, exams, day + 1, stream)
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
    print(f"a day, first 20   {first * 1000:8.1f} ms")
    print(f"a day, last 20    {last * 1000:8.1f} ms")
    print(f"the last again    {replayed * 1000:8.1f} ms")
    print(f"peak memory       {peak:8.1f} MB ({before:.1f} MB before)")
    print(f"open and list 100 {opening * 1000:8.1f} ms")
    assert len(rows) == 100

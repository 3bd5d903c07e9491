"""How soon an animal of two hundred exams shows its history, in this process.

Asked for by name: ``pytest -m benchmark -s`` with the path of this file. Until
the screen with the newest exams was sent to the client that stands for Flet's, and
until all exams were told; each animal is opened for the first time, then again.
Making and signing the exams is not counted; pixels are not drawn here.
"""

import statistics
import time
from dataclasses import replace

import pytest

from exam_app.app.signing import store_closed
from exam_app.domain.moments import Moment
from exam_app.record.plain_form import to_plain
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.in_process import unlocked
from tests.browser.prepared import in_store, prepare_folder
from tests.handover_places import DOG
from tests.sync_samples import closed_exam

pytestmark = pytest.mark.benchmark

EXAMS, DIFFERENT, ANIMALS = 200, 20, 5
A_DAY = 86_400_000


def fill(vault):
    """Keep several animals, each with its exams of as many days, six finds in each."""
    typical = [closed_exam(DOG, number, number % 25) for number in range(DIFFERENT)]
    for place in range(ANIMALS):
        animal = replace(typical[0].animal, animal_id=f"{place + 1:032x}")
        with vault.transaction():
            vault.animals.put(to_plain(animal))
            vault.protocols.put(DOG.content_hash, DOG.content)
            for number in range(EXAMS):
                exam = typical[number % DIFFERENT]
                start = Moment(exam.started.utc_ms - number * A_DAY, 120)
                name = f"{place * EXAMS + number + 1:032x}"
                exam = replace(exam, exam_id=name, animal=animal, started=start)
                store_closed(vault, exam, DOG.protocol)


def opened(driver, animal_id):
    """Seconds until the screen was sent, of which the processor's, and to the last."""
    tab, route = driver.app.session.messages, f"/history/{animal_id}"

    async def show():
        tab.page.route = route
        start, ran = time.perf_counter(), time.process_time()
        await tab.show_route()
        return start, time.perf_counter() - start, time.process_time() - ran

    start, shown, busy = driver.app.run(show())
    driver.wait_text("history-weight", f"{EXAMS} values, as a table")
    return shown, busy, time.perf_counter() - start


@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (LAPTOP, "laptop")])
def test_history_of_two_hundred_exams(tmp_path, size, name):
    folder = prepare_folder(tmp_path / "store")
    in_store(folder, fill)
    animals = [f"{place + 1:032x}" for place in range(ANIMALS)]
    with unlocked(folder, size) as driver:
        first = [opened(driver, one) for one in animals]
        again = [opened(driver, one) for one in animals]
    print(f"\n{EXAMS} exams, {name:8}    screen sent  processor  every exam told")
    for label, taken in (("first time", first), ("again", again)):
        columns = zip(*taken, strict=True)
        shown, busy, told = (statistics.median(one) * 1000 for one in columns)
        print(f"{label:24} {shown:8.0f} ms {busy:7.0f} ms {told:13.0f} ms")
    assert all(told >= shown for shown, _, told in (*first, *again))

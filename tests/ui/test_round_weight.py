"""A weight far off the animal's last one asks in a round, by thumb and by keyboard."""

from datetime import UTC, datetime

import pytest

from exam_app.app import exam_view
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.signing import store_closed
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import Setting, VitalEntry
from exam_app.domain.measure.units import parse_reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import to_plain
from tests.browser.driver import LAPTOP
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked
from tests.browser.prepared import in_store
from tests.exam_samples import TECHNICIAN

CHICKEN = load_protocol("chicken")
FLOCK = Animal("5" * 32, "Hens (demo)", "chicken", is_group=True, is_demo=True)
HENS = 20
# What a hen weighed the last time, in kg; and what is typed of it now.
BEFORE, NEAR, FAR = "2.1", "2.2", "4.2"
ASKED = f"Is {FAR} kg right? The last weight was {BEFORE} kg, 2026-03-02."
CELL = "round-cell-vital-weight"


def hen(number):
    return Animal(f"{number:032x}", f"Hen {number}", "chicken", tag=f"{number:04}")


def keep_weighed(vault):
    """Keep every hen with a closed exam in which it was weighed."""
    at = Moment.from_datetime(datetime(2026, 3, 2, 9, tzinfo=UTC))
    by = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, at, at)
    protocol, content_hash = CHICKEN.protocol, CHICKEN.content_hash
    reading = parse_reading(BEFORE, "kg", protocol.vital("weight").measure)
    with vault.transaction():
        for number in range(1, HENS + 1):
            order = ExamOrder(hen(number), Scope.GROUP, Setting.FARM)
            exam_id = f"{number:08x}{0:024x}"
            exam = begin_exam(order, protocol, content_hash, TECHNICIAN, exam_id, at)
            entry = VitalEntry(reading=reading)
            exam = record_vital(exam, protocol, "weight", entry, by, ("e" * 32,))
            exam = stop_early(exam, protocol, StopReason.OWNER_STOPPED, "", by)
            vault.animals.put(to_plain(hen(number)))
            store_closed(vault, close(exam, protocol, TECHNICIAN, at), protocol)


@pytest.fixture(autouse=True)
def settled(monkeypatch):
    """Let the time pass in which a second tap is one by mistake."""
    monkeypatch.setattr(exam_view, "GUARD_SECONDS", 0.0)


@pytest.fixture
def folder(tmp_path):
    made = prepare_exam(
        tmp_path / "exams", Scope.GROUP, animal=FLOCK, setting=Setting.FARM
    )
    in_store(made, keep_weighed)
    return made


@pytest.fixture
def phone(folder):
    with unlocked(folder) as driver:
        yield weighing(driver)


@pytest.fixture
def laptop(folder):
    with unlocked(folder, LAPTOP) as driver:
        yield weighing(driver)


def weighing(driver):
    """Open the round, and ask for the weight of every hen."""
    driver.go(f"/round/{EXAM_ID}")
    # The weight stands first among what may be chosen.
    driver.click("round-column-0")
    driver.click("round-columns-done")
    driver.gone("sheet")
    return driver


def begin(driver, number):
    driver.type("round-tag", f"{number:04}")
    driver.press("Enter")
    driver.read_down_to(f"In hand: Hen {number}")


def weight_of(driver, number):
    tag = f"{number:04}"
    editors = driver.app.session.editors.values()
    (row,) = [e for e in editors if e.exam.group_exam and e.exam.animal.tag == tag]
    return row.exam.vital("weight")


def until_stored(driver, number, typed):
    def is_stored():
        reading = weight_of(driver, number).reading
        return reading is not None and reading.typed == typed

    driver.until(is_stored, f"{typed} is stored")


def test_a_jump_asks_by_thumb_in_the_exams_own_words_and_is_believed(phone):
    begin(phone, 1)
    phone.click("region-distance-normal")
    phone.type("vital-typed", FAR)
    phone.click("vital-save")
    phone.wait_text("vital-asked", ASKED)
    assert not weight_of(phone, 1).has_value
    phone.click("vital-asked-yes")
    until_stored(phone, 1, FAR)
    assert weight_of(phone, 1).was_implausible_confirmed
    phone.wait("round-next")


def test_a_slip_is_corrected_by_thumb_and_nothing_of_it_stays(phone):
    begin(phone, 1)
    phone.click("region-distance-normal")
    phone.type("vital-typed", FAR)
    phone.click("vital-save")
    phone.click("vital-asked-no")
    phone.gone("vital-asked")
    phone.type("vital-typed", NEAR)
    phone.click("vital-save")
    until_stored(phone, 1, NEAR)
    assert not weight_of(phone, 1).was_implausible_confirmed


@pytest.mark.slow
def test_twenty_hens_without_a_jump_take_two_answers_each_and_no_question(phone):
    phone.wait("round-begin")
    for number in range(1, HENS + 1):
        begin(phone, number)
        phone.click("region-distance-normal")
        phone.type("vital-typed", NEAR)
        phone.click("vital-save")
        until_stored(phone, number, NEAR)
        assert not phone.has("vital-asked")
        phone.click("round-next")
        phone.wait("round-begin")
    phone.wait_text("round-counts", f"{HENS} animals here: 0 closed, {HENS} finished")


def test_a_jump_asks_below_its_cell_in_the_same_words_and_loses_nothing(laptop):
    begin(laptop, 1)
    laptop.type(CELL, FAR)
    laptop.click("round-next")
    laptop.wait_text(CELL, ASKED)
    laptop.wait_text(CELL, "type ! behind it")
    laptop.read_down_to("In hand: Hen 1")
    assert laptop.value(CELL) == FAR
    assert not weight_of(laptop, 1).has_value


def test_a_jump_with_its_mark_is_stored_as_the_exam_stores_it(laptop):
    begin(laptop, 1)
    laptop.type("round-cell-region-distance", "n")
    laptop.type(CELL, FAR)
    laptop.click("round-next")
    laptop.wait_text(CELL, ASKED)
    laptop.type(CELL, f"{FAR}!")
    laptop.click("round-next")
    laptop.read_down_to("Next animal")
    kept = weight_of(laptop, 1)
    assert kept.reading.typed == FAR
    assert kept.was_implausible_confirmed


def test_hens_without_a_jump_are_typed_as_before(laptop):
    for number in (1, 2, 3):
        begin(laptop, number)
        laptop.type("round-cell-region-distance", "n")
        laptop.type(CELL, NEAR)
        laptop.click("round-next")
        laptop.read_down_to("Next animal")
    laptop.read_down_to("3 animals here: 0 closed, 3 finished")

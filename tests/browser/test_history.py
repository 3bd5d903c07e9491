"""An animal over time: from its page to plots, tables behind them, and its records."""

import pytest

from tests.browser.clinic_pages import enter_clinic
from tests.browser.driver import LAPTOP, PHONE, SMALL
from tests.browser.exam_drafts import BRAMBLE, EXAM_ID, prepare_exam
from tests.browser.prepared import in_store, prepare_folder, unlock
from tests.past_exams import Visit, keep_visits

SIZES = [(PHONE, "phone"), (LAPTOP, "laptop")]


@pytest.fixture
def folder(tmp_path):
    """An open exam of a dog with five closed ones."""
    made = prepare_exam(tmp_path / "exams")
    in_store(made, keep_visits)
    return made


@pytest.mark.parametrize(("size", "name"), SIZES)
def test_values_over_time_each_lead_to_the_record_that_says_them(
    folder, run_app, open_page, size, name
):
    driver = open_page(size)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/start/{BRAMBLE.animal_id}")
    driver.scroll_to("history-open")
    driver.click("history-open")
    driver.wait_text("history-weight", "25.1 kg, 2026-07-31")
    driver.wait_text("history-weight", "0.7 kg more (+2.9 %) after 90 days")
    driver.shot(f"history-{name}")
    driver.read_down_to("square: outside all published ranges compared")
    driver.scroll_to("history-table-heart-rate")
    driver.click("history-table-heart-rate")
    driver.wait_text("sheet", "2026-05-02: 190/min")
    driver.wait_text("sheet", "Above all 3 published ranges")
    driver.shot(f"history-table-{name}")
    driver.click("sheet-close")
    driver.gone("sheet")
    driver.read_down_to("left flank, 14 mm")
    driver.shot(f"history-lumps-{name}")
    driver.read_down_to("Wounds")
    driver.read_down_to("Wound, cut, back")
    driver.wait_text(driver.named("history-wounds-"), "Wound, cut, back")
    driver.read_down_to("in own words stands with the other finds")
    driver.shot(f"history-wounds-{name}")
    driver.read_down_to("Other finds")
    driver.read_down_to("wound, fresh")
    driver.read_down_to("wound gel")
    driver.read_down_to("in ten days")
    driver.read_down_to("Exams (5)")
    driver.shot(f"history-exams-{name}")
    line = driver.named("history-exam-")
    driver.scroll_to(line)
    driver.click(line)
    driver.wait("record-text")


@pytest.mark.parametrize(("size", "name"), SIZES)
def test_a_weight_far_off_the_last_one_asks_and_stands_as_confirmed_in_the_record(
    folder, run_app, open_page, size, name
):
    driver = open_page(size)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/exam/{EXAM_ID}/vitals")
    # The first open vital is in hand.
    driver.wait_text("vital-before-weight", "Before: 25.1 kg, 2026-07-31")
    driver.shot(f"history-before-{name}")
    driver.type("vital-typed", "42")
    driver.click("vital-save")
    driver.wait_text("vital-asked", "Is 42 kg right? The last weight was 25.1 kg")
    driver.shot(f"history-asked-{name}")
    driver.click("vital-asked-no")
    driver.gone("vital-asked")
    # 56 lb are 25.4 kg, near the last weight; 56 kg are not.
    driver.type("vital-typed", "56")
    driver.click("vital-save")
    driver.wait_text("vital-asked-lb", "25.40 kg")
    driver.type("vital-typed", "42")
    driver.click("vital-save")
    driver.click("vital-asked-yes")
    driver.wait_text("vital-weight", "42 kg")
    driver.click("vital-weight")
    # 42 - 25.1 is 16.9, and that is 67.3 % of 25.1.
    driver.wait_text("vital-before-weight", "16.9 kg more (+67.3 %) after")
    driver.click("vital-before-weight")
    driver.wait_text("sheet", "Weight over time")
    driver.wait_text("sheet", "2026-05-02: 24.4 kg")
    driver.shot(f"history-sheet-{name}")
    driver.click("history-open")
    driver.wait_text("history-weight", "25.1 kg, 2026-07-31")
    driver.click("back")
    driver.wait("exam-progress")
    driver.go(f"/record/{EXAM_ID}/draft")
    driver.read_down_to("42 kg; unusual value, confirmed")


@pytest.mark.parametrize(("size", "name"), [*SIZES, (SMALL, "small")])
def test_a_parts_card_says_what_was_found_there_and_leads_to_all_of_it(
    folder, run_app, open_page, size, name
):
    driver = open_page(size)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/exam/{EXAM_ID}")
    driver.click("region-nose-normal")
    assert not driver.names("region-nose-before")
    driver.scroll_to("region-skin_coat-before")
    driver.wait_text("region-skin_coat-before", "Before: Lump, left flank, 14 mm")
    driver.wait_text("region-skin_coat-before", "2026-07-31")
    driver.wait("region-skin_coat-normal")
    driver.shot(f"history-part-{name}")
    driver.click("region-skin_coat-before")
    driver.wait_text("sheet", "found before")
    for words in ("Lump, left flank, 12 mm", "Wound, cut, back", "wound, fresh"):
        driver.read_down_to(words)
    driver.shot(f"history-part-sheet-{name}")
    line = driver.names("history-value-")[0]
    driver.scroll_to(line)
    driver.click(line)
    driver.wait("record-text")


def test_a_docked_tail_is_one_tap_from_the_next_exam_on_until_one_is_seen(
    tmp_path, run_app, open_page
):
    folder = prepare_exam(tmp_path / "exams")
    visits = (Visit(0, docked=True), Visit(30, weight="24"))
    in_store(folder, lambda vault: keep_visits(vault, visits))
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/exam/{EXAM_ID}/region/tail")
    offered = "Not present, docked, said 2026-01-12"
    driver.wait_text("region-tail-absent", offered)
    driver.shot("history-docked-phone")
    driver.click("region-tail-absent")
    driver.wait_text("region-tail-state", "Not present")
    driver.go(f"/record/{EXAM_ID}/draft")
    driver.read_down_to("Tail: docked")
    driver.go(f"/history/{BRAMBLE.animal_id}")
    driver.read_down_to("Not present")
    driver.read_down_to("2026-01-12, Tail")
    driver.shot("history-gone-phone")


def test_what_a_part_says_from_before_stays_while_it_is_answered(
    folder, run_app, open_page
):
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/exam/{EXAM_ID}/region/skin_coat")
    before = driver.text("region-skin_coat-before")
    driver.click("region-skin_coat-normal")
    driver.wait("region-skin_coat-state")
    assert driver.text("region-skin_coat-before") == before


def test_a_weight_near_the_last_one_is_taken_as_it_was(folder, run_app, open_page):
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/exam/{EXAM_ID}/vitals")
    # The first open vital is in hand.
    driver.type("vital-typed", "27")
    driver.click("vital-save")
    driver.wait_text("vital-weight", "27 kg")
    assert not driver.has("vital-asked")


@pytest.mark.parametrize(("size", "name"), SIZES)
def test_the_clinic_reads_the_same_history_beside_a_record_and_comes_back(
    run_app, open_page, tmp_path, monkeypatch, size, name
):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    driver = open_page(size)
    enter_clinic(driver, run_app("--demo", "--clinic").first_address())
    driver.go("/clinic/review")
    driver.wait("clinic-search")
    rows = driver.names("clinic-row-")
    row = next(one for one in rows if "Bramble" in driver.text(one))
    driver.scroll_to(row)
    driver.click(row)
    driver.wait("record-signed")
    driver.scroll_to("history-open")
    driver.read_down_to("Weight since the one before")
    driver.shot(f"history-clinic-pane-{name}")
    driver.click("history-open")
    driver.wait("history-table-weight")
    driver.shot(f"history-clinic-{name}")
    driver.click("back")
    driver.wait("record-signed")


def test_a_long_history_shows_its_exams_a_page_at_a_time(tmp_path, run_app, open_page):
    visits = tuple(Visit(day, "24") for day in range(45))
    folder = prepare_folder(tmp_path / "exams")
    in_store(folder, lambda vault: keep_visits(vault, visits))
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/history/{BRAMBLE.animal_id}")
    driver.wait_text("screen", "Exams (45)")
    for left in (25, 5):
        driver.scroll_to("history-exams-more")
        driver.wait_text("history-exams-more", f"Show earlier exams ({left})")
        driver.click("history-exams-more")
    driver.gone("history-exams-more")

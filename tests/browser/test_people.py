"""Who examines, who writes, who began: in a real browser, at the size of a phone."""

import pytest

from exam_app.domain.protocol.protocol import Scope
from tests.browser.driver import PHONE, Driver
from tests.browser.exam_drafts import BRAMBLE, EXAM_ID, prepare_exam
from tests.browser.prepared import ALEX, KIM, PIN, unlock

PARTS = ("eyes", "nose")


def open_draft(driver: Driver) -> None:
    driver.click(f"day-draft-{EXAM_ID}")
    driver.wait("exam-progress")


def examine_as(driver: Driver, person_id: str) -> None:
    driver.click("examiner")
    driver.click(f"person-{person_id}")
    driver.gone("sheet")


def test_examiner_and_scribe_hand_over_in_the_middle_and_the_record_names_each(
    tmp_path, run_app, open_page
):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, PARTS)
    app, driver = run_app(folder=folder), open_page(PHONE)
    unlock(driver, app)
    open_draft(driver)
    driver.click("exam-writer")
    driver.click(f"exam-writer-{KIM}")
    driver.wait_text("exam-writer", "Kim Sorrel writes")
    driver.wait_text("saved", "Saved")

    app = run_app(folder=app.killed())
    unlock(driver, app)
    open_draft(driver)
    driver.scroll_to("exam-writer")
    driver.wait_text("exam-writer", "Kim Sorrel writes")
    driver.click("region-eyes-normal")
    driver.wait_text("exam-progress", "2 of 3")

    examine_as(driver, KIM)
    driver.wait_text("exam-begun", "Alex Rowan began this exam")
    driver.wait_text("exam-begun", "carries your name: Kim Sorrel")
    driver.shot("people-begun-phone")
    driver.click("region-nose-normal")
    driver.wait_text("exam-progress", "3 of 3")
    driver.click("exam-review")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait_text("record-signed", "the signature fits")
    driver.read_down_to(
        "Examined by Alex Rowan (technician), entered by Kim Sorrel (veterinarian): "
        "Eyes, left; Eyes, right",
    )
    driver.read_down_to("Examined by Kim Sorrel (veterinarian): Nose")


def test_draft_of_another_person_says_who_began_it_before_it_is_opened(
    tmp_path, run_app, open_page
):
    app = run_app(folder=prepare_exam(tmp_path / "exams", Scope.FOCUSED, PARTS))
    driver = open_page(PHONE)
    unlock(driver, app)
    examine_as(driver, KIM)
    driver.wait_text(f"day-draft-{EXAM_ID}", "by Alex Rowan")
    driver.shot("people-day-phone")
    open_draft(driver)
    driver.wait_text("exam-begun", "Alex Rowan began this exam")
    examine_as(driver, ALEX)
    driver.gone("exam-begun")


def test_veterinarian_answers_an_urgent_sign_herself(tmp_path, run_app, open_page):
    app = run_app(folder=prepare_exam(tmp_path / "exams"))
    driver = open_page(PHONE)
    unlock(driver, app)
    examine_as(driver, KIM)
    open_draft(driver)
    driver.click("exam-urgent")
    driver.click("urgent-sign-pale_gums")
    driver.click("urgent-kind-am-veterinarian")
    driver.wait_text("urgent-instruction", "What I do")
    driver.gone("urgent-whom")
    driver.type("urgent-instruction", "fluids, warm blanket")
    driver.shot("people-veterinarian-phone")
    driver.click("urgent-answer-save")
    driver.gone("sheet")
    driver.gone("urgent-banner")
    driver.go(f"/record/{EXAM_ID}")
    driver.read_down_to("examiner is the veterinarian")
    driver.read_down_to("fluids, warm blanket")


def test_deep_parts_are_offered_to_a_veterinarians_focused_exam_only(
    tmp_path, run_app, open_page
):
    app = run_app(folder=prepare_exam(tmp_path / "exams"))
    driver = open_page(PHONE)
    unlock(driver, app)
    driver.go(f"/start/{BRAMBLE.animal_id}")
    driver.click("start-scope-focused")
    driver.wait("start-focus-0")
    assert "Rectal" not in driver.text("screen")
    examine_as(driver, KIM)
    driver.scroll_to("start-setting-clinic")
    driver.wait_text("screen", "Rectal")
    driver.shot("people-focus-phone")


def test_what_was_seen_half_an_hour_ago_is_entered_late(tmp_path, run_app, open_page):
    app = run_app(folder=prepare_exam(tmp_path / "exams", Scope.FOCUSED, PARTS))
    driver = open_page(PHONE)
    unlock(driver, app)
    open_draft(driver)
    driver.click("region-nose-normal")
    driver.wait("region-nose-state")
    driver.click("region-nose-more")
    driver.click("more-choice-earlier")
    driver.wait("seen-earlier-30")
    driver.shot("people-earlier-phone")
    driver.type("seen-earlier-clock", "noon")
    driver.click("seen-earlier-save")
    driver.wait_text("seen-earlier-clock", "Type the time of day")
    driver.click("seen-earlier-30")
    driver.wait_text("region-nose-row", "entered")
    driver.go(f"/record/{EXAM_ID}")
    driver.read_down_to("Late entry: Nose, seen")


def test_all_that_is_entered_late_is_said_once_and_ended_by_one_tap(
    tmp_path, run_app, open_page
):
    app = run_app(folder=prepare_exam(tmp_path / "exams", Scope.FOCUSED, PARTS))
    driver = open_page(PHONE)
    unlock(driver, app)
    open_draft(driver)
    driver.click("exam-more")
    driver.click("exam-late")
    driver.wait_text("sheet", "given, done or told keeps its own time")
    driver.click("seen-earlier-30")
    driver.wait_text("late-end", "All I enter now was seen")
    driver.shot("people-late-phone")
    first, second, *_ = PARTS
    driver.click(f"region-{first}-normal")
    driver.wait_text(f"region-{first}-row", "entered")
    driver.wait_text("saved", "Saved")
    # A restart goes on as it was said.
    unlock(driver, run_app(folder=app.killed()))
    open_draft(driver)
    driver.wait_text("late-end", "All I enter now was seen")
    driver.click("late-end")
    driver.gone("late-end")
    driver.click(f"region-{second}-normal")
    driver.wait(f"region-{second}-state")
    assert "entered" not in driver.text(f"region-{second}-row")


def save_volunteer(driver, name):
    """Say the role and the PIN of a person whose name is typed, and save."""
    driver.click("person-role-volunteer")
    driver.type("person-pin", "9876")
    driver.type("person-pin-again", "9876")
    driver.click("person-save")
    driver.wait_text("told", f"{name} was added")


def test_colleague_is_added_over_the_open_exam_which_stays_where_it_was(
    tmp_path, run_app, open_page
):
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=prepare_exam(tmp_path / "exams")))
    driver.go(f"/exam/{EXAM_ID}/review")
    driver.wait("review-status")
    driver.click("examiner")
    driver.click("people-open")
    driver.type("person-name", "Sam Teasel")
    driver.click("sheet-close")
    driver.gone("sheet")
    assert driver.route == f"/exam/{EXAM_ID}/review"

    driver.click("examiner")
    driver.click("people-open")
    assert driver.value("person-name") == "Sam Teasel"
    save_volunteer(driver, "Sam Teasel")
    driver.wait("review-status")
    assert driver.route == f"/exam/{EXAM_ID}/review"
    driver.click("examiner")
    driver.wait_text("sheet", "Sam Teasel · Volunteer")


def test_what_was_told_of_one_screen_does_not_lie_over_the_next(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go("/animal/new/dog")
    driver.click("animal-save")
    driver.wait_text("told", "Give the animal a name")
    driver.go("/plan")
    driver.wait("plan-add")
    driver.gone("told")


def test_what_leads_to_another_screen_can_be_told_there(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go("/animal/new/dog")
    driver.type("animal-name", "Bramble")
    driver.click("animal-edit")
    driver.wait("animal-search")
    driver.wait_text("told", "The animal is stored")


@pytest.mark.chromium_only("places are measured")
@pytest.mark.parametrize("size", ["normal", "largest"])
def test_what_is_told_never_lies_over_the_buttons_that_lead_on(
    size, prepared, open_page
):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go("/settings/looks")
    driver.click(f"size-{size}")
    driver.wait_text("saved", "Saved") if size == "largest" else None
    driver.go("/animal/new/dog")
    driver.wait("animal-save")
    driver.click("animal-save")
    driver.wait("told")
    driver.shot(f"told-{size}-phone")
    told = driver.find("told").first.bounding_box()
    foot = driver.find("animal-save").first.bounding_box()
    assert told["y"] + told["height"] <= foot["y"]

"""Who examines, who writes, who began: in a real browser, at the size of a phone."""

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

"""Urgent and nobody near: what is read on the telephone, and that it was heard."""

from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import mark_not_examined
from exam_app.domain.exam.vitals import Setting
from tests.browser.driver import PHONE
from tests.browser.exam_drafts import EXAM_ID, STARTER, prepare_exam
from tests.browser.prepared import PIN, unlock
from tests.browser.test_people import open_draft

COW = Animal("d" * 32, "041 Demo", "cattle", sex=Sex.FEMALE, tag="041", is_demo=True)


def left_in_a_row(exam, protocol):
    """One part left for its own reason, before the rest is cut short."""
    by = Attribution(STARTER.person_id, STARTER.person_id, exam.started, exam.started)
    return mark_not_examined(exam, protocol, "tail", "caked in dung", by)


def open_cow(tmp_path, run_app, open_page):
    folder = prepare_exam(
        tmp_path / "exams", animal=COW, setting=Setting.FARM, alter=left_in_a_row
    )
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    driver.click("exam-urgent")
    driver.click("urgent-sign-down")
    return driver


def close(driver):
    driver.click("exam-stop")
    driver.click("stop-reason-urgent")
    driver.click("stop-confirm")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait_text("record-signed", "the signature fits")


def test_who_heard_it_on_the_telephone_is_recorded_as_told(
    tmp_path, run_app, open_page
):
    driver = open_cow(tmp_path, run_app, open_page)
    # A technician is not offered to be the veterinarian.
    driver.wait("urgent-kind-told")
    driver.gone("urgent-kind-am-veterinarian")
    driver.shot("telephone-answer-phone")
    driver.click("urgent-telephone")
    driver.wait_text("telephone-number", "Hill practice: 555 0123")
    driver.wait_text("telephone-line-0", "041 Demo, cattle, female")
    driver.wait_text("telephone-line-1", "Down, cannot rise")
    driver.wait_text("telephone-line-2", "Nothing was given or done yet")
    driver.wait_text("telephone-line-4", "Alex Rowan, technician")
    driver.shot("telephone-phone")
    driver.click("telephone-told")
    driver.wait_text("sheet", "Say who heard it")
    driver.type("telephone-heard", "Dr Ash at the night line")
    driver.click("telephone-told")
    driver.gone("sheet")
    driver.gone("urgent-banner")
    close(driver)
    driver.read_down_to("told Dr Ash at the night line")
    # What was not done is counted, and its list lies one tap away.
    driver.read_down_to("(stopped early: urgent)")
    driver.scroll_to("record-not-done")
    driver.read_down_to("Tail and tail head: not examined: caked in dung")
    assert ": not examined: stopped early: urgent" not in driver.text("screen")
    driver.shot("record-not-done-phone")
    driver.click("record-not-done")
    driver.read_down_to(": not examined: stopped early: urgent")


def test_urgent_record_of_a_device_without_a_clinic_is_read_on_the_telephone(
    tmp_path, run_app, open_page
):
    driver = open_cow(tmp_path, run_app, open_page)
    driver.click("urgent-kind-tried")
    driver.click("urgent-answer-save")
    driver.gone("sheet")
    close(driver)
    driver.go("/")
    driver.wait_text(driver.named("day-urgent-"), "Urgent, not handed over: 041 Demo")
    driver.click(f"hand-telephone-{EXAM_ID}")
    driver.wait_text("telephone-number", "Hill practice: 555 0123")
    driver.type("telephone-heard", "Dr Ash")
    driver.type("clinic-pin", PIN)
    driver.shot("telephone-closed-phone")
    driver.click("clinic-note-save")
    driver.gone("sheet")
    driver.wait_text(driver.named("day-urgent-"), "Told on the telephone: Dr Ash")
    driver.shot("telephone-day-phone")
    driver.go(f"/record/{EXAM_ID}")
    driver.read_down_to("Told on the telephone: Dr Ash")


def test_details_of_an_urgent_find_say_urgent_and_ask_for_no_call(
    tmp_path, run_app, open_page
):
    folder = prepare_exam(tmp_path / "exams", animal=COW, setting=Setting.FARM)
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    driver.click("region-distance-finding")
    driver.click("finding-term-down")
    driver.wait_text("finding-urgent", "URGENT: Down, cannot rise. No answer yet")
    assert "Your call" not in driver.text("sheet")
    driver.shot("finding-urgent-phone")

"""Records of earlier days stay in reach, all of them, and an animal's on its page."""

from tests.browser.driver import PHONE


def test_every_record_is_in_reach_from_the_first_screen(open_page, run_app):
    driver = open_page(PHONE)
    app = run_app("--demo")
    driver.open(app.first_address())
    driver.wait("day-new")
    driver.click("records")
    driver.named("records-line-")
    driver.shot("records-phone")
    assert len(driver.names("records-line-")) > 3
    driver.click("back")
    driver.click("day-new")
    # The screen before names animals too.
    driver.wait("animal-add")
    driver.read_down_to("Bramble")
    animals = driver.names("animal-")
    driver.click(next(name for name in animals if "Bramble" in driver.text(name)))
    driver.wait("start-go")
    driver.read_down_to("closed")
    driver.shot("animal-records-phone")
    driver.click(driver.named("animal-record-"))
    driver.wait("record-signed")

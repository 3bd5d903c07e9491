"""Records of earlier days stay in reach, all of them, and an animal's on its page."""

from tests.browser.driver import PHONE


def test_every_record_is_in_reach_from_the_first_screen(open_page, run_app):
    driver = open_page(PHONE)
    app = run_app("--demo")
    driver.open(app.first_address())
    driver.wait("day-new")
    driver.click("records")
    lines = driver.page.locator('[flt-semantics-identifier^="records-line-"]')
    lines.first.wait_for(state="attached")
    driver.shot("records-phone")
    assert lines.count() > 3
    driver.click("back")
    driver.click("day-new")
    animal = driver.page.locator('[flt-semantics-identifier^="animal-"]')
    animal.filter(has_text="Bramble").first.wait_for(state="attached")
    name = animal.filter(has_text="Bramble").first.get_attribute(
        "flt-semantics-identifier"
    )
    driver.click(name)
    driver.wait("start-go")
    record = driver.page.locator('[flt-semantics-identifier^="animal-record-"]')
    for _ in range(60):
        if record.count():
            break
        driver.page.mouse.wheel(0, 240)
        driver.page.evaluate("() => new Promise(requestAnimationFrame)")
    driver.shot("animal-records-phone")
    driver.click(record.first.get_attribute("flt-semantics-identifier"))
    driver.wait("record-signed")

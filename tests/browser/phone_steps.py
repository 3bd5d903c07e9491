"""What a person does on the phone's app, step by step, for every test of it."""

PASSPHRASE = "seven blue kettles sing"
PIN = "4321"


def set_up(driver):
    driver.wait("setup-practice")
    driver.click("setup-computer-field")
    driver.type("setup-practice", "Hill practice")
    driver.type("setup-phone", "555 0123")
    driver.click("setup-next")
    driver.wait("setup-passphrase")
    driver.type("setup-passphrase", PASSPHRASE)
    driver.type("setup-passphrase-again", PASSPHRASE)
    driver.click("setup-next")
    driver.wait("person-name")
    driver.type("person-name", "Alex Rowan")
    driver.click("person-role-technician")
    driver.type("person-pin", PIN)
    driver.type("person-pin-again", PIN)
    driver.click("setup-next")
    driver.page.locator('[flt-semantics-identifier="setup-recovery-code"]').wait_for(
        state="attached", timeout=120_000
    )
    code = driver.text("setup-recovery-code").strip().split()[-1]
    driver.type("setup-recovery-typed", code)
    driver.click("setup-next")
    driver.wait("examiner")


def unlock(driver):
    driver.type("unlock-secret", PASSPHRASE)
    driver.click("unlock-open")
    driver.page.locator('[flt-semantics-identifier="examiner"]').wait_for(
        state="attached", timeout=120_000
    )


def begin_exam(driver, scope="focused", age_years=""):
    driver.click("day-new")
    driver.click("animal-add")
    driver.click("animal-add-dog")
    driver.type("animal-name", "Bramble")
    driver.click("animal-sex-male")
    if age_years:
        driver.click("animal-age-basis-as told")
        driver.type("animal-age", age_years)
        driver.click("animal-age-unit-years")
    driver.click("animal-save")
    driver.wait("start-go")
    driver.click(f"start-scope-{scope}")
    if scope == "focused":
        driver.click("start-focus-0")
        driver.click("start-focus-1")
    driver.click("start-go")
    driver.wait("exam-progress")


def rows_unanswered(driver):
    """Give what says "no abnormality found" of each part, once it is current."""
    rows = driver.page.locator('[flt-semantics-identifier$="-row"]')
    rows.first.wait_for(state="attached", timeout=60_000)
    names = [row.get_attribute("flt-semantics-identifier") for row in rows.all()]
    return [f"{name.removesuffix('-row')}-normal" for name in names]


def start_offline(phone_browser, address):
    """Start the browser anew on a phone whose server is gone, and open the app."""
    phone_browser.kill()
    phone_browser.start()
    driver = phone_browser.page()
    driver.open(address)
    return driver


def open_draft(driver):
    start = '[flt-semantics-identifier^="day-draft-"]'
    draft = driver.page.locator(start).first
    draft.wait_for(state="attached", timeout=60_000)
    driver.click(draft.get_attribute("flt-semantics-identifier"))
    driver.wait("exam-progress")


def in_view(driver, identifier):
    """Hold a control to be whole on the screen as it was opened, without scrolling."""
    box = driver.find(identifier).first.bounding_box()
    size = driver.page.viewport_size
    assert box["y"] >= 0, box
    assert box["y"] + box["height"] <= size["height"], box
    assert box["x"] + box["width"] <= size["width"], box

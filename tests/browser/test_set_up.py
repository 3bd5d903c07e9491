"""The first start, on a phone and on a laptop."""

import pytest

from tests.browser.driver import LAPTOP, PHONE, SMALL

PASSPHRASE = "seven blue kettles sing"


@pytest.mark.parametrize(
    "size",
    [
        pytest.param(PHONE, id="phone"),
        pytest.param(LAPTOP, id="laptop"),
    ],
)
def test_set_up_ends_with_a_recovery_code_typed_back_that_opens_the_exams(
    size, tmp_path, run_app, open_page
):
    name = "phone" if size == PHONE else "laptop"
    app = run_app(folder=tmp_path / "exams")
    driver = open_page(size)
    driver.open(app.first_address())
    driver.wait("setup-practice")
    driver.shot(f"set-up-{name}")
    driver.click("setup-next")
    driver.wait_text("setup-computer-problem", "Choose what this device is")
    driver.click("setup-computer-field")
    driver.gone("setup-computer-problem")
    driver.click("setup-next")
    driver.wait_text("setup-practice", "Write the name of the practice")
    driver.type("setup-practice", "Hill practice")
    driver.type("setup-phone", "555 0123")
    driver.click("setup-next")
    driver.wait("setup-passphrase")
    driver.click("setup-next")
    driver.wait_text("setup-passphrase", "at least")
    driver.type("setup-passphrase", PASSPHRASE)
    driver.wait_text("setup-strength", "Strong")
    driver.type("setup-passphrase-again", PASSPHRASE)
    driver.shot(f"set-up-passphrase-{name}")
    driver.click("setup-back")
    driver.wait("setup-practice")
    assert driver.value("setup-practice") == "Hill practice"
    driver.click("setup-next")
    driver.wait("setup-passphrase-again")
    driver.click("setup-next")
    driver.wait("person-name")
    driver.click("setup-next")
    driver.wait_text("person-name", "Write the person")
    driver.type("person-name", "Alex Rowan")
    driver.click("person-role-technician")
    driver.type("person-pin", "4321")
    driver.type("person-pin-again", "4321")
    driver.click("setup-next")
    driver.wait("setup-recovery-code")
    code = driver.text("setup-recovery-code").strip().split()[-1]
    driver.shot(f"recovery-{name}")
    driver.type("setup-recovery-typed", "0000-0000")
    driver.click("setup-next")
    driver.wait_text("setup-problem", "not the code above")
    driver.type("setup-recovery-typed", code.lower())
    driver.click("setup-next")
    driver.wait("examiner")
    driver.gone("code-missing")
    app.stop()
    again = run_app(folder=tmp_path / "exams")
    driver.open(again.first_address())
    driver.click("unlock-other-way")
    driver.type("unlock-secret", code)
    driver.click("unlock-open")
    driver.wait_text("examiner", "AR")


@pytest.mark.chromium_only("places are measured")
def test_each_step_of_the_set_up_fits_a_small_phone(tmp_path, run_app, open_page):
    driver = open_page(SMALL)
    driver.open(run_app(folder=tmp_path / "exams").first_address())
    ends = {}

    def measure(step, last):
        driver.wait(last)
        driver.shot(f"set-up-{step}-small")
        foot = driver.find("setup-next").first.bounding_box()
        box = driver.find(last).first.bounding_box()
        ends[step] = (round(box["y"] + box["height"]), round(foot["y"]))

    measure(1, "setup-restore")
    driver.click("setup-computer-field")
    driver.type("setup-practice", "Hill practice")
    driver.type("setup-phone", "555 0123")
    driver.click("setup-next")
    measure(2, "setup-passphrase-again")
    driver.type("setup-passphrase", PASSPHRASE)
    driver.type("setup-passphrase-again", PASSPHRASE)
    driver.click("setup-next")
    measure(3, "setup-more")
    assert all(last <= foot for last, foot in ends.values()), ends

"""The stored exams are looked after on one screen, in a real browser."""

import pytest

from tests.browser.driver import LAPTOP, PHONE
from tests.browser.prepared import PASSPHRASE, unlock


@pytest.mark.parametrize(
    "size",
    [
        pytest.param(PHONE, id="phone"),
        pytest.param(LAPTOP, id="laptop"),
    ],
)
def test_exams_are_checked_backed_up_and_sealed_anew(
    size, prepared, open_page, tmp_path
):
    name = "phone" if size == PHONE else "laptop"
    driver = open_page(size)
    unlock(driver, prepared)
    driver.go("/settings/care")
    driver.wait_text("care-facts", "0 exams closed")
    driver.shot(f"store-care-{name}")
    driver.click("care-check")
    driver.wait_text("care-said", "read and is whole")
    driver.click("care-backup")
    driver.wait_text("care-place", "Write where the backup goes")
    driver.type("care-place", str(tmp_path))
    driver.click("care-backup")
    driver.wait_text("care-facts", ".backup")
    driver.shot(f"store-care-backup-{name}")
    [backup] = tmp_path.glob("exams-*.backup")
    assert backup.stat().st_size > 1000
    driver.click("care-room")
    driver.wait_text("care-said", "Making room")
    driver.type("care-passphrase", "not this one")
    driver.click("care-key")
    driver.wait_text("care-passphrase", "That is not the passphrase")
    driver.shot(f"store-care-key-{name}")
    driver.type("care-passphrase", PASSPHRASE)
    driver.click("care-key")
    driver.wait("setup-recovery-code")
    driver.shot(f"store-care-code-{name}")

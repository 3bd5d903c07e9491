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
    driver.go("/settings/upkeep")
    driver.wait_text("upkeep-facts", "0 exams closed")
    driver.shot(f"store-care-{name}")
    driver.click("upkeep-check")
    driver.wait_text("upkeep-said", "read and is whole")
    driver.click("upkeep-backup")
    driver.wait_text("upkeep-place", "Write where the backup goes")
    driver.type("upkeep-place", str(tmp_path))
    driver.click("upkeep-backup")
    driver.wait_text("upkeep-facts", ".backup")
    driver.shot(f"store-care-backup-{name}")
    [backup] = tmp_path.glob("exams-*.backup")
    assert backup.stat().st_size > 1000
    driver.click("upkeep-room")
    driver.wait_text("upkeep-said", "Making room")
    driver.type("upkeep-passphrase", "not this one")
    driver.click("upkeep-key")
    driver.wait_text("upkeep-passphrase", "That is not the passphrase")
    driver.shot(f"store-care-key-{name}")
    driver.type("upkeep-passphrase", PASSPHRASE)
    driver.click("upkeep-key")
    driver.wait("setup-recovery-code")
    driver.shot(f"store-care-code-{name}")

"""Exams moved from one address to another by a backup, in one real browser."""

import pytest
from playwright.sync_api import expect

from tests.browser.driver import PHONE
from tests.browser.phone_app import PhoneDriver, give_out, take_away
from tests.browser.phone_steps import PASSPHRASE, begin_exam, open_draft, set_up

pytestmark = pytest.mark.chromium_only("the static app on a phone")

LONG_MS = 120_000


@pytest.fixture
def open_phone(chromium, shots):
    context = chromium.new_context(viewport=PHONE, has_touch=True)
    yield lambda: PhoneDriver(context.new_page(), shots)
    context.close()


@pytest.fixture
def other_host(built):
    host = give_out(built.folder)
    yield host
    take_away(host)


def test_exams_backed_up_under_one_address_are_restored_under_another(
    open_phone, host, other_host, tmp_path
):
    old, new = (f"http://127.0.0.1:{one.port}" for one in (host, other_host))
    driver = open_phone()
    driver.open(f"{old}/")
    driver.wait_text("setup-address", f"Exams belong to this address: {old}.")
    driver.shot("phone-moving-set-up")
    set_up(driver)
    begin_exam(driver)
    driver.wait_text("saved", "Saved")
    backup = tmp_path / "exams.backup"
    driver.go("/settings/upkeep")
    with driver.page.expect_download(timeout=LONG_MS) as loaded:
        driver.click("upkeep-download")
    loaded.value.save_as(backup)
    driver.page.close()

    driver = open_phone()
    driver.open(f"{new}/")
    driver.wait_text("setup-address", new)
    driver.click("setup-restore")
    driver.wait("restore-pick")
    driver.shot("phone-restore")
    refuse_wrong_files(driver, backup, tmp_path)
    choose(driver, backup)
    driver.wait("restore-file")
    driver.type("restore-secret", "not the passphrase")
    driver.click("restore-go")
    wait_long(driver, "restore-said")
    driver.wait_text("restore-said", "does not open these exams")
    driver.shot("phone-restore-wrong")
    driver.type("restore-secret", PASSPHRASE)
    driver.click("restore-go")
    wait_long(driver, "setup-recovery-code")
    code = driver.text("setup-recovery-code").strip().split()[-1]
    driver.type("setup-recovery-typed", code)
    driver.click("setup-next")
    driver.wait_text("restore-moved", f"came from {old}. That address still holds")
    driver.shot("phone-restored")
    driver.click("restore-understood")
    driver.wait("examiner")
    expect(driver.find("code-missing")).to_have_count(0)
    driver.shot("phone-restored-day")
    open_draft(driver)
    driver.wait_text("screen", "Bramble")
    driver.go("/about")
    driver.wait_text("about-address", f"They were restored from {old}")
    driver.shot("phone-restored-about")
    driver.go("/hand-over")
    driver.wait("hand-open")
    assert not driver.has("hand-folder-path")
    driver.shot("phone-hand-over-no-folder")


def refuse_wrong_files(driver, backup, folder):
    content = backup.read_bytes()
    for name, wrong in (("cut", content[:-7]), ("foreign", b"%PDF-1.7 " * 500)):
        (folder / name).write_bytes(wrong)
        choose(driver, folder / name)
        driver.wait_text("restore-said", "not a whole backup")
        driver.shot(f"phone-restore-{name}")
    assert not driver.has("restore-file")


def choose(driver, path):
    with driver.page.expect_file_chooser() as chooser:
        driver.click("restore-pick")
    chooser.value.set_files(path)


def wait_long(driver, identifier):
    driver.find(identifier).first.wait_for(state="attached", timeout=LONG_MS)

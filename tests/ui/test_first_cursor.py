"""Where the cursor stands before anything was tapped."""

import pytest

from tests.browser.driver import LAPTOP, PHONE
from tests.browser.in_process import opened
from tests.browser.prepared import PASSPHRASE, prepare_folder


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_no_first_screen_takes_the_cursor_before_a_screen_reader_asks(size, tmp_path):
    with opened(folder=prepare_folder(tmp_path / "exams"), size=size) as driver:
        field = driver._entry("unlock-secret").control
        assert not field.get("autofocus", False)


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_the_pin_is_typed_at_once_where_a_screen_was_locked(size, tmp_path):
    with opened(folder=prepare_folder(tmp_path / "exams"), size=size) as driver:
        driver.type("unlock-secret", PASSPHRASE)
        driver.click("unlock-open")
        driver.click("examiner")
        driver.click("lock-now")
        driver.wait("lock-pin")
        assert driver._entry("lock-pin").control.get("autofocus", False)

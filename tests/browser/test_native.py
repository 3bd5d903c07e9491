"""The page of a native package, with files of its own, shown by this computer."""

from pathlib import Path

import pytest

from tests.browser.driver import start_app
from tests.browser.phone_steps import begin_exam, open_draft, set_up, unlock

pytestmark = pytest.mark.chromium_only("a started process")

SCRIPT = Path(__file__).with_name("native_app.py")


@pytest.fixture
def start(tmp_path):
    started = []

    def one():
        app = start_app(folder=tmp_path / "own", script=SCRIPT)
        started.append(app)
        return app

    yield one
    for app in started:
        app.stop()


def test_a_native_page_keeps_an_exam_in_its_own_folder_and_refuses_a_second_copy(
    start, phone, tmp_path
):
    app = start()
    phone.open(app.first_address())
    set_up(phone)
    begin_exam(phone)
    phone.wait_text("saved", "Saved")
    assert (tmp_path / "own/exams/vault.head").stat().st_size > 0

    second = start()
    phone.open(second.first_address())
    phone.wait_text("refusal", "The exams were not opened")
    phone.shot("native-second-copy")
    second.process.kill()
    app.process.kill()
    app.process.wait(timeout=20)

    phone.open(start().first_address())
    unlock(phone)
    open_draft(phone)
    phone.shot("native-found-again")

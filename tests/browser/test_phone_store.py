"""The browser's own store under kills: what was acknowledged is found again."""

import json
from pathlib import Path

import pytest

from exam_app.phone.building import build_app
from exam_app.phone.errors import PartsNotFetchedError
from tests.browser.phone_app import give_out, take_away
from tests.store_disks import report, seeded

ROUNDS = 24
PATIENCE_MS = 120_000
# Python's worker alone, on a page of the same origin that draws nothing.
START_WORKER = "() => { window.python = new Worker('/worker.js', {type: 'module'}); }"


class Saving:
    """A page whose worker saves without end, and what it was heard to say."""

    def __init__(self, page, address):
        self.page, self.acknowledged, self.found, self.failed = page, [], None, []
        page.on("console", lambda message: self._hear(message.text))
        page.goto(f"{address}LICENSES.txt")
        with page.expect_console_message(
            lambda message: message.text.startswith(("FOUND", "FAILED")),
            timeout=PATIENCE_MS,
        ):
            page.evaluate(START_WORKER)

    def _hear(self, text):
        kind, _, rest = text.partition(" ")
        if kind == "FOUND":
            self.found = json.loads(rest)
        elif kind == "SAVED":
            self.acknowledged.append(int(rest))
        elif kind == "FAILED":
            self.failed.append(rest)


@pytest.fixture(scope="module")
def saving_host(tmp_path_factory):
    """The built app with the saving module in the place of its screens."""
    code = Path(__file__).with_name("phone_store.py").read_text("utf-8")
    folder = tmp_path_factory.mktemp("saving") / "app"
    try:
        build_app(folder, lambda _: None, f"{code}\n\nstart()\n")
    except PartsNotFetchedError as error:
        pytest.skip(f"the Python package index was not reached: {error}")
    host = give_out(folder)
    yield host
    take_away(host)


def install(phone_browser, address):
    """Load the app once, so that it is kept and answers for every page."""
    driver = phone_browser.page()
    driver.page.goto(address)
    driver.page.wait_for_function(
        "() => navigator.serviceWorker.controller !== null", timeout=PATIENCE_MS
    )
    driver.page.close()


def end(phone_browser, saving, how):
    """End the saving page like a dead battery, a reload or a closed tab."""
    if how == "killed":
        phone_browser.kill()
        phone_browser.start()
    elif how == "reloaded":
        saving.page.reload()
        saving.page.close()
    else:
        saving.page.close()


@pytest.mark.exhaustive
def test_a_killed_browser_loses_no_acknowledged_save(
    phone_browser, saving_host, capsys
):
    address = f"http://127.0.0.1:{saving_host.port}/"
    install(phone_browser, address)
    rng, acknowledged, total, kills = seeded(7), 0, 0, 0
    for number in range(ROUNDS + ROUNDS // 4 + 1):
        saving = Saving(phone_browser.page().page, address)
        assert saving.failed == []
        assert saving.found["faults"] == []
        assert saving.found["damage"] is None
        assert acknowledged <= saving.found["turn"]
        saving.page.wait_for_timeout(100 + rng.random() * 1500)
        how = ("reloaded" if number % 2 else "closed") if number % 5 == 4 else "killed"
        end(phone_browser, saving, how)
        assert saving.failed == []
        total += len(saving.acknowledged)
        kills += how == "killed"
        acknowledged = max([saving.found["turn"], *saving.acknowledged])
    assert kills >= ROUNDS
    assert total > kills
    report(
        capsys,
        f"{kills} kills of the browser, {number + 1 - kills} reloads and closed tabs, "
        f"{total} acknowledged saves, 0 lost",
    )

"""The browser's own store under kills: what was acknowledged is found again."""

import json
import re
from pathlib import Path

import pytest

from tests.store_disks import seeded

pytestmark = pytest.mark.chromium_only("the browser's own storage")

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


@pytest.fixture
def give_out_saving(give_out_started):
    """Give out the built app with the saving module in the place of its screens."""

    def give(**numbers):
        code = Path(__file__).with_name("phone_store.py").read_text("utf-8")
        for name, number in numbers.items():
            line = f"{name} = {number}"
            code, count = re.subn(f"^{name} = .*$", line, code, flags=re.MULTILINE)
            assert count == 1
        return give_out_started(f"{code}\n\nstart()\n")

    return give


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


def test_a_killed_browser_loses_no_acknowledged_save(phone_browser, give_out_saving):
    address = give_out_saving()
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
    print(
        f"{kills} kills of the browser, {number + 1 - kills} reloads and closed tabs, "
        f"{total} acknowledged saves, 0 lost",
    )


def test_a_browser_without_room_refuses_the_save_and_loses_none_before_it(
    phone_browser, give_out_saving
):
    # Long texts that stay: Chromium takes room for four million bytes at a time.
    address = give_out_saving(LONGER=2000, EVERY=10**6)
    install(phone_browser, address)
    saving = Saving(phone_browser.page().page, address)
    session = saving.page.context.new_cdp_session(saving.page)
    asked = {"origin": address.rstrip("/"), "quotaSize": 1}
    with saving.page.expect_console_message(
        lambda message: message.text.startswith("FAILED"), timeout=PATIENCE_MS
    ):
        session.send("Storage.overrideQuotaForOrigin", asked)
    assert [f.split(":")[0] for f in saving.failed] == ["VaultFullError"]
    acknowledged = saving.acknowledged[-1]
    saving.page.close()
    again = Saving(phone_browser.page().page, address)
    assert again.found == {"turn": acknowledged, "faults": [], "damage": None}
    again.page.wait_for_timeout(500)
    assert again.failed == []
    assert again.acknowledged[0] == acknowledged + 1

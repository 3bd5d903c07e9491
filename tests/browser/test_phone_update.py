"""From one release of the phone's app to the next, in a real browser.

The release before is built from the history where the clone has it, else from the same
sources with another first module. Which release runs is read from the code that
answers and from what the app says.
"""

import hashlib
import random
import sys

import pytest

from exam_app.phone.building import START
from exam_app.phone.serving import read_build
from tests.browser import phone_releases as releases
from tests.browser.phone_app import (
    asked_of,
    built_or_skipped,
    give_out,
    take_away,
)
from tests.browser.phone_steps import (
    PIN,
    begin_exam,
    open_draft,
    rows_unanswered,
    set_up,
    start_offline,
    unlock,
)

pytestmark = pytest.mark.chromium_only("a service worker")


def code_of(folder):
    return hashlib.sha256((folder / "app.zip").read_bytes()).hexdigest()


@pytest.fixture(scope="module")
def older(built, tmp_path_factory):
    folder = tmp_path_factory.mktemp("older")
    first = releases.build_first_release(folder / "first")
    if first is not None:
        return first
    sys.stdout.write("no history: the older one is today's with another first module\n")
    marked = f"# Another release.\n{START}"
    return built_or_skipped(folder / "marked", marked).folder


@pytest.fixture
def given_out(older, built):
    """One place on the network; what it gives out changes under it."""
    hosts = [give_out(older)]
    yield hosts
    for host in hosts:
        take_away(host)


def begin(driver):
    """Set up, and answer the first of two rows."""
    set_up(driver)
    begin_exam(driver)
    first, last = rows_unanswered(driver)
    driver.click(first)
    driver.wait_text("saved", "Saved")
    driver.wait_text("exam-progress", "1 of ")
    return last


def reopen(driver):
    unlock(driver)
    open_draft(driver)
    driver.wait_text("exam-progress", "1 of ")


def test_an_exam_begun_before_an_update_goes_on_and_is_closed_after_it(
    phone_browser, older, built, given_out
):
    [host] = given_out
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    last = begin(driver)
    assert releases.code_that_answers(driver) == code_of(older)

    host.files = read_build(built.folder)
    driver = start_offline(phone_browser, address)  # The browser anew; the host is on.
    releases.await_waiting(driver)
    assert releases.code_that_answers(driver) == code_of(older)
    reopen(driver)
    driver.page.reload()
    driver.wake_semantics()
    assert releases.code_that_answers(driver) == code_of(older)
    take_away(given_out.pop())
    phone_browser.kill()
    releases.excuse_the_first(phone_browser.asked)

    phone_browser.has_signal = False
    driver = start_offline(phone_browser, address)
    assert releases.code_that_answers(driver) == code_of(built.folder)
    unlock(driver)
    driver.go("/about")
    driver.scroll_to("about-release")
    driver.wait_text("about-release", f"Release {built.release}")
    driver.shot("phone-release")
    driver.go("/")
    open_draft(driver)
    driver.wait_text("exam-progress", "1 of ")
    driver.click(last)
    driver.wait_text("saved", "Saved")
    driver.click("exam-review")
    driver.wait_text("review-status", "Nothing is open")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait_text("record-signed", "the signature fits")
    driver.go("/")
    driver.wait(driver.named("day-closed-"))


def test_a_newer_release_is_told_waits_for_the_app_to_be_closed_and_can_be_taken_back(
    phone_browser, built, host, tmp_path
):
    newer = releases.changed_release(built, tmp_path / "newer", "newer")
    assert newer != built.release
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    begin(driver)
    driver.go("/")
    driver.wait("day-new")
    driver.gone("day-release")
    host.files = read_build(tmp_path / "newer")
    assert releases.ask_for_update(driver) == "waits"
    open_draft(driver)
    driver.wait_text("exam-progress", "1 of ")
    driver.go("/")
    driver.wait_text("day-release", "close the app in every window")
    driver.scroll_to("day-release")
    driver.shot("phone-release-waits")
    driver.go("/about")
    driver.scroll_to("about-release")
    driver.wait_text("about-release", f"Release {built.release}")
    driver.wait_text("about-release", "A newer release")
    driver.shot("phone-release-about")
    assert releases.told_by_keeper(driver) == {"release": built.release, "newer": True}

    driver = start_offline(phone_browser, address)
    assert releases.told_by_keeper(driver) == {"release": newer, "newer": False}
    reopen(driver)
    # The clinic takes the newer one back: its host gives the earlier one out again.
    host.files = read_build(built.folder)
    assert releases.ask_for_update(driver) == "waits"
    take_away(host)
    driver = start_offline(phone_browser, address)
    told = releases.told_by_keeper(driver)
    assert told == {"release": built.release, "newer": False}
    reopen(driver)


def test_a_release_that_is_not_whole_is_refused_and_the_one_here_runs_on(
    phone_browser, built, host, tmp_path
):
    for number in range(releases.FAULT_COUNT):
        # Each of its own, else a part that came before would not be asked for again.
        releases.changed_release(built, tmp_path / str(number), f"faulty {number}")
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    begin(driver)
    ours = {"release": built.release, "newer": False}
    for name, _, files in releases.faulty(tmp_path):
        host.files = files
        assert releases.ask_for_update(driver) == "refused", name
        assert releases.told_by_keeper(driver) == ours, name
        sys.stdout.write(f"refused: {name}\n")
    # The last network still asks to log in: what it answers is shown to nobody.
    driver = start_offline(phone_browser, address)
    assert releases.told_by_keeper(driver) == ours
    reopen(driver)
    take_away(host)
    phone_browser.has_signal = False
    driver = start_offline(phone_browser, address)
    assert releases.told_by_keeper(driver) == ours
    assert releases.code_that_answers(driver) == code_of(built.folder)
    reopen(driver)


def test_an_update_that_is_cut_off_goes_on_later_from_where_it_stopped(
    phone_browser, built, host, tmp_path
):
    newer = releases.changed_release(built, tmp_path / "newer", "newer")
    whole = read_build(tmp_path / "newer")
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    driver.wait("setup-practice")
    host.files = cut = releases.CutOff(whole, left=3)
    assert releases.ask_for_update(driver) == "refused"
    assert len(cut.given) == 3
    take_away(host)
    driver = start_offline(phone_browser, address)
    driver.wait("setup-practice")
    assert releases.told_by_keeper(driver)["release"] == built.release

    again = give_out(tmp_path / "newer", host.port)
    assert releases.ask_for_update(driver) == "waits"
    take_away(again)
    asked = {path.strip("/") for path in asked_of(again)} - {"keeper.js"}
    came = {path.strip("/") for path in cut.given}
    assert asked == set(releases.CHANGED) - came
    driver = start_offline(phone_browser, address)
    driver.wait("setup-practice")
    assert releases.told_by_keeper(driver) == {"release": newer, "newer": False}


def test_an_update_that_does_not_fit_leaves_the_room_to_the_exams(
    phone_browser, built, host, tmp_path
):
    large = random.Random(4).randbytes(8_000_000).hex()
    newer = releases.changed_release(built, tmp_path / "newer", large)
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    driver.wait("setup-practice")
    files = releases.kept_files(driver)
    host.files = read_build(tmp_path / "newer")
    session = driver.page.context.new_cdp_session(driver.page)
    used = driver.page.evaluate("navigator.storage.estimate().then(e => e.usage)")
    asked = {"origin": address.rstrip("/")}
    quota = {**asked, "quotaSize": used + 40_000_000}
    session.send("Storage.overrideQuotaForOrigin", quota)
    assert releases.ask_for_update(driver) == "refused"
    assert releases.kept_files(driver) == files
    session.send("Storage.overrideQuotaForOrigin", asked)
    assert releases.ask_for_update(driver) == "waits"
    assert len(releases.kept_files(driver)) == len(files) + len(releases.CHANGED)
    driver = start_offline(phone_browser, address)
    driver.wait("setup-practice")
    assert releases.told_by_keeper(driver) == {"release": newer, "newer": False}
    assert len(releases.kept_files(driver)) == len(files)

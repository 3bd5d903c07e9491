"""A whole export from the settings: begun, stopped, gone on with, and checked."""

import asyncio
import threading
from dataclasses import replace

import pytest

from exam_app.whole_export import running
from exam_app.whole_export.checking import check_export
from exam_app.whole_export.contents import UNFINISHED
from exam_app.whole_export.running import running_in
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.handed import fill_closed
from tests.browser.in_process import unlocked
from tests.browser.prepared import in_store, prepare_folder, unlock

RECORDS = 5


def filled(tmp_path, count=RECORDS):
    folder = prepare_folder(tmp_path / "exams")
    in_store(folder, lambda vault: fill_closed(vault, count))
    return folder


def export_into(driver, target):
    driver.go("/settings/export")
    driver.wait("export-begin")
    driver.type("export-folder", str(target))
    driver.click("export-begin")


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_everything_is_exported_and_the_folder_checks_itself(
    run_app, open_page, tmp_path, size
):
    driver, target = open_page(size), tmp_path / "out"
    unlock(driver, run_app(folder=filled(tmp_path)))
    driver.go("/settings")
    driver.click("settings-export")
    driver.wait("export-begin")
    driver.shot(f"export-before-{size['width']}")
    driver.type("export-folder", str(target))
    driver.click("export-begin")
    driver.wait_text("export-said", f"{RECORDS} records in {target}")
    driver.shot(f"export-after-{size['width']}")
    found = check_export(target)
    assert (found.records, found.faults) == (RECORDS, [])
    assert found.key in driver.text("export-said")
    # The place is remembered, and nothing is written twice.
    driver.go("/settings")
    driver.wait("settings-export")
    driver.go("/settings/export")
    driver.wait("export-begin")
    assert driver.value("export-folder") == str(target)
    driver.click("export-begin")
    driver.wait_text("export-said", ", 0 of them written now")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "Write where the export goes"),
        ("out", "from its beginning"),
        ("{tmp}/nowhere/out", "There is no such folder now"),
        ("{tmp}/exams/out", "The exams themselves lie there"),
        ("{tmp}", "The exams themselves lie there"),
    ],
)
def test_a_place_that_is_none_is_refused_under_its_field(tmp_path, typed, said):
    with unlocked(filled(tmp_path, 1), PHONE) as driver:
        driver.go("/settings/export")
        driver.wait("export-begin")
        driver.type("export-folder", typed.replace("{tmp}", str(tmp_path)))
        driver.click("export-begin")
        driver.wait_text("export-folder", said)
        assert not driver.has("export-work")


@pytest.fixture
def held(monkeypatch):
    """Hold an export before its second record until it is let go; the app goes on."""
    gate, real = threading.Event(), running.export_all

    async def slowly(*given):
        *most, pace = given
        parts = 0

        async def in_turn(part):
            nonlocal parts
            parts += 1
            # The first part begins the folder.
            while parts > 2 and not gate.is_set():
                await asyncio.sleep(0.01)
            await pace.in_turn(part)

        return await real(*most, replace(pace, in_turn=in_turn))

    monkeypatch.setattr(running, "export_all", slowly)
    return gate


def test_a_stopped_export_is_gone_on_with(tmp_path, held):
    target = tmp_path / "out"
    with unlocked(filled(tmp_path), PHONE) as driver:
        export_into(driver, target)
        driver.wait_text("export-work", f"1 of {RECORDS} records")
        driver.click("export-stop")
        driver.wait_text("export-work", "It ends after this record")
        held.set()
        driver.wait_text("export-said", "Stopped. What is written stays")
        assert (target / UNFINISHED).is_file()
        done = len(list(target.glob("records/*/*/SHA256SUMS")))
        assert 0 < done < RECORDS
        assert driver.text("export-begin") == "Go on"
        driver.click("export-begin")
        left = f", {RECORDS - done} of them written now"
        driver.wait_text("export-said", left)
        assert check_export(target).records == RECORDS


def test_an_export_goes_on_while_other_screens_are_shown_and_saved_in(tmp_path, held):
    target = tmp_path / "out"
    with unlocked(filled(tmp_path), LAPTOP) as driver:
        export_into(driver, target)
        driver.wait_text("export-work", f"1 of {RECORDS} records")
        driver.go("/settings/looks")
        driver.wait("look-dark")
        held.set()
        driver.click("look-dark")
        driver.go("/settings/export")
        driver.wait_text("export-said", f"{RECORDS} records in")
        assert driver.app.session.vault.settings.get("look") == "dark"
        assert check_export(target).is_consistent


def test_a_second_export_is_refused_while_one_is_under_way(tmp_path, held):
    with unlocked(filled(tmp_path), PHONE) as driver:
        export_into(driver, tmp_path / "out")
        driver.wait_text("export-work", f"1 of {RECORDS} records")
        assert not driver.has("export-begin")
        held.set()
        driver.wait("export-said")


def test_an_export_that_the_lock_ended_says_so_and_is_gone_on_with(tmp_path, held):
    target = tmp_path / "out"
    with unlocked(filled(tmp_path), PHONE) as driver:
        export_into(driver, target)
        driver.wait_text("export-work", f"1 of {RECORDS} records")
        driver.app.run(locked(driver.app.session, held))
        assert (target / UNFINISHED).is_file()
        assert not check_export(target).is_consistent


async def locked(session, held):
    run = running_in(session.vault)
    session.seal()
    held.set()
    while run.is_running:
        await asyncio.sleep(0.01)
    assert "locked" in run.lines[0]


def test_private_notes_are_offered_to_a_veterinarian_alone(tmp_path):
    with unlocked(filled(tmp_path, 1), PHONE) as driver:
        driver.go("/settings/export")
        driver.wait("export-owners")
        assert not driver.has("export-notes")


def test_a_folder_of_other_things_is_left_alone(tmp_path):
    target = tmp_path / "mine"
    target.mkdir()
    (target / "letter.txt").write_text("mine")
    with unlocked(filled(tmp_path, 1), PHONE) as driver:
        export_into(driver, target)
        driver.wait_text("export-said", "other files and no export")
    assert [one.name for one in target.iterdir()] == ["letter.txt"]

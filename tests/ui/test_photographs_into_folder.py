"""Records in the folder count as shown, whatever becomes of their photographs."""

import pytest

from exam_app.app.handover import photographs as handed
from exam_app.domain.exam.photographs import add_photo
from exam_app.domain.exam.visit import Photo
from exam_app.ui.handover import hand_over
from sync.errors import FolderError
from tests.browser.handed import fill_closed, pair_with_invented_clinic
from tests.browser.in_process import unlocked
from tests.browser.prepared import in_store, prepare_folder
from tests.pictures import hash_of, picture


def photographed(exam, protocol, _by):
    return add_photo(exam, protocol, Photo(hash_of(picture(1)), "Standing"))


def fill(vault):
    pair_with_invented_clinic(vault)
    fill_closed(vault, 1, photographed)
    (exam,) = vault.closed.latest(1)
    vault.photographs.add(exam.exam_id, picture(1))


@pytest.fixture
def driver(tmp_path):
    folder = prepare_folder(tmp_path / "exams")
    in_store(folder, fill)
    with unlocked(folder) as opened:
        yield opened


def test_bundles_that_are_written_are_shown_though_no_photograph_could_be(
    driver, tmp_path, monkeypatch
):
    def is_full(*_given):
        raise FolderError("photographs")

    monkeypatch.setattr(hand_over, "put_photographs", is_full)
    between = tmp_path / "between"
    between.mkdir()
    driver.go("/hand-over")
    driver.type("hand-folder-path", str(between))
    driver.click("hand-folder-save")
    driver.wait_text("told", "The folder was kept.")
    driver.click("hand-folder")
    driver.wait_text("refusal", FolderError.advice)
    assert list(between.rglob("*.exam-bundle"))
    driver.click("refusal-close")
    driver.wait_text("hand-bundle-1", "shown; the clinic has not confirmed it")


def test_what_waits_is_worked_out_once_for_a_screen(driver, monkeypatch):
    counted, usual = [], handed.to_hand_over
    monkeypatch.setattr(
        handed, "to_hand_over", lambda given: counted.append(1) or usual(given)
    )
    driver.go("/hand-over")
    driver.wait_text("hand-photographs-said", "1 photograph goes by folder or file")
    assert len(counted) == 1

"""The sheets of an exam's photographs while something of them is saved or prepared."""

import asyncio
from dataclasses import replace

import pytest

from exam_app.domain.errors import TooManyPhotographsError
from exam_app.domain.exam.photographs import MOST_PHOTOS
from exam_app.domain.exam.visit import Photo
from exam_app.ui.photographs import take_sheet
from tests.browser.cheap_app import as_environment_asks
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked
from tests.browser.prepared import in_store
from tests.browser.test_typed_words import busy_store, leave, with_a_find
from tests.photographs import content_of, drawn, from_a_phone
from tests.pictures import hash_of, picture

EXAM = f"/exam/{EXAM_ID}"


def photographed(count, exam, protocol):
    """An exam with photographs of the whole animal, as the record schema has them."""
    exam = with_a_find(exam, protocol)
    by = next(iter(exam.regions["skin_coat"].findings)).attribution
    shown = (
        Photo(hash_of(picture(n)), f"View {n}", width=16, height=12, attribution=by)
        for n in range(count)
    )
    return replace(exam, photos=tuple(shown))


def prepared(folder, count=1):
    prepare_exam(folder, alter=lambda *given: photographed(count, *given))
    in_store(folder, lambda vault: vault.photographs.add(EXAM_ID, picture(0)))
    return folder


@pytest.fixture
def driver(tmp_path):
    folder = prepared(tmp_path / "exams")
    with as_environment_asks(), unlocked(folder) as driver:
        yield driver


def open_kept(driver):
    driver.go(EXAM)
    driver.click("exam-more")
    driver.click("exam-photographs")
    driver.wait("photo-more")


def choose(driver, folder, name="lump.jpg", content=None):
    path = folder / name
    path.write_bytes(from_a_phone(6) if content is None else content)
    driver.choose("photo-choose", [path])


def taken(driver, folder):
    open_kept(driver)
    driver.click("photo-more")
    choose(driver, folder)
    driver.type("photo-caption", "Standing")
    return "photo-save"


def taken_out(driver, _folder):
    open_kept(driver)
    driver.click(driver.named("photo-of-"))
    return "photo-out"


def said_otherwise(driver, folder):
    taken_out(driver, folder)
    driver.click("photo-say")
    driver.type("photo-caption", "From the left")
    return "photo-words-save"


SAVES = {"take": taken, "take out": taken_out, "say": said_otherwise}
BECOME = {
    "take": ["View 0", "Standing"],
    "take out": [],
    "say": ["From the left"],
}


def captions(driver):
    kept = driver.app.session.vault.drafts.get(EXAM_ID)
    return [one["caption"] for one in kept.get("photos", [])]


@pytest.mark.slow
@pytest.mark.parametrize("name", SAVES)
def test_another_sheet_opened_while_a_photograph_is_saved_stays(name, driver, tmp_path):
    save = SAVES[name](driver, tmp_path)
    with busy_store(driver):
        driver.click(save)
        leave_all(driver)
        driver.click("examiner")
        driver.wait("lock-now")
    # Asked once the app is at rest: everything is saved.
    assert driver.has("lock-now")
    assert captions(driver) == BECOME[name]


def leave_all(driver):
    """Go away from the sheet, and from the list that it was opened from."""
    while driver.has("sheet") or driver.has("photo-view"):
        driver.press("Escape")


@pytest.mark.slow
@pytest.mark.parametrize("name", SAVES)
def test_nothing_is_opened_after_a_sheet_that_was_closed_while_it_saved(
    name, driver, tmp_path
):
    save = SAVES[name](driver, tmp_path)
    with busy_store(driver):
        driver.click(save)
        leave_all(driver)
    assert not driver.has("photo-more")
    assert not driver.has("sheet")
    assert captions(driver) == BECOME[name]


@pytest.mark.slow
@pytest.mark.parametrize("name", SAVES)
def test_a_save_leads_back_to_the_photographs_where_nothing_was_opened(
    name, driver, tmp_path
):
    driver.click(SAVES[name](driver, tmp_path))
    assert driver.has("photo-more") is bool(BECOME[name])
    assert captions(driver) == BECOME[name]
    driver.go(f"{EXAM}/review")
    driver.wait("review-status")
    # What was saved is not told as typed and unsaved.
    assert not driver.has("typed-notice")


@pytest.mark.slow
def test_a_picture_is_not_thrown_away_while_the_next_one_is_prepared(
    driver, tmp_path, monkeypatch
):
    gate, prepare = asyncio.Event(), take_sheet.prepare_photograph

    async def waiting(content):
        await gate.wait()
        return await prepare(content)

    async def opened():
        gate.set()

    taken(driver, tmp_path)
    monkeypatch.setattr(take_sheet, "prepare_photograph", waiting)
    choose(driver, tmp_path, "next.png", content_of(drawn(800, 600), "PNG"))
    driver.wait("photo-busy")
    for name in ("photo-drop", "photo-choose", "photo-save"):
        assert driver.has(name)
        assert not driver._look(lambda name=name: driver._tappable(name)), name
    driver.app.run(opened())
    driver.wait("photo-preview")
    driver.click("photo-drop")
    driver.wait_text("told", "thrown away; it was never saved")
    driver.go(f"{EXAM}/review")
    driver.wait("review-status")
    assert not driver.has("typed-notice")


@pytest.mark.slow
def test_one_photograph_too_many_is_refused_before_it_is_chosen(tmp_path):
    folder = prepared(tmp_path / "exams", MOST_PHOTOS)
    with as_environment_asks(), unlocked(folder) as driver:
        open_kept(driver)
        driver.click("photo-more")
        choose(driver, tmp_path)
        driver.wait_text("photo-problem", TooManyPhotographsError.advice)
        assert not driver.has("photo-preview")
        # Nothing was prepared and kept for it.
        assert driver.app.session.vault.photographs.space().count == 1
        # One is taken out; then it is taken.
        leave(driver)
        open_kept(driver)
        driver.click(driver.named("photo-of-"))
        driver.click("photo-out")
        driver.wait("photo-more")
        driver.click("photo-more")
        choose(driver, tmp_path)
        driver.wait("photo-preview")
        driver.type("photo-caption", "Standing")
        driver.click("photo-save")
        driver.wait("photo-more")
        assert len(captions(driver)) == MOST_PHOTOS


@pytest.mark.slow
def test_a_picture_is_kept_once_for_its_save(driver, tmp_path, monkeypatch):
    save, kept = taken(driver, tmp_path), []
    photographs = driver.app.session.vault.photographs
    monkeypatch.setattr(type(photographs), "add", lambda *given: kept.append(given))
    driver.click(save)
    driver.wait("photo-more")
    assert kept == []
    (row,) = (one for one in photographs.rows() if one.sha256 != hash_of(picture(0)))
    named = driver.app.session.vault.drafts.get(EXAM_ID)["photos"][1]
    assert (named["sha256"], named["width"]) == (row.sha256, row.width)

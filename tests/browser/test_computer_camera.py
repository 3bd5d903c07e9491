"""A photograph taken in the page, by the camera of the computer it is shown on.

The camera is Chromium's pretended one; no real camera was used. Whether it is let go of
is asked of the tracks that the browser gave out.
"""

import io
from contextlib import contextmanager

import exifread
import pytest
from PIL import Image

from exam_app.app.queries.kept_records import read_kept
from tests.browser.conftest import launched
from tests.browser.driver import LAPTOP, PHONE, Driver
from tests.browser.exam_drafts import EXAM_ID
from tests.browser.prepared import PIN, in_store, unlock
from tests.browser.test_lock_exam import IDLE_SECONDS, unlock_with_pin
from tests.browser.test_photographs import ONE, choose, open_photographs, photo_file
from tests.browser.test_photographs import prepared as prepared_folder
from tests.photographs import content_of, drawn, is_upright
from tests.pictures import hash_of

pytestmark = pytest.mark.chromium_only("a camera")
SIZES = pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
PRETENDED = "--use-fake-device-for-media-stream"
ALLOWED = "--use-fake-ui-for-media-stream"
LIVE = "What the camera sees now"
_REMEMBER_TRACKS = """
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
window.tracks = [];
navigator.mediaDevices.getUserMedia = async (...wanted) => {
    const stream = await ask(...wanted);
    window.tracks.push(...stream.getTracks());
    return stream;
};
"""
_IN_USE = """
navigator.mediaDevices.getUserMedia = async () => {
    throw new DOMException('Could not start video source', 'NotReadableError');
};
"""


@contextmanager
def opened(chromium, shots, flags, size=LAPTOP, script=_REMEMBER_TRACKS):
    """Open a page of a Chromium with these cameras, at a sheet for a photograph."""
    browser = launched(chromium.browser_type, *flags)
    try:
        driver = Driver(browser.new_page(viewport=size), shots)
        # Also what stands for the browser's camera is only there on a trusted page.
        driver.page.add_init_script(f"if (navigator.mediaDevices) {{ {script} }}")
        yield driver
    finally:
        browser.close()


def film_of(tmp_path):
    """What stands before the camera: upright, red at the left, green at the top."""
    film, seen = tmp_path / "seen.mjpeg", drawn(1280, 720)
    seen.paste((30, 160, 30), (500, 0, 780, 60))
    film.write_bytes(content_of(seen, quality=95))
    return f"--use-file-for-fake-video-capture={film}"


def looks(driver):
    """Whether the browser has a camera running."""
    return driver.page.evaluate("tracks.some(one => one.readyState == 'live')")


def live(driver):
    driver.click("photo-camera-use")
    driver.wait_text("photo-camera-said", LIVE)
    driver.until(lambda: looks(driver), "live")


def is_let_go(driver):
    driver.until(lambda: not looks(driver), "let go of")


def close(driver):
    """Answer the rest, and sign."""
    for part in ("chest-rest", "abdomen-normal", "eyes-normal"):
        driver.go(f"/exam/{EXAM_ID}/region/{part.partition('-')[0]}")
        driver.click(f"region-{part}")
    driver.go(f"/exam/{EXAM_ID}/review")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait("record-signed")


@SIZES
def test_a_photograph_is_taken_in_the_page_and_stands_in_the_record_by_its_hash(
    size, chromium, shots, tmp_path, run_app
):
    app = run_app(folder=prepared_folder(tmp_path))
    flags = (PRETENDED, ALLOWED, film_of(tmp_path))
    with opened(chromium, shots, flags, size) as driver:
        name = f"computer-camera-{{}}-{size['width']}"
        unlock(driver, app)
        open_photographs(driver)
        driver.wait("photo-camera-use")
        driver.shot(name.format("ways"))
        live(driver)
        driver.shot(name.format("live"))
        driver.click("photo-shutter")
        driver.wait("photo-keep")
        is_let_go(driver)
        driver.shot(name.format("taken"))
        # Taken again by mistake, and for good.
        live(driver)
        driver.click("photo-camera-off")
        driver.wait("photo-keep")
        is_let_go(driver)
        live(driver)
        driver.click("photo-shutter")
        driver.wait("photo-keep")
        driver.gone("photo-busy")
        driver.click("photo-keep")
        driver.wait("photo-save")
        driver.shot(name.format("words"))
        driver.type("photo-caption", "Coat parted")
        driver.click("photo-save")
        driver.gone("sheet")
        close(driver)
        driver.wait_text("record-signed", "the signature fits")
        driver.read_down_to("Chest wall: Coat parted, shows Lump in skin or wall")
        driver.scroll_to(driver.named(ONE))
        driver.shot(name.format("record"))
    content = in_store(app.killed(), named_in_record)
    assert exifread.process_file(io.BytesIO(content)) == {}
    kept = Image.open(io.BytesIO(content))
    assert (kept.format, kept.size) == ("JPEG", (1280, 720))
    assert kept.app.keys() == {"APP0"}
    assert is_upright(kept.resize((1000, 600)))


def named_in_record(vault):
    """The one photograph that the signed record names."""
    record = read_kept(vault, EXAM_ID)
    (photo,) = record.exam.photos
    content = vault.photographs.get(photo.sha256)
    assert hash_of(content) == photo.sha256
    return content


def test_the_camera_is_let_go_of_when_the_sheet_or_the_page_is_left(
    chromium, shots, tmp_path, run_app
):
    with opened(chromium, shots, (PRETENDED, ALLOWED)) as driver:
        unlock(driver, run_app(folder=prepared_folder(tmp_path)))
        for leave in (
            lambda: driver.click("sheet-close"),
            lambda: driver.press("Escape"),
            lambda: driver.go("/settings/upkeep"),
        ):
            open_photographs(driver)
            live(driver)
            leave()
            driver.gone("photo-live")
            is_let_go(driver)


def test_a_lock_lets_go_of_the_camera_and_says_so(
    chromium, shots, tmp_path, run_app, monkeypatch
):
    monkeypatch.setenv("TEST_LOCK_AFTER", IDLE_SECONDS)
    with opened(chromium, shots, (PRETENDED, ALLOWED)) as driver:
        unlock(driver, run_app(folder=prepared_folder(tmp_path)))
        open_photographs(driver)
        live(driver)
        driver.wait("lock-pin")
        is_let_go(driver)
        unlock_with_pin(driver)
        driver.wait_text("photo-problem", "turned off when the exams were locked")
        driver.shot("computer-camera-locked-1280")
        live(driver)


def test_of_two_cameras_the_other_is_chosen(chromium, shots, tmp_path, run_app):
    flags = (f"{PRETENDED}=device-count=2", ALLOWED)
    with opened(chromium, shots, flags, PHONE) as driver:
        unlock(driver, run_app(folder=prepared_folder(tmp_path)))
        open_photographs(driver)
        live(driver)
        driver.wait("photo-camera-0")
        driver.shot("computer-camera-two-390")
        other = driver.text("photo-camera-1").strip()
        assert in_use(driver) != [other]
        driver.click("photo-camera-1")
        driver.until(lambda: in_use(driver) == [other], "used")
        driver.wait_text("photo-camera-said", LIVE)
        driver.shot("computer-camera-other-390")
        driver.click("photo-shutter")
        driver.wait("photo-keep")
        is_let_go(driver)


def in_use(driver):
    """The cameras that run, by the names that the browser gives them."""
    return driver.page.evaluate(
        "tracks.filter(one => one.readyState == 'live').map(one => one.label)"
    )


REFUSED = {
    "none": ((), _REMEMBER_TRACKS, "No camera was found"),
    "not-allowed": ((PRETENDED,), _REMEMBER_TRACKS, "The camera was not allowed"),
    "in-use": ((PRETENDED, ALLOWED), _IN_USE, "another program may be using it"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_without_the_camera_it_is_said_why_and_a_file_is_chosen(
    name, chromium, shots, tmp_path, run_app
):
    flags, script, said = REFUSED[name]
    with opened(chromium, shots, flags, PHONE, script) as driver:
        driver.page.context.grant_permissions([])
        unlock(driver, run_app(folder=prepared_folder(tmp_path)))
        open_photographs(driver)
        driver.click("photo-camera-use")
        driver.wait_text("photo-problem", said)
        driver.wait_text(
            "photo-problem", "Nothing was taken, and the exam is as it was"
        )
        driver.wait_text("photo-problem", "choose a picture")
        driver.shot(f"computer-camera-{name}-390")
        choose(driver, photo_file(tmp_path))
        driver.wait("photo-save")
        driver.gone("photo-problem")

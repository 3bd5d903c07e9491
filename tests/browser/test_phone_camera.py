"""The phone's own camera and photos on the pairing screen, read in the page itself.

The camera is Chromium's pretended one, which shows a film; no real camera was used.
"""

import io

import numpy as np
import pytest
from PIL import Image

from sync.qr import qr_png
from tests.browser.conftest import HEADLESS_FLAGS
from tests.browser.driver import PHONE
from tests.browser.phone_app import PhoneDriver, take_away
from tests.browser.phone_steps import set_up
from tests.conftest import find_chromium

SEEN = (1280, 720)


def picture_of(text, kind="JPEG"):
    """A code as a camera before it would see it."""
    code = Image.open(io.BytesIO(qr_png(text, module_pixels=6))).convert("RGB")
    seen = Image.new("RGB", SEEN, "grey")
    seen.paste(code, ((SEEN[0] - code.width) // 2, (SEEN[1] - code.height) // 2))
    content = io.BytesIO()
    seen.save(content, kind)
    return content.getvalue()


def noise():
    pixels = np.random.default_rng(1).integers(0, 255, (480, 640, 3), np.uint8)
    content = io.BytesIO()
    Image.fromarray(pixels).save(content, "PNG")
    return content.getvalue()


@pytest.fixture
def film(tmp_path):
    """What stands before the camera; read anew each time the camera is opened."""
    film = tmp_path / "seen.mjpeg"
    film.write_bytes(picture_of("A POSTER IN THE ROOM"))
    return film


@pytest.fixture
def camera_phone(chromium, film, shots):
    """A phone's page in a Chromium before whose camera the film is shown."""
    flags = (
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={film}",
        "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
    )
    browser = chromium.browser_type.launch(
        executable_path=find_chromium(), headless=True, args=[*HEADLESS_FLAGS, *flags]
    )
    page = browser.new_page(viewport=PHONE)
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("requestfailed", lambda request: forget(request, asked))
    yield PhoneDriver(page, shots)
    browser.close()
    local = ("http://127.0.0.1:", "blob:http://127.0.0.1:", "data:")
    assert [address for address in asked if not address.startswith(local)] == []


def forget(request, asked):
    # What the page's own policy refused was never sent.
    if request.failure == "csp":
        asked.remove(request.url)


def choose(driver, button, name, content):
    with driver.page.expect_file_chooser() as chooser:
        driver.click(button)
    chooser.value.set_files({"name": name, "mimeType": "image/*", "buffer": content})


@pytest.mark.exhaustive
def test_a_phone_reads_codes_by_camera_and_photo_and_says_when_it_may_not(
    camera_phone, film, host
):
    driver = camera_phone
    driver.page.context.grant_permissions([])
    driver.open(f"http://127.0.0.1:{host.port}/")
    take_away(host)
    set_up(driver)
    driver.go("/pair")
    not_allowed(driver)
    photos_that_are_no_card(driver)
    driver.click("clinic-camera")
    driver.wait("clinic-camera-stop")
    driver.wait_text("pair-said", "This is no pairing card")
    driver.shot("phone-camera-poster")
    driver.click("clinic-camera-stop")
    driver.gone("clinic-camera-stop")


def not_allowed(driver):
    driver.wait("pair-name")
    driver.click("clinic-camera")
    driver.wait_text("screen", "The camera was not allowed.")
    driver.shot("phone-camera-not-allowed")
    driver.page.context.grant_permissions(["camera"])


def photos_that_are_no_card(driver):
    choose(driver, "pair-file", "kitchen.png", noise())
    driver.wait_text("pair-said", "No code was found in that picture")
    # WebP is drawn by the browser itself.
    choose(driver, "pair-file", "poster.webp", picture_of("HELLO 123", "WEBP"))
    driver.wait_text("pair-said", "This is no pairing card")
    choose(driver, "pair-file", "letter.jpg", b"no picture at all")
    driver.wait_text("pair-said", "no picture that can be opened here")
    driver.shot("phone-pair-no-card")

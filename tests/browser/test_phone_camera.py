"""The phone's own camera and photos: the clinic's card, and its signed receipt.

The camera is Chromium's pretended one, which shows a film; no real camera was used.
"""

import io

import numpy as np
import pytest
from PIL import Image

from exam_app.app.exam_sessions import now
from exam_app.crypto import door
from exam_app.record.lineage import OwnKeys
from sync.bundle.bundle import open_bundle
from sync.receipts import Outcome, Receipt, ReceiptLine, sign_receipt
from sync.transport.qr import qr_png
from sync.trust.cards import as_text, from_text
from sync.trust.pairing import accept, offer
from tests.browser.codes import code_on, collect
from tests.browser.conftest import launched
from tests.browser.driver import PHONE
from tests.browser.handed import CLINIC_AGREEMENT, CLINIC_ID, CLINIC_SEED
from tests.browser.phone_app import PhoneDriver, take_away
from tests.browser.phone_steps import PIN, begin_exam, rows_unanswered, set_up

pytestmark = pytest.mark.chromium_only("a camera")

CLINIC = OwnKeys(
    CLINIC_ID, "Invented clinic", CLINIC_SEED, CLINIC_AGREEMENT, is_demo=False
)
SEEN = (1280, 720)


def picture_of(text, kind="JPEG"):
    """A code as a camera before it would see it."""
    code = Image.open(io.BytesIO(qr_png(text, module_pixels=6))).convert("RGB")
    seen = Image.new("RGB", SEEN, "grey")
    seen.paste(code, ((SEEN[0] - code.width) // 2, (SEEN[1] - code.height) // 2))
    content = io.BytesIO()
    seen.save(content, kind)
    return content.getvalue()


def put_before(film, text):
    """Hold another code before the camera; it opens the film when it is started."""
    other = film.with_suffix(".next")
    other.write_bytes(picture_of(text))
    other.replace(film)


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
    browser = launched(chromium.browser_type, *flags)
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


def test_a_phone_reads_card_and_receipt_by_its_camera_and_says_when_it_may_not(
    camera_phone, film, host
):
    driver = camera_phone
    driver.page.context.grant_permissions([])
    driver.open(f"http://127.0.0.1:{host.port}/")
    take_away(host)
    set_up(driver)
    close_small_exam(driver)
    driver.go("/pair")
    not_allowed(driver)
    photos_that_are_no_card(driver)
    device = pair_by_camera(driver, film)
    receipt = hand_over(driver, device)
    put_before(film, as_text(receipt))
    driver.go("/hand-over/receipt/1")
    driver.wait("receipt-said")
    driver.click("clinic-camera")
    driver.wait_text("receipt-outcome", "It arrived.")
    driver.wait("receipt-delete")
    driver.shot("phone-receipt-by-camera")


def close_small_exam(driver):
    begin_exam(driver)
    for row in rows_unanswered(driver):
        driver.click(row)
    driver.wait_text("exam-progress", "2 of 2")
    exam = driver.page.url.rsplit("/", 1)[-1]
    driver.go(f"/exam/{exam}/review")
    driver.wait_text("review-status", "Nothing is open")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait_text("record-signed", "the signature fits")


def not_allowed(driver):
    driver.wait("pair-name")
    driver.click("clinic-camera")
    driver.wait_text("clinic-camera-said", "The camera was not allowed.")
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


def pair_by_camera(driver, film):
    """Read the card off a pretended screen; give what the device said of itself."""
    driver.click("clinic-camera")
    driver.wait("clinic-camera-stop")
    driver.wait_text("pair-said", "This is no pairing card")
    driver.shot("phone-camera-poster")
    driver.click("clinic-camera-stop")
    driver.gone("clinic-camera-stop")
    offered = offer(CLINIC, now(), door.random_bytes)
    put_before(film, as_text(offered.card))
    driver.click("clinic-camera")
    driver.wait_text("pair-said", "should call this device")
    driver.gone("clinic-camera-stop")
    driver.type("pair-name", "Phone 1")
    driver.click("clinic-camera")
    driver.wait("pair-words")
    driver.shot("phone-card-by-camera")
    driver.scroll_to("pair-answer-code")
    sealed = code_on(driver)
    accepted = accept(from_text(sealed), offered, CLINIC_AGREEMENT, now())
    driver.click("pair-same")
    driver.wait("hand-count")
    return accepted.device


def hand_over(driver, device):
    """Take the codes off the screen, and sign what a clinic that stored it would."""
    driver.click("hand-codes")
    driver.wait("player-code")
    [sealed] = collect(driver, 1).finished()
    opened = open_bundle(sealed, CLINIC_AGREEMENT, lambda _: device.signing_key)
    stored = [ReceiptLine(h, Outcome.STORED) for h in opened.manifest.record_hashes]
    receipt = Receipt(
        CLINIC_ID,
        opened.manifest.sender_id,
        opened.bundle_hash,
        opened.manifest.sequence,
        now(),
        tuple(stored),
        is_demo=False,
    )
    return sign_receipt(receipt, CLINIC_SEED)

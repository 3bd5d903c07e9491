"""Enter the demonstration's clinic, and films of codes for a pretended camera."""

import io
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser

from exam_app.ui.clinic import review
from sync.transport.frames import DotSize, split
from sync.transport.qr import qr_png
from sync.trust.pairing import pairing_words
from tests.browser.conftest import launched
from tests.browser.driver import LAPTOP, Driver
from tests.browser.prepared import run_apart

DEMO_PIN = "1234"
_PICTURE = (1280, 720)
_EACH_SHOWN = 3


def enter_clinic(driver: Driver, address: str) -> None:
    """Open the clinic's first screen, with the PIN where it is asked for."""
    driver.open(address)
    if driver.any_of("clinic-summary", "lock-pin") == "lock-pin":
        driver.type("lock-pin", DEMO_PIN)
        driver.click("lock-open")
    driver.wait("clinic-summary")


def receive_pictures(clinic: Driver, pictures: list[Path]) -> None:
    """Give pictures of codes to the clinic, and wait for its receipt."""
    clinic.go("/clinic/receive")
    clinic.wait("clinic-scan-text")
    clinic.choose("clinic-pictures", pictures)
    clinic.wait_text("clinic-receipt-code", "-")


def read_it(driver: Driver) -> None:
    """Look at a record for as long as it takes to know which one it is.

    A record that came up a moment ago is not acknowledged: nobody can have read it.
    """
    last = time.monotonic() + review.UNREAD_SECONDS
    driver.until(lambda: time.monotonic() > last, "read for a moment")


def receipt_code_on(clinic: Driver) -> str:
    """Read the code that the clinic shows for typing, as four and four signs."""
    said = clinic.text("clinic-receipt-code").split()
    return next(part for part in said if len(part) == 9 and part[4] == "-")


def write_film(path: Path, sealed: bytes, *, lost: Sequence[int] = ()) -> int:
    """Write the codes of a hand-over as a film, as a camera before it would see them.

    Args:
        path: A file ending in ``.mjpeg``.
        sealed: The hand-over.
        lost: Frames that the camera never sees; repair frames make up for them.

    Returns:
        How many codes rebuild it.
    """
    frames = split(sealed, DotSize.DENSE)
    shown = [n for n in range(frames.count + len(lost)) if n not in lost]
    with path.open("wb") as film:
        for number in shown:
            picture = _as_seen(frames.text(number))
            for _ in range(_EACH_SHOWN):
                film.write(picture)
    return frames.count


def _as_seen(text: str) -> bytes:
    png = qr_png(text, DotSize.DENSE, module_pixels=6)
    code = Image.open(io.BytesIO(png)).convert("RGB")
    seen = Image.new("RGB", _PICTURE, "white")
    seen.paste(
        code, ((_PICTURE[0] - code.width) // 2, (_PICTURE[1] - code.height) // 2)
    )
    content = io.BytesIO()
    seen.save(content, "JPEG", quality=85)
    return content.getvalue()


@contextmanager
def with_camera(chromium: Browser, film: Path, shots: Path) -> Iterator[Driver]:
    """Open a page of a Chromium before whose camera a film is shown."""
    flags = (
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-video-capture={film}",
    )
    browser = launched(chromium.browser_type, *flags)
    try:
        yield Driver(browser.new_page(viewport=LAPTOP), shots)
    finally:
        browser.close()


def stick_of(folder: Path) -> Path:
    """Give the sealed file on the demonstration's pretended stick."""
    return next(folder.glob("exam-demo-*/stick/device-*/*.exam-bundle"))


def words_of(cards):
    """The six words of two cards; found apart, since the driver holds a loop."""
    return run_apart(lambda: pairing_words(cards))

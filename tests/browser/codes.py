"""Read the codes on a page as a camera would: from pictures of the screen."""

import io
from pathlib import Path

import zxingcpp
from PIL import Image

from sync.transport.collector import Arrival, Collector
from tests.browser.driver import Driver

MOST_PICTURES = 200


def code_on(driver: Driver, *, start: str = "", after: str = "") -> str:
    """Decode the one code that is shown.

    It is painted a moment after the labels say that it is there.

    Args:
        start: How it begins; another code is from before.
        after: The code from before.
    """
    for _ in range(MOST_PICTURES):
        for code in map(code_in, driver.pictures()):
            if code and code.startswith(start) and code != after:
                return code
    raise AssertionError("no code is shown")


def code_in(png: bytes) -> str:
    """Decode the code in a picture; empty when there is none."""
    picture = Image.open(io.BytesIO(png)).convert("L")
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    return found[0].text if found else ""


def collect(driver: Driver, bundles: int) -> Collector:
    """Take pictures of the player until so many bundles are complete."""
    collector = Collector()
    for _ in range(MOST_PICTURES):
        for png in driver.pictures():
            collector.add(code_in(png))
        if sum(one.have == one.needed for one in collector.progress()) == bundles:
            return collector
    raise AssertionError(f"not complete after {MOST_PICTURES}: {collector.progress()}")


def photograph(driver: Driver, folder: Path) -> list[Path]:
    """Keep pictures of the player until together they hold one bundle."""
    collector, kept = Collector(), []
    for _ in range(MOST_PICTURES):
        for png in driver.pictures():
            arrival = collector.add(code_in(png))
            if arrival in (Arrival.NEW, Arrival.COMPLETE):
                kept.append(folder / f"photo-{len(kept)}.png")
                kept[-1].write_bytes(png)
            if arrival is Arrival.COMPLETE:
                return kept
    raise AssertionError(f"not complete after {MOST_PICTURES}: {collector.progress()}")

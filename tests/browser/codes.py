"""Read the codes on a page as a camera would: from pictures of the screen."""

import io

import zxingcpp
from PIL import Image

from sync.collector import Collector
from tests.browser.driver import Driver

MOST_PICTURES = 300


def code_on(driver: Driver) -> str:
    """Decode the one code that is shown now; empty when there is none."""
    picture = Image.open(io.BytesIO(driver.page.screenshot())).convert("L")
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    return found[0].text if found else ""


def collect(driver: Driver, bundles: int) -> Collector:
    """Take pictures of the player until so many bundles are complete."""
    collector = Collector()
    for _ in range(MOST_PICTURES):
        collector.add(code_on(driver))
        done = sum(one.is_complete for one in collector.progress())
        if done == bundles:
            return collector
    raise AssertionError(f"not complete after {MOST_PICTURES}: {collector.progress()}")

"""Photographs on a phone: prepared by the browser's own parts, checked from outside."""

import base64
import io
import json
from pathlib import Path

import exifread
import pytest
from PIL import Image

from exam_app.app.pictures import preparing
from exam_app.record.jpeg import LARGEST_PICTURE
from tests.app.test_photograph_prepared import REFUSED, SECRETS
from tests.browser.phone_app import take_away
from tests.browser.phone_steps import (
    begin_exam,
    open_draft,
    set_up,
    start_offline,
    unlock,
)
from tests.browser.test_phone_store import PATIENCE_MS, START_WORKER
from tests.photographs import (
    STORED,
    claiming_jpeg,
    claiming_png,
    claiming_webp,
    content_of,
    drawn,
    from_a_phone,
    held,
    is_upright,
)

pytestmark = pytest.mark.chromium_only("the browser's own reading of pictures")

BEHIND = b"<html><script>alert(1)</script>"


def offered():
    """Pictures by name, with the size that is to come out."""
    found = {f"held {n}": (held(n), (1000, 600)) for n in STORED}
    # Held so that the camera's width is the picture's height.
    found["from a phone"] = (from_a_phone(6, size=(4000, 3000)), (1200, 1600))
    found["png"] = (from_a_phone(1, "PNG", (900, 600)), (900, 600))
    found["webp"] = (from_a_phone(1, "WEBP", (900, 600)), (900, 600))
    found["something behind"] = (content_of(drawn(300, 200)) + BEHIND, (300, 200))
    clear = drawn(200, 150).convert("RGBA")
    clear.putalpha(0)
    found["clear"] = (content_of(clear, "PNG"), (200, 150))
    return found


def refused():
    large = {
        "png of 100 megapixels": claiming_png(10_000, 10_000),
        "jpeg of 100 megapixels": claiming_jpeg(10_000, 10_000),
        "webp of 100 megapixels": claiming_webp(10_000, 10_000),
    }
    cut = {
        f"{kind} cut": content_of(drawn(300, 200), kind)[:60]
        for kind in ("JPEG", "PNG", "WEBP")
    }
    return REFUSED | large | cut


@pytest.fixture(scope="module")
def given():
    return offered(), refused()


def test_the_browser_prepares_what_pillow_does_and_nothing_of_the_file_is_kept(
    phone_browser, give_out_started, given
):
    wanted, unwanted = given
    pictures = {name: content for name, (content, _) in wanted.items()} | unwanted
    code = Path(__file__).with_name("phone_pictures.py").read_text("utf-8")
    packed = {n: base64.b64encode(c).decode() for n, c in pictures.items()}
    code = code.replace("= {}", f"= {json.dumps(packed)}")
    address = give_out_started(f"{code}\n\nstart()\n")
    told = heard(phone_browser, address)
    for name, (_, size) in wanted.items():
        assert "jpeg" in told[name], (name, told[name])
        assert (told[name]["width"], told[name]["height"]) == size, name
        jpeg = base64.b64decode(told[name]["jpeg"])
        assert len(jpeg) < LARGEST_PICTURE
        assert exifread.process_file(io.BytesIO(jpeg)) == {}
        seen = Image.open(io.BytesIO(jpeg))
        assert seen.app.keys() == {"APP0"}, name
        assert dict(seen.getexif()) == {}
        assert not [secret for secret in (*SECRETS, BEHIND) if secret in jpeg]
        if name.startswith("held"):
            assert is_upright(seen), name
    assert min(shade(told["clear"])) > 250
    size = len(base64.b64decode(told["from a phone"]["jpeg"]))
    assert size <= preparing.WANTED_BYTES
    for name in unwanted:
        assert "Photograph" in told[name].get("refused", ""), (name, told[name].keys())
        assert "NotPrepared" not in told[name]["refused"], name
    print(f"photographs on a phone: {len(wanted)} taken, {len(unwanted)} refused")


def shade(told):
    jpeg = base64.b64decode(told["jpeg"])
    return Image.open(io.BytesIO(jpeg)).convert("RGB").getpixel((20, 20))


def heard(phone_browser, address):
    """Run the module in the page's worker; return what it told, by name."""
    told = {}
    page = phone_browser.page().page

    def hear(message):
        kind, _, rest = message.text.partition(" ")
        if kind == "PICTURE":
            said = json.loads(rest)
            told[said.pop("name")] = said

    page.on("console", hear)
    page.goto(f"{address}LICENSES.txt")
    with page.expect_console_message(
        lambda message: message.text.startswith("DONE"), timeout=PATIENCE_MS
    ):
        page.evaluate(START_WORKER)
    return told


def test_a_photograph_taken_on_a_phone_is_there_after_the_phone_died(
    phone_browser, host, tmp_path
):
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    set_up(driver)
    begin_exam(driver)
    driver.click("exam-more")
    driver.click("exam-photographs")
    picture = tmp_path / "standing.jpg"
    picture.write_bytes(from_a_phone(6, size=(4000, 3000)))
    driver.choose("photo-choose", [picture])
    driver.find("photo-preview").wait_for(state="attached", timeout=60_000)
    driver.shot("phone-photograph-shown")
    driver.type("photo-caption", "Standing, from the left")
    driver.click("photo-save")
    driver.wait_text("told", "Saved.")
    take_away(host)
    driver = start_offline(phone_browser, address)
    unlock(driver)
    open_draft(driver)
    driver.click("exam-more")
    driver.wait_text("exam-photographs", "1 photograph")
    driver.click("exam-photographs")
    driver.wait("photo-more")
    driver.click(driver.named("photo-of-"))
    driver.wait_text("photo-view", "Standing, from the left")
    driver.wait("photo-large-0")
    driver.until(lambda: is_drawn(driver), "the picture is not drawn")
    driver.shot("phone-photograph-large")


def is_drawn(driver):
    """Whether the middle of the window shows the lump, and neither theme's ground."""
    seen = Image.open(io.BytesIO(driver.page.screenshot())).convert("RGB")
    box = driver.find("photo-large-0").first.bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    red, _, blue = seen.getpixel(tuple(map(int, middle)))
    return red - blue > 30

"""The phone's reader of codes: pictures made here and by others, and what is refused.

The reader is zxing-wasm under Python 3.14 in Pyodide, run by Node; the pictures come
from our own codes, from zxing-cpp's writer, and from a simulated camera.
"""

import io
import json
import shutil
import struct
import subprocess
from pathlib import Path

import flet_web
import numpy as np
import pytest
import zxingcpp
from PIL import Image

from exam_app.app.clinic import pictures as clinic_pictures
from exam_app.app.clinic import pictures as phone_codes
from exam_app.app.clinic.pictures import PictureUnreadableError, read_codes
from exam_app.app.pictures.picture_sizes import size_of
from exam_app.ui.widgets.code_in import NoCodeInPictureError, texts_of, view_size
from sync.transport.frames import DotSize, split
from sync.transport.qr import qr_png, qr_rows
from sync.trust.cards import as_text
from tests.camera_simulation import MIDDLE, capture, screen_of
from tests.photographs import claiming_png, content_of

ROOT = Path(__file__).parents[2]
CARD = as_text(bytes(range(256)) * 2)
FRAMES = split(bytes(range(256)) * 12, DotSize.DENSE)
OUTSIDE = "Any text, even small letters: äöü"
FORMATS = ("PNG", "JPEG", "GIF", "BMP")


def opened(png):
    return Image.open(io.BytesIO(png)).convert("RGB")


def photographed(text, seed):
    rows = qr_rows(text)
    seen = capture(screen_of(rows), len(rows) + 8, MIDDLE, seed)
    return content_of(Image.fromarray(seen), "JPEG")


def beside(first, second):
    both = Image.new("RGB", (first.width + second.width, first.height), "white")
    both.paste(first, (0, 0))
    both.paste(second, (first.width, 0))
    return both


def readable():
    """Pictures by name, each with the codes in it."""
    ours = opened(qr_png(CARD))
    named = {f"card.{kind}": (content_of(ours, kind), {CARD}) for kind in FORMATS}
    for number in range(FRAMES.count):
        text = FRAMES.text(number)
        named[f"frame-{number}"] = (qr_png(text, DotSize.DENSE), {text})
    for seed in range(4):
        named[f"photo-{seed}"] = (photographed(CARD, seed), {CARD})
    outside = zxingcpp.create_barcode(OUTSIDE, zxingcpp.BarcodeFormat.QRCode)
    picture = Image.fromarray(np.array(outside.to_image(scale=4)))
    named["outside"] = (content_of(picture, "PNG"), {OUTSIDE})
    turned = picture.rotate(90, expand=True)
    named["outside-turned"] = (content_of(turned, "PNG"), {OUTSIDE})
    both = beside(ours, opened(qr_png("HELLO 123")))
    named["two"] = (content_of(both, "PNG"), {CARD, "HELLO 123"})
    noise = np.random.default_rng(1).integers(0, 255, (480, 640, 3), np.uint8)
    named["noise"] = (content_of(Image.fromarray(noise), "JPEG"), set())
    named["white"] = (content_of(Image.new("RGB", (640, 480), "white"), "PNG"), set())
    other = zxingcpp.create_barcode("4006381333931", zxingcpp.BarcodeFormat.EAN13)
    lines = Image.fromarray(np.array(other.to_image(scale=4)))
    named["bars"] = (content_of(lines, "PNG"), set())
    return named


def refused():
    """Contents that are no pictures, or absurd ones."""
    png = qr_png(CARD)
    rng = np.random.default_rng(2)
    named = {
        "empty": b"",
        "text": b"no picture at all",
        "random": rng.bytes(5000),
        "png-cut": png[: len(png) // 2],
        "png-header-only": png[:30],
        "png-wrong-bytes": png[:60] + rng.bytes(len(png) - 60),
        "jpeg-header-only": b"\xff\xd8\xff\xc0",
        "claims-a-billion-pixels": claiming_png(32_000, 32_000),
        "claims-nothing": claiming_png(0, 0),
    }
    named["too-many-bytes"] = png + bytes(clinic_pictures.LARGEST_BYTES)
    return named


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """What the phone's reader says of all of them, in one run."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("no Node on this machine")
    folder = tmp_path_factory.mktemp("pictures")
    for name, (content, _) in readable().items():
        (folder / name).write_bytes(content)
    for name, content in refused().items():
        (folder / name).write_bytes(content)
    pyodide = Path(flet_web.get_package_web_dir()) / "pyodide"
    done = subprocess.run(
        [node, ROOT / "tests/phone_codes.mjs", ROOT, pyodide, folder],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout.splitlines()[-1])


@pytest.mark.exhaustive
def test_the_phone_reads_our_codes_and_those_of_another_writer(told):
    assert told["can read"]
    for name, (_, texts) in readable().items():
        assert "codes" in told["pictures"][name], (name, told["pictures"][name])
        assert set(told["pictures"][name]["codes"]) == texts, name


@pytest.mark.exhaustive
def test_the_phone_refuses_what_is_no_picture_or_an_absurd_one(told):
    for name in refused():
        assert told["pictures"][name] == {"refused": "PictureUnreadableError"}, name


@pytest.mark.exhaustive
def test_without_the_camera_s_part_the_phone_says_nothing_of_installing(told):
    (said,) = told["missing"]
    assert "Paste texts or open files" in said
    assert "pip" not in said


@pytest.mark.slow
async def test_a_computer_reads_the_same_pictures_and_refuses_the_same():
    for name, (content, texts) in readable().items():
        assert set(await read_codes(content)) == texts, name
    for name, content in refused().items():
        with pytest.raises(PictureUnreadableError):
            await read_codes(content)
        assert name


@pytest.mark.parametrize("kind", [*FORMATS, "WEBP"])
@pytest.mark.parametrize("size", [(1, 1), (640, 480), (300, 1000)])
def test_a_picture_s_size_is_known_before_it_is_unpacked(kind, size):
    assert size_of(content_of(Image.new("RGB", size), kind)) == size


def test_a_photo_with_a_small_picture_inside_is_measured_by_itself():
    inside = content_of(Image.new("RGB", (160, 120)), "JPEG")
    exif = b"\xff\xe1" + struct.pack(">H", len(inside) + 2) + inside
    photo = content_of(Image.new("RGB", (640, 480)), "JPEG")
    assert size_of(photo[:2] + exif + photo[2:]) == (640, 480)


def test_on_a_phone_only_films_are_missing_and_nothing_is_to_be_installed(monkeypatch):
    monkeypatch.setattr(phone_codes, "is_browser", lambda: True)
    monkeypatch.setattr(phone_codes, "can_read", lambda: True)
    monkeypatch.setattr(clinic_pictures, "_has", lambda module: module == "flet_camera")
    assert clinic_pictures.can_use_camera()
    assert not clinic_pictures.can_read_films()
    (said,) = clinic_pictures.what_is_missing()
    assert "Photos can" in said
    assert "pip" not in said


async def test_a_photo_without_a_code_says_how_to_take_a_better_one():
    noise = readable()["noise"][0]
    with pytest.raises(NoCodeInPictureError) as refused:
        await texts_of("kitchen.jpg", noise)
    assert "closer" in refused.value.advice
    assert await texts_of("card.png", qr_png(CARD)) == (CARD,)


async def test_a_phone_s_own_format_is_named_a_picture_and_not_taken_for_a_card():
    with pytest.raises(PictureUnreadableError):
        await texts_of("photo.HEIC", b"\x00\x00\x00\x18ftypheic")


def test_a_narrow_page_shows_a_square_of_the_camera_and_a_wide_one_all_of_it():
    assert view_size(390) == (326, 326)
    assert view_size(1280) == (480, 270)
    assert view_size(None) == (480, 270)

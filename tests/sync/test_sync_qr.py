"""Codes read by three other decoders, from files and from simulated photographs."""

import io
import itertools
import random

import pytest

from sync.errors import BundleTooLargeError
from sync.transport.collector import Collector
from sync.transport.frames import CAPACITIES, DotSize, split
from sync.transport.keyboard import to_keys
from sync.transport.qr import qr_png, qr_rows

np = pytest.importorskip("numpy", reason="numpy is not installed")
cv2 = pytest.importorskip("cv2", reason="opencv-python-headless is not installed")
zxingcpp = pytest.importorskip("zxingcpp", reason="zxing-cpp is not installed")
Image = pytest.importorskip("PIL.Image", reason="pillow is not installed")
try:
    from pyzbar import pyzbar
except ImportError:
    pyzbar = None
from tests.camera_simulation import EASY, HARD, MIDDLE, capture, screen_of  # noqa: E402

SETTINGS = {"easy": EASY, "middle": MIDDLE, "hard": HARD}
# Versions of ISO/IEC 18004: modules = 17 + 4 × version.
MODULES = {DotSize.BIGGER: 49, DotSize.NORMAL: 69, DotSize.DENSE: 97}
DAY = random.Random(25).randbytes(12_976)


def by_zxing(picture):
    formats = zxingcpp.BarcodeFormat.QRCode
    return [code.text for code in zxingcpp.read_barcodes(picture, formats=formats)]


def by_zbar(picture):
    if pyzbar is None:
        pytest.skip("pyzbar or the library libzbar0 is not installed")
    symbols = [pyzbar.ZBarSymbol.QRCODE]
    return [code.data.decode() for code in pyzbar.decode(picture, symbols=symbols)]


def by_opencv(picture):
    return [text for text in cv2.QRCodeDetector().detectAndDecode(picture)[:1] if text]


DECODERS = {"zxing-cpp": by_zxing, "pyzbar": by_zbar, "OpenCV": by_opencv}
# On photographs those that are there; the drawn codes say which is missing.
PRESENT = {name: by for name, by in DECODERS.items() if pyzbar or by is not by_zbar}


def picture_of(text, dots=DotSize.NORMAL, module_pixels=4):
    png = qr_png(text, dots, module_pixels)
    return np.array(Image.open(io.BytesIO(png)).convert("L"))


def photograph(text, dots, camera, seed):
    rows = qr_rows(text, dots)
    return capture(screen_of(rows), len(rows) + 8, camera, seed)


# OpenCV's reader fails on some clean codes; it never misread one.
@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "fewest"), [("zxing-cpp", 12), ("pyzbar", 12), ("OpenCV", 9)]
)
@pytest.mark.parametrize("dots", list(DotSize))
def test_drawn_frames_are_read_by_another_decoder(dots, name, fewest):
    frames, count = split(DAY, dots), 0
    for frame_id in (*range(6), *range(250, 256)):
        text = frames.text(frame_id)
        found = DECODERS[name](picture_of(text, dots))
        assert found in ([], [text])
        count += found == [text]
    assert count >= fewest


@pytest.mark.parametrize("dots", list(DotSize))
def test_code_of_a_full_frame_has_the_size_that_was_chosen(dots):
    assert len(qr_rows(split(DAY, dots).text(0), dots)) == MODULES[dots]
    full = "A" * CAPACITIES[dots]
    assert len(qr_rows(full, dots)) == MODULES[dots]
    assert len(qr_rows(full + "A", dots)) == MODULES[dots] + 4


def test_short_text_gets_larger_dots():
    assert len(qr_rows(to_keys(b"receipt"))) < MODULES[DotSize.BIGGER]


@pytest.mark.parametrize("decoder", DECODERS.values(), ids=DECODERS)
def test_short_typed_form_is_read_by_another_decoder(decoder):
    text = to_keys(random.Random(1).randbytes(190))
    assert decoder(picture_of(text)) == [text]


def test_picture_is_black_on_white_with_four_quiet_modules():
    text = split(DAY, DotSize.NORMAL).text(1)
    picture = picture_of(text, module_pixels=3)
    rows = np.array([list(row) for row in qr_rows(text)])
    assert picture.shape == ((69 + 8) * 3,) * 2
    assert set(np.unique(picture)) == {0, 255}
    inner = picture[12:-12:3, 12:-12:3]
    assert (inner == np.where(rows, 0, 255)).all()
    assert picture.sum() - picture[12:-12, 12:-12].sum() == 255 * (77**2 - 69**2) * 9


@pytest.mark.parametrize("text", ["", "small letters", "Ü", "A\n"])
def test_other_characters_are_refused(text):
    with pytest.raises(ValueError, match="alphanumeric"):
        qr_rows(text)


# 4 296: the most an alphanumeric code holds (ISO/IEC 18004, 40-L; from memory).
def test_longer_text_than_any_code_holds_is_refused():
    assert len(qr_rows("A" * 4_296, DotSize.DENSE)) == 177
    with pytest.raises(BundleTooLargeError):
        qr_rows("A" * 4_297, DotSize.DENSE)


def read_counts(dots, camera, times):
    """Count, by decoder, photographs read; no decoder may read anything else."""
    frames = split(DAY, dots)
    counts = dict.fromkeys(PRESENT, 0)
    for seed in range(times):
        text = frames.text(seed % 256)
        picture = photograph(text, dots, camera, seed)
        for name, decode in PRESENT.items():
            found = decode(picture)
            assert found in ([], [text]), f"{name} misread a photograph"
            counts[name] += found == [text]
    return counts


@pytest.mark.slow
@pytest.mark.parametrize("dots", [DotSize.BIGGER, DotSize.NORMAL])
@pytest.mark.parametrize("setting", ["middle", "hard"])
def test_photographs_are_read_by_three_decoders(dots, setting):
    counts = read_counts(dots, SETTINGS[setting], 6)
    assert counts["zxing-cpp"] == 6
    assert counts.get("pyzbar", 6) >= 4
    assert counts["OpenCV"] >= 1


@pytest.mark.exhaustive
def test_many_photographs_are_read_and_none_is_misread():
    lines = []
    for dots in DotSize:
        for name, camera in SETTINGS.items():
            counts = read_counts(dots, camera, 60)
            read = ", ".join(f"{who} {count}" for who, count in counts.items())
            lines.append(f"{dots:>7} {name:>6}: of 60 read {read}; 0 misread")
            assert counts["zxing-cpp"] >= (59 if dots is not DotSize.DENSE else 48)
    print("\n".join(lines))


@pytest.mark.slow
def test_photographs_of_a_day_rebuild_it_with_every_second_frame_lost():
    frames, collector = split(DAY[:6_000], DotSize.NORMAL), Collector()
    seen = itertools.islice(frames.order(), 0, 2 * frames.count, 2)
    for seed, frame_id in enumerate(seen):
        picture = photograph(frames.text(frame_id), frames.dots, MIDDLE, seed)
        for text in by_zxing(picture):
            collector.add(text)
    assert collector.finished() == [DAY[:6_000]]


def test_one_photograph_of_many_codes_gives_them_all():
    frames = split(DAY[:3_500], DotSize.NORMAL)
    pictures = [
        picture_of(frames.text(frame_id), module_pixels=5) for frame_id in range(12)
    ]
    sheet = np.vstack([np.hstack(pictures[row : row + 4]) for row in (0, 4, 8)])
    wide = cv2.GaussianBlur(sheet, (0, 0), 0.8)
    collector = Collector()
    for text in by_zxing(wide):
        collector.add(text)
    assert collector.finished() == [DAY[:3_500]]

"""A photograph before it is kept: upright, small, and nothing in it but the picture.

What is left in it is read by Pillow and by exifread, which share no code; the meanings
of the orientation tag are those of CIPA DC-008 (Exif), section 4.6.4.
"""

import io
import json
import subprocess
import sys

import exifread
import pytest
from PIL import Image, ImageCms
from PIL.ExifTags import Base

from exam_app.app.pictures import preparing
from exam_app.app.pictures.errors import (
    HeicPhotographError,
    PhotographNotPreparedError,
    PhotographRefusedError,
    PhotographTooLargeError,
)
from exam_app.app.pictures.plain_jpeg import made_plain
from exam_app.app.pictures.preparing import check_offered, prepare_photograph
from exam_app.record.errors import NotAPhotographError
from exam_app.record.jpeg import LARGEST_PICTURE, LONGEST_EDGE, Pixels, check_picture
from tests.photographs import (
    STORED,
    XMP,
    claiming_jpeg,
    claiming_png,
    claiming_webp,
    content_of,
    drawn,
    from_a_phone,
    held,
    is_upright,
)

KINDS = ("JPEG", "PNG", "WEBP")
SECRETS = (b"Invented", b"SERIAL", b"kitchen", b"GPS", b"Exif", b"xmp", b"ICC", b"Lens")


# How the stored picture is turned to be seen upright, by Exif's table: what stands at
# the left of an upright picture stands there in the stored one.
def opened(photograph):
    return Image.open(io.BytesIO(photograph))


def read_by_second(content):
    return exifread.process_file(io.BytesIO(content))


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
async def test_place_and_camera_are_in_the_file_and_not_in_the_photograph(kind):
    offered = from_a_phone(6, kind)
    before = Image.open(io.BytesIO(offered))
    assert before.getexif().get_ifd(0x8825), "Pillow reads the place"
    assert before.info["icc_profile"]
    told = read_by_second(offered)
    # Pillow writes a WebP's tags behind the picture, where exifread does not look.
    assert (
        kind == "WEBP"
        or {"GPS GPSLatitude", "Image Make", "EXIF BodySerialNumber"} <= told.keys()
    )
    kept = await prepare_photograph(offered)
    after = opened(kept)
    assert (after.format, after.mode) == ("JPEG", "RGB")
    assert dict(after.getexif()) == {}
    # What every JFIF header says, and no more: no profile, comment, XMP or EXIF.
    assert after.info.keys() <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert after.app.keys() == {"APP0"}
    assert read_by_second(kept) == {}
    assert not [secret for secret in SECRETS if secret in kept]


@pytest.mark.parametrize("orientation", sorted(STORED))
async def test_a_picture_is_turned_upright_however_the_camera_was_held(orientation):
    kept = await prepare_photograph(held(orientation))
    assert check_picture(kept) == Pixels(1000, 600)
    assert is_upright(opened(kept))


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("size", "kept_size"),
    [
        ((4000, 3000), (1600, 1200)),
        ((900, 3600), (400, 1600)),
        ((320, 240), (320, 240)),
    ],
)
async def test_the_long_edge_is_1600_at_most_and_nothing_is_made_larger(
    kind, size, kept_size
):
    options = {"method": 0} if kind == "WEBP" else {}
    kept = await prepare_photograph(content_of(drawn(*size), kind, **options))
    assert check_picture(kept) == Pixels(*kept_size)
    assert opened(kept).size == kept_size


@pytest.mark.slow
async def test_a_photograph_takes_some_hundred_kilobytes_and_noise_no_more_than_kept():
    kept = await prepare_photograph(from_a_phone(size=(4000, 3000)))
    assert 50_000 < len(kept) <= preparing.WANTED_BYTES
    noise = Image.effect_noise((1600, 1600), 120)
    loud = Image.merge("RGB", (noise, noise.rotate(90), noise.rotate(180)))
    kept = await prepare_photograph(content_of(loud, quality=95))
    assert len(kept) < LARGEST_PICTURE


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA"])
async def test_every_usual_way_of_colouring_becomes_an_opaque_picture(mode):
    picture = drawn(200, 150).convert(mode)
    if mode == "RGBA":
        picture.putalpha(0)
    kept = await prepare_photograph(content_of(picture, "PNG"))
    seen = opened(kept)
    assert (seen.mode, seen.size) == ("RGB", (200, 150))
    if mode == "RGBA":
        assert min(seen.getpixel((20, 20))) > 250


async def test_colours_of_another_profile_are_worked_out_before_it_goes():
    # A profile whose red is the usual blue: by ICC.1, the colours follow the profile.
    usual = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    swapped = usual.replace(b"rXYZ", b"....", 1).replace(b"bXYZ", b"rXYZ", 1)
    swapped = swapped.replace(b"....", b"bXYZ", 1)
    picture = Image.new("RGB", (64, 64), (200, 30, 30))
    expected = {usual: (200, 30, 30), swapped: (30, 30, 200), b"odd": (200, 30, 30)}
    for profile, colour in expected.items():
        offered = content_of(picture, "PNG", icc_profile=profile)
        seen = opened(await prepare_photograph(offered)).getpixel((30, 30))
        assert max(abs(a - b) for a, b in zip(seen, colour, strict=True)) <= 4


REFUSED = {
    "empty": b"",
    "one byte": b"\xff",
    "words": b"no picture at all",
    "gif": content_of(drawn(64, 48), "GIF"),
    "tiff": content_of(drawn(64, 48), "TIFF"),
    "bmp": content_of(drawn(64, 48), "BMP"),
    "svg": b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
    "page before a jpeg": b"<html><script>1</script>" + content_of(drawn(64, 48)),
    "zip before a jpeg": b"PK\x03\x04" + content_of(drawn(64, 48)),
    "jpeg sign only": b"\xff\xd8\xff",
    "jpeg of lengths of zero": b"\xff\xd8" + b"\xff\xe1\0\0" * 5000,
    "png sign only": b"\x89PNG\r\n\x1a\n",
    "nothing wide": claiming_png(0, 10),
    "webp of nothing": b"RIFF\x04\0\0\0WEBP",
    "png without its picture": claiming_png(500, 500),
    "jpeg whose frame is larger than its picture": claiming_jpeg(6000, 5000)[:-40],
    "eps in disguise": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n",
}


@pytest.mark.parametrize("name", REFUSED)
async def test_what_is_no_whole_picture_of_the_three_kinds_is_refused(name):
    with pytest.raises(PhotographRefusedError) as refusal:
        await prepare_photograph(REFUSED[name])
    assert "the exam is as it was" in refusal.value.advice


@pytest.mark.parametrize("brand", [b"heic", b"mif1", b"avif"])
def test_a_heic_picture_is_named_and_a_way_out_is_said(brand):
    with pytest.raises(HeicPhotographError) as refusal:
        check_offered(b"\0\0\0\x18ftyp" + brand + bytes(40))
    assert "JPEG" in refusal.value.advice


@pytest.mark.parametrize(
    "claimed",
    [
        claiming_png(10_000, 10_000),
        claiming_jpeg(10_000, 10_000),
        claiming_webp(10_000, 10_000),
        claiming_png(2**31 - 1, 2**31 - 1),
        claiming_jpeg(65_535, 65_535),
        claiming_png(6000, 4100),
    ],
    ids=["png", "jpeg", "webp", "png-most", "jpeg-most", "png-25"],
)
def test_more_pixels_than_are_opened_are_refused_by_the_first_bytes(claimed):
    with pytest.raises(PhotographTooLargeError):
        check_offered(claimed)


def test_more_bytes_than_are_opened_are_refused():
    offered = content_of(drawn(64, 48)) + bytes(preparing.LARGEST_BYTES)
    with pytest.raises(PhotographTooLargeError):
        check_offered(offered)


@pytest.mark.parametrize("kind", KINDS)
async def test_a_picture_cut_off_anywhere_is_refused(kind):
    whole = content_of(drawn(300, 200), kind)
    for end in range(0, len(whole) - 12, max(1, len(whole) // 60)):
        with pytest.raises(PhotographRefusedError):
            await prepare_photograph(whole[:end])


@pytest.mark.parametrize("kind", KINDS)
async def test_flipped_bytes_give_a_whole_photograph_or_a_refusal(kind):
    whole = content_of(drawn(120, 90), kind)
    taken = refused = 0
    for at in range(0, len(whole), max(1, len(whole) // 150)):
        flipped = whole[:at] + bytes([whole[at] ^ 0x5A]) + whole[at + 1 :]
        try:
            kept = await prepare_photograph(flipped)
        except PhotographRefusedError:
            refused += 1
        else:
            assert made_plain(kept) == kept
            taken += 1
    assert taken + refused > 100
    assert refused


@pytest.mark.parametrize(
    "behind", [b"<html><script>alert(1)</script>", b"PK\x03\x04" + bytes(80), XMP]
)
@pytest.mark.parametrize("kind", KINDS)
async def test_nothing_that_hangs_behind_a_picture_is_kept(kind, behind):
    whole = content_of(drawn(300, 200), kind)
    kept = await prepare_photograph(whole + behind)
    assert behind not in kept
    assert kept == await prepare_photograph(whole)


async def test_a_prepared_picture_is_as_it_is_kept_and_a_file_is_made_so():
    kept = await prepare_photograph(from_a_phone(size=(300, 200)))
    assert made_plain(kept) == kept
    others = {
        "with something behind": kept + b"<html>",
        "with a comment": kept[:20] + b"\xff\xfe\x00\x06<x>!" + kept[20:],
        "with tags": kept[:2] + b"\xff\xe1\x00\x08Exif\0\0" + kept[2:],
        "two pictures": kept + kept,
    }
    for name, content in others.items():
        with pytest.raises(NotAPhotographError):
            assert not check_picture(content), name
        assert made_plain(content) == kept, name


async def test_what_is_no_whole_picture_of_the_kept_size_is_not_made_one():
    kept = await prepare_photograph(from_a_phone(size=(300, 200)))
    others = {
        "empty": b"",
        "with something before": b"<html>" + kept,
        "another picture inside": kept[:-2] + kept[2:],
        "png": content_of(drawn(300, 200), "PNG"),
        "larger": content_of(drawn(LONGEST_EDGE + 1, 20)),
        "no scan": kept[: kept.index(b"\xff\xda")] + b"\xff\xd9",
        **{f"cut at {end}": kept[:end] for end in range(len(kept))},
    }
    for name, content in others.items():
        with pytest.raises(NotAPhotographError):
            assert not made_plain(content), name


async def test_what_is_left_out_of_a_browsers_jpeg_changes_no_pixel():
    # Some browsers write tags of their own into what a page draws.
    drawn_by_one = from_a_phone(1, size=(800, 600))
    plain = made_plain(drawn_by_one)
    assert read_by_second(plain) == {}
    before = Image.open(io.BytesIO(drawn_by_one)).convert("RGB")
    assert opened(plain).convert("RGB").tobytes() == before.tobytes()
    wavy = content_of(drawn(800, 600), progressive=True, comment=b"words")
    assert b"words" not in made_plain(wavy)


async def test_where_the_part_is_missing_it_is_said(monkeypatch):
    monkeypatch.setitem(sys.modules, "exam_app.app.pictures.drawing", None)
    with pytest.raises(PhotographNotPreparedError) as refusal:
        await prepare_photograph(content_of(drawn(64, 48)))
    assert "describe what is seen in words" in refusal.value.advice


_MEASURED = """
import asyncio, json, pathlib, re, sys
from exam_app.app.pictures import drawing
from exam_app.app.pictures.errors import PhotographRefusedError
from exam_app.app.pictures.preparing import prepare_photograph

from exam_app.record.jpeg import check_picture

def most():
    # Not what getrusage says: it counts what the process was that started this one.
    status = pathlib.Path("/proc/self/status").read_text()
    return int(re.search(r"VmHWM:\\s*(\\d+) kB", status)[1])

content = sys.stdin.buffer.read()
started = most()
try:
    kept = asyncio.run(prepare_photograph(content))
    pixels = check_picture(kept)
    told = [pixels.width, pixels.height]
except PhotographRefusedError as refusal:
    told = type(refusal).__name__
print(json.dumps([told, (most() - started) // 1024]))
"""


def measured(content):
    """What became of a content, and the memory it took at its peak, in MiB."""
    done = subprocess.run(
        [sys.executable, "-c", _MEASURED],
        input=content,
        capture_output=True,
        check=True,
    )
    return json.loads(done.stdout)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("content", "told", "most_mib"),
    [
        (claiming_png(10_000, 10_000), "PhotographTooLargeError", 8),
        (claiming_jpeg(10_000, 10_000), "PhotographTooLargeError", 8),
        (claiming_webp(16_000, 16_000), "PhotographTooLargeError", 8),
        (claiming_png(50_000, 50_000), "PhotographTooLargeError", 8),
        # Within the limit by its claim, and nothing behind it.
        (claiming_png(5900, 4000), "PhotographRefusedError", 200),
        (claiming_jpeg(7700, 7700), [1600, 1600], 200),
    ],
    ids=["png-100", "jpeg-100", "webp-256", "bomb", "png-23-empty", "jpeg-59-empty"],
)
def test_a_hostile_picture_is_answered_within_bounded_memory(content, told, most_mib):
    became, mib = measured(content)
    print(f"photograph memory: {len(content)} bytes, {became}, {mib} MiB")
    assert mib <= most_mib
    assert became == told


@pytest.mark.parametrize(
    ("kind", "size", "options"),
    [
        pytest.param("JPEG", (7740, 7740), {"quality": 60}, id="jpeg"),
        *(
            pytest.param(kind, size, options, id=name, marks=pytest.mark.exhaustive)
            for name, kind, size, options in (
                ("wavy", "JPEG", (7740, 7740), {"progressive": True, "subsampling": 0}),
                ("png", "PNG", (6000, 4000), {"compress_level": 1}),
                ("webp", "WEBP", (6000, 4000), {"quality": 20, "method": 0}),
            )
        ),
    ],
)
@pytest.mark.slow
def test_the_largest_pictures_that_are_taken_stay_within_bounds(kind, size, options):
    mode = "RGB" if kind == "JPEG" else "RGBA"
    content = content_of(Image.new(mode, size, (90, 30, 30)), kind, **options)
    became, mib = measured(content)
    print(f"photograph memory: {kind} {size}, {became}, {mib} MiB")
    assert became in ([1600, 1600], [1600, 1067])
    assert mib <= 450


def test_the_orientation_tag_is_the_one_of_the_standard():
    assert Base.Orientation == 0x0112

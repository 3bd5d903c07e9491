"""What counts as a prepared picture: a JPEG that holds a picture and no more."""

import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from exam_app.record.errors import NotAPhotographError
from exam_app.record.jpeg import LARGEST_PICTURE, Pixels, check_picture, colour_parts
from tests.photographs import content_of
from tests.pictures import GREY, HEIGHT, WIDTH, picture
from tests.samples import examples


def drawn(mode="RGB", edge=(40, 30), **how):
    image = Image.effect_noise(edge, 60).convert(mode)
    return content_of(image, **how)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("mode", "how"),
    [
        ("RGB", {}),
        ("L", {}),
        ("RGB", {"progressive": True}),
        ("RGB", {"optimize": True, "quality": 95}),
        ("RGB", {"restart_marker_blocks": 1}),
        ("RGB", {"subsampling": 0}),
        ("CMYK", {}),
    ],
)
def test_what_a_picture_library_writes_is_read_with_its_size(mode, how):
    # Against Pillow (libjpeg), which wrote it.
    assert check_picture(drawn(mode, **how)) == Pixels(40, 30)


@pytest.mark.reference
def test_the_small_pictures_of_the_tests_are_what_pillow_reads():
    for size in (0, 100_000):
        content = picture(7, size)
        image = Image.open(io.BytesIO(content))
        image.load()
        assert image.size == (WIDTH, HEIGHT)
        assert check_picture(content) == Pixels(WIDTH, HEIGHT)
        assert len(content) >= size


def with_a_device():
    exif = Image.Exif()
    exif[0x010F] = "Demo maker"  # EXIF 2.32, tag 271: the maker of the device.
    return drawn(exif=exif)


@pytest.mark.parametrize(
    "make",
    [
        with_a_device,
        lambda: drawn(comment=b"where it was taken"),
        lambda: drawn(icc_profile=b"profile" * 9),
        lambda: drawn() + b"behind",
        lambda: drawn() + drawn(),
        lambda: drawn(edge=(1_601, 8)),
    ],
    ids=range(6),
)
def test_what_a_picture_library_writes_beside_a_picture_is_refused(make):
    with pytest.raises(NotAPhotographError):
        check_picture(make())


@pytest.mark.parametrize(
    "content",
    [
        GREY[:2] + b"\xff\xe0\x00\x30JFIF\0" + bytes(41) + GREY[20:],
        picture(0, LARGEST_PICTURE + 1),
        b"",
        b"\xff\xd8",
        b"\xff\xd8\xff\xd9",
        b"GIF89a" + GREY,
        GREY.replace(b"\xff\xc0\x00\x0b\x08\x00\x0c", b"\xff\xc0\x00\x0b\x08\x00\x00"),
        GREY.replace(b"\xff\xc0", b"\xff\xc9"),
        GREY.replace(b"\xff\xc0", b"\xff\xdb"),
    ],
    ids=range(9),
)
def test_what_holds_more_or_less_than_a_picture_is_refused(content):
    with pytest.raises(NotAPhotographError):
        check_picture(content)


# Marker, length, precision, height, width, one component: T.81, B.2.2.
FRAME = b"\xff\xc0\x00\x0b\x08"


@pytest.mark.reference
@pytest.mark.parametrize("marker", [b"\xff\xc0", b"\xff\xc2"])
def test_a_second_frame_header_is_refused(marker):
    # T.81, figure B.2: a picture of one frame has one frame header.
    begins = GREY.index(FRAME)
    header = GREY[begins : begins + 13]
    size = (60_000).to_bytes(2)
    larger = marker + header[2:5] + size + size + header[9:]
    for at in (begins, begins + 13):
        with pytest.raises(NotAPhotographError):
            check_picture(GREY[:at] + larger + GREY[at:])
        same = GREY[:at] + header + GREY[at:]
        with pytest.raises(NotAPhotographError):
            check_picture(same)


def test_a_picture_cut_off_anywhere_is_refused():
    for make in (lambda: GREY, lambda: drawn(progressive=True)):
        whole = make()
        for length in range(len(whole)):
            with pytest.raises(NotAPhotographError):
                check_picture(whole[:length])


@settings(max_examples=examples(400))
@given(st.integers(0, len(GREY) - 1), st.integers(1, 255), st.binary(max_size=40))
def test_a_changed_picture_is_read_or_refused_and_nothing_else(place, flip, more):
    changed = bytearray(picture(0, 1_000))
    changed[place] ^= flip
    for content in (bytes(changed), bytes(changed) + more, more):
        try:
            pixels = check_picture(content)
        except NotAPhotographError:
            continue
        assert 0 < max(pixels.width, pixels.height) <= 1_600


@pytest.mark.reference
@pytest.mark.parametrize(("mode", "parts"), [("L", 1), ("RGB", 3), ("CMYK", 4)])
def test_colours_of_a_picture_are_counted_as_they_were_written(mode, parts):
    # Against Pillow (libjpeg), which wrote it.
    assert colour_parts(drawn(mode)) == parts


def test_colours_of_what_is_cut_off_or_changed_are_refused_or_counted():
    refused = 0
    whole = drawn()
    cut = [whole[:end] for end in range(0, len(whole), 7)]
    flipped = [
        whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :] for at in range(700)
    ]
    for content in (*cut, *flipped):
        try:
            assert colour_parts(content) in (1, 3, 4)
        except NotAPhotographError:
            refused += 1
    print("pictures whose colours were refused:", refused)
    assert refused > 20

"""Invented pictures for tests: drawn by Pillow, and files that mean harm."""

import io
import struct
import zlib

from PIL import Image, ImageDraw
from PIL.TiffImagePlugin import IFDRational

# A place in no country: in the sea.
PLACE = {1: "N", 2: (48.0, 30.0, 15.0), 3: "W", 4: (20.0, 5.0, 45.0)}
CAMERA = {
    0x010F: "Invented Makers",
    0x0110: "Camera Nine",
    0x0131: "Software 3.2",
    0x0132: "2026:03:01 10:00:00",
    0x013B: "Somebody",
}
MADE_OF = {
    0x9003: "2026:03:01 10:00:00",
    0xA431: "SERIAL-123456",
    0xA434: "Lens Eleven",
}


def drawn(width: int = 640, height: int = 480) -> Image.Image:
    """An invented lump on an invented coat: red at the left, blue at the right."""
    picture = Image.new("RGB", (width, height), (150, 120, 90))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 0, width // 4, height), fill=(200, 30, 30))
    draw.rectangle((width * 3 // 4, 0, width, height), fill=(30, 30, 200))
    for number in range(0, width, 7):
        shade = 90 + number * 5 % 80
        draw.line((number, 0, width - number, height), fill=(shade, shade - 20, 60))
    middle = (width * 2 // 5, height * 2 // 5, width * 3 // 5, height * 3 // 5)
    draw.ellipse(middle, fill=(190, 140, 140), outline=(90, 40, 40), width=3)
    return picture


def content_of(picture: Image.Image, kind: str = "JPEG", **options) -> bytes:
    """Write a picture into a file's content."""
    file = io.BytesIO()
    picture.save(file, kind, **options)
    return file.getvalue()


def tags(orientation: int = 1, *, with_place: bool = True) -> Image.Exif:
    """Tags as a phone's camera writes them: place, device, time, how it was held."""
    exif = Image.Exif()
    exif.update(CAMERA)
    exif[0x0112] = orientation
    exif.get_ifd(0x8769).update(MADE_OF)
    exif.get_ifd(0x8769)[0x829A] = IFDRational(1, 60)
    if with_place:
        exif.get_ifd(0x8825).update(PLACE)
    return exif


# How a picture is stored that is upright when it is turned as its tag says.
STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def held(orientation: int) -> bytes:
    """A picture of 1000 by 600 as a camera stores it that was held so."""
    upright, turn = drawn(1000, 600), STORED[orientation]
    # Which edge is the upper one; which the left one its two other colours say.
    upright.paste((30, 160, 30), (400, 0, 600, 40))
    stored = upright if turn is None else upright.transpose(turn)
    return content_of(stored, exif=tags(orientation), quality=95)


def is_upright(picture: Image.Image) -> bool:
    """Whether such a picture stands as it was drawn, neither turned nor mirrored."""
    seen = picture.convert("RGB")
    left, right = seen.getpixel((60, 5)), seen.getpixel((940, 595))
    top, foot = seen.getpixel((500, 5)), seen.getpixel((500, 594))
    is_sided = left[0] > left[2] + 60 and right[2] > right[0] + 60
    return is_sided and top[1] > top[0] + 60 and foot[1] < foot[0]


XMP = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/'
    b'02/22-rdf-syntax-ns#"><rdf:Description xmlns:exif="http://ns.adobe.com/exif/1.0/"'
    b' exif:GPSLatitude="48,30.25N"/></rdf:RDF></x:xmpmeta>'
)


def from_a_phone(orientation: int = 1, kind: str = "JPEG", size=(2000, 1500)) -> bytes:
    """A photograph with all a camera writes: tags, XMP, a profile, words."""
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    options = {"exif": tags(orientation), "icc_profile": profile}
    if kind == "JPEG":
        options |= {"comment": b"Somebody's kitchen", "xmp": XMP}
    if kind == "WEBP":
        options |= {"xmp": XMP}
    return content_of(drawn(*size), kind, **options)


def claiming_png(width: int, height: int) -> bytes:
    """A PNG of a few bytes that claims this size."""
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(bytes(100))), (b"IEND", b""))
    parts = [
        struct.pack(">I", len(body))
        + name
        + body
        + struct.pack(">I", zlib.crc32(name + body))
        for name, body in chunks
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def claiming_jpeg(width: int, height: int) -> bytes:
    """A small JPEG whose frame claims this size."""
    content = content_of(drawn(64, 48))
    at = content.index(b"\xff\xc0")
    return content[: at + 5] + struct.pack(">HH", height, width) + content[at + 9 :]


def claiming_webp(width: int, height: int) -> bytes:
    """A small WebP whose canvas claims this size, at most 16 384 a side."""
    canvas = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    small = content_of(drawn(64, 48), "WEBP")[12:]
    body = b"WEBPVP8X\x0a\0\0\0\0\0\0\0" + canvas + small
    return b"RIFF" + struct.pack("<I", len(body)) + body

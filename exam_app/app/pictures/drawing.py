"""Draw a picture anew with Pillow: upright, small enough, and of the old file nothing.

References:
    Exif 2.32 (CIPA DC-008), tag 0x0112, the eight ways a camera was held; ICC.1 for
    profiles; IEC 61966-2-1 (sRGB).
"""

import contextlib
import io
import struct

from PIL import ImageCms, ImageOps
from PIL.Image import Image, Resampling
from PIL.Image import new as new_picture
from PIL.Image import open as open_picture

from exam_app.app.pictures.errors import PhotographRefusedError
from exam_app.record.jpeg import LONGEST_EDGE

_FORMATS = ("JPEG", "PNG", "WEBP")
_SHADES = ("1", "L", "LA", "P", "PA", "RGB", "RGBA", "RGBX", "CMYK", "YCbCr")
# Tags and profiles that make no sense leave the picture as it is.
_ODD_TAGS = (OSError, ValueError, SyntaxError, TypeError, KeyError, struct.error)


def drawn_anew(content: bytes, qualities: tuple[int, ...], wanted_bytes: int) -> bytes:
    """Return a JPEG of what a file shows, long edge at most ``LONGEST_EDGE``.

    Args:
        content: Of a size that was looked at before.
        qualities: Of the JPEG, 1 to 95, best first; at least one.
        wanted_bytes: The first quality with no more is taken, else the last.

    Raises:
        PhotographRefusedError: It does not open, or not to its end.
    """
    # Readers of damaged files raise whatever their formats make them.
    try:
        with open_picture(io.BytesIO(content), formats=_FORMATS) as opened:
            return _written(_drawn(opened), qualities, wanted_bytes)
    except (PhotographRefusedError, MemoryError):
        raise
    except Exception as error:
        raise PhotographRefusedError(type(error).__name__) from error


def _drawn(opened: Image) -> Image:
    """Return a new picture: upright, opaque, in usual colours, no larger than kept."""
    if opened.mode not in _SHADES:
        raise PhotographRefusedError(opened.mode)
    profile = opened.info.get("icc_profile")
    # A JPEG of many pixels is unpacked at a half, a quarter or an eighth.
    opened.draft(None, (LONGEST_EDGE, LONGEST_EDGE))
    opened.load()
    whole = opened.convert("RGBA") if opened.mode in ("1", "P", "PA") else opened
    if max(whole.size) > LONGEST_EDGE:
        whole = whole.resize(_fitted(*whole.size), Resampling.LANCZOS, reducing_gap=3.0)
    with contextlib.suppress(*_ODD_TAGS):
        whole = ImageOps.exif_transpose(whole)
    return _in_usual_colours(_opaque(whole), profile)


def _fitted(width: int, height: int) -> tuple[int, int]:
    share = LONGEST_EDGE / max(width, height)
    return max(1, round(width * share)), max(1, round(height * share))


def _opaque(picture: Image) -> Image:
    if "A" not in picture.getbands():
        return picture
    seen = picture.convert("RGBA")
    shown = new_picture("RGB", seen.size, "white")
    shown.paste(seen, mask=seen.getchannel("A"))
    return shown


def _in_usual_colours(picture: Image, profile: bytes | None) -> Image:
    """Return red, green and blue as every screen takes them (sRGB).

    The profile goes with all the rest, so the colours are worked out before: those of
    gums are looked at.
    """
    drawn = new_picture("RGB", picture.size)
    with contextlib.suppress(*_ODD_TAGS, ImageCms.PyCMSError):
        if profile:
            given = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            usual = ImageCms.createProfile("sRGB")
            shown = ImageCms.profileToProfile(picture, given, usual, outputMode="RGB")
            if shown is not None:
                picture = shown
    drawn.paste(picture.convert("RGB"))
    return drawn


def _written(drawn: Image, qualities: tuple[int, ...], wanted_bytes: int) -> bytes:
    content = b""
    for quality in qualities:
        file = io.BytesIO()
        drawn.save(file, "JPEG", quality=quality, optimize=True)
        content = file.getvalue()
        if len(content) <= wanted_bytes:
            break
    return content

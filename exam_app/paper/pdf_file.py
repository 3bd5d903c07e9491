"""The file of a sheet: its pages, pictures and font as the objects of a PDF.

References:
    ISO 32000-1 (2008): 9.6 to 9.10 for the font and the names of its characters, 12.6
    for what a viewer is asked to do.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass

import pydyf

from exam_app.paper.fonts import Font


@dataclass(frozen=True, slots=True)
class Picture:
    """A JPEG, placed as it is.

    Attributes:
        width, height: Of its pixels.
        parts: Colours of a pixel: 1, 3 or 4.
    """

    content: bytes
    width: int
    height: int
    parts: int = 3


@dataclass(frozen=True, slots=True)
class Content:
    """What a file is made of.

    Attributes:
        size: Width and height of every page, in points.
        pages: What is drawn on each.
        used: The characters that stand on them; the code of the first is 1.
    """

    title: str
    size: tuple[float, float]
    pages: tuple[pydyf.Stream, ...]
    font: Font
    used: tuple[str, ...]
    pictures: tuple[Picture, ...]


def pdf_of(content: Content) -> bytes:
    """Return the file; the same content gives the same bytes."""
    pdf = pydyf.PDF()
    font = _embedded(pdf, content.font, content.used)
    pictures = pydyf.Dictionary()
    for number, picture in enumerate(content.pictures):
        pictures[f"P{number}"] = _placed(pdf, picture)
    resources = pydyf.Dictionary({"Font": pydyf.Dictionary({"F1": font})})
    if pictures:
        resources["XObject"] = pictures
    for stream in content.pages:
        stream.compress = True
        pdf.add_object(stream)
        page = pydyf.Dictionary(
            {
                "Type": "/Page",
                "Parent": pdf.pages.reference,
                "MediaBox": pydyf.Array([0, 0, *content.size]),
                "Contents": stream.reference,
                "Resources": resources,
            }
        )
        pdf.add_page(page)
    pdf.info["Title"] = pydyf.String(content.title)
    pdf.catalog["Lang"] = pydyf.String("en")
    pdf.catalog["ViewerPreferences"] = pydyf.Dictionary(
        {"PrintScaling": "/None", "DisplayDocTitle": "true"}
    )
    # A viewer that does as it is asked opens its print dialogue.
    pdf.catalog["OpenAction"] = pydyf.Dictionary({"S": "/Named", "N": "/Print"})
    output = io.BytesIO()
    pdf.write(output, compress=True)
    return output.getvalue()


_SPACES = {1: "/DeviceGray", 3: "/DeviceRGB", 4: "/DeviceCMYK"}


def _placed(pdf: pydyf.PDF, picture: Picture) -> bytes:
    image = pydyf.Stream(
        [picture.content],
        {
            "Type": "/XObject",
            "Subtype": "/Image",
            "Width": picture.width,
            "Height": picture.height,
            "ColorSpace": _SPACES[picture.parts],
            "BitsPerComponent": 8,
            "Filter": "/DCTDecode",
        },
    )
    if picture.parts == 4:
        # Four inks are written the other way round in a JPEG, as Adobe began it.
        image.extra["Decode"] = pydyf.Array([1, 0] * 4)
    pdf.add_object(image)
    return bytes(image.reference)


def _embedded(pdf: pydyf.PDF, font: Font, used: Sequence[str]) -> bytes:
    file = pydyf.Stream([font.subset(used)], compress=True)
    pdf.add_object(file)
    scale = 1000 / font.units
    describes = pydyf.Dictionary(
        {
            "Type": "/FontDescriptor",
            "FontName": _NAME,
            "Flags": 4,
            "FontBBox": pydyf.Array([round(v * scale) for v in font.box]),
            "ItalicAngle": 0,
            "Ascent": round(font.ascent * scale),
            "Descent": round(font.descent * scale),
            "CapHeight": round(font.ascent * scale),
            "StemV": 80,
            "FontFile2": file.reference,
        }
    )
    pdf.add_object(describes)
    widths = pydyf.Array([font.advance(c) for c in used])
    descendant = pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/CIDFontType2",
            "BaseFont": _NAME,
            "CIDSystemInfo": pydyf.Dictionary(
                {
                    "Registry": pydyf.String("Adobe"),
                    "Ordering": pydyf.String("Identity"),
                    "Supplement": 0,
                }
            ),
            "CIDToGIDMap": "/Identity",
            "FontDescriptor": describes.reference,
            "W": pydyf.Array([1, widths]),
        }
    )
    pdf.add_object(descendant)
    names = pydyf.Stream([_names_of(used)], compress=True)
    pdf.add_object(names)
    whole = pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/Type0",
            "BaseFont": _NAME,
            "Encoding": "/Identity-H",
            "DescendantFonts": pydyf.Array([descendant.reference]),
            "ToUnicode": names.reference,
        }
    )
    pdf.add_object(whole)
    return bytes(whole.reference)


_NAME = "/PAPERA+DejaVuSans"
_CMAP = """/CIDInit /ProcSet findresource begin
12 dict begin
begincmap
/CMapName /Used def
/CMapType 2 def
1 begincodespacerange
<0000> <ffff>
endcodespacerange
{}
endcmap
end
end"""


def _names_of(used: Sequence[str]) -> bytes:
    """Say which character each code is, for whoever copies or searches."""
    pairs = [
        f"<{code:04x}> <{character.encode('utf-16-be').hex()}>"
        for code, character in enumerate(used, 1)
    ]
    blocks = (pairs[at : at + 100] for at in range(0, len(pairs), 100))
    said = (
        f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar"
        for block in blocks
    )
    return _CMAP.format("\n".join(said)).encode("ascii")

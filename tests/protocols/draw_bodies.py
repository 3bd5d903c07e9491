"""Draw every view of every species on one sheet, to look at: ``python -m`` it.

A row for each species: the whole body, and below it what is drawn closer of the left.

Usage: ``python -m tests.protocols.draw_bodies SHEET.png``.
"""

import sys

from PIL import Image, ImageDraw

from exam_app.domain.animal.body_drawing import WIDTH, BodyView, Curve
from exam_app.protocols.bodies import load_body
from exam_app.protocols.loader import available

ACROSS = 300
VIEWS = ("left", "left_head", "top", "under")


def draw(view: BodyView) -> Image.Image:
    scale = 2 * ACROSS / WIDTH
    size = (2 * ACROSS, round(view.height * scale))
    picture, mask = Image.new("RGB", size, "white"), Image.new("L", size, 255)

    def line(curve: Curve, width: int, *, fill: bool = False) -> None:
        steps = [(x * scale, y * scale) for x, y in curve.steps]
        pen = ImageDraw.Draw(picture)
        if fill:
            pen.polygon(steps, fill="white")
        pen.line(steps, fill="black" if width > 1 else "gray", width=width)

    for shape in shapes_of(view, is_whole=False):
        line(shape, 2 if view.is_closer else 1, fill=True)
    around = [(x * scale, y * scale) for x, y in view.outline.steps]
    ImageDraw.Draw(mask).polygon(around, fill=0)
    picture.paste("white", mask=mask)
    for curve in (view.outline, *view.lines):
        line(curve, 3)
    for shape in shapes_of(view, is_whole=True):
        line(shape, 3, fill=True)
    return picture.resize((ACROSS, size[1] // 2))


def shapes_of(view: BodyView, *, is_whole: bool) -> list[Curve]:
    """Return the areas of a whole body, or the spots of a closer drawing."""
    drawn = view.spots if view.is_closer else view.areas
    return [s for one in drawn if not is_whole or one.is_whole for s in one.shapes]


def main(path: str) -> None:
    rows = []
    for body in map(load_body, available()):
        closer = [v for name, v in body.closer.items() if not name.endswith(".right")]
        views = [*(body.views[name] for name in VIEWS), *closer]
        rows += [
            [draw(view) for view in views[at : at + len(VIEWS)]]
            for at in range(0, len(views), len(VIEWS))
        ]
    heights = [max(picture.height for picture in row) for row in rows]
    sheet = Image.new("RGB", (ACROSS * len(VIEWS), sum(heights)), "white")
    for at, row in enumerate(rows):
        for column, picture in enumerate(row):
            sheet.paste(picture, (column * ACROSS, sum(heights[:at])))
    sheet.save(path)


if __name__ == "__main__":
    main(sys.argv[1])

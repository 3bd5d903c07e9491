"""Load the drawing of a species: one TOML file of our own lines for each.

Of an animal's flank one is drawn, ``side``, and its head closer, ``head``: the animal
looks to the left, and the right view is the mirror of the left. ``top`` and ``under``
give one half, from the nose to the tail, and the other is its mirror.

A line is a list of points ``x,y`` in thousandths of the view's width; one that ends in
``!`` is a corner. ``o x,y r`` is a circle, ``o x,y rx,ry`` an ellipse. An area may say
first where its name belongs: ``@x,y``; several pieces are parted by ``|``. One that
begins with ``+`` is drawn whole, beyond the body's outline too. Its key is
the part's, with a side where the part has two: ``near`` and ``far`` on the flank,
``left`` and ``right`` on a half. ``left`` or ``right`` before the key of a flank says
that only this view shows it, ``one`` before that of a half that it is not mirrored.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

from exam_app.domain.animal.body_drawing import WIDTH, Area, Body, BodyView, Curve
from exam_app.domain.protocol.protocol import split_key
from exam_app.protocols.codec import ProtocolFileError

_PLACE = "exam_app.protocols"
_MIDDLE = WIDTH / 2
_SIDES = {"left": "right", "right": "left", "near": "far", "far": "near", "": ""}


def is_drawn(species: str) -> bool:
    """Whether the program comes with a drawing of a species."""
    return bool(_file(species).is_file())


@cache
def load_body(species: str) -> Body:
    """Return the drawing of a species, which is read when it is first asked for.

    Raises:
        ProtocolFileError: There is none, or the file has faults.
    """
    name = f"bodies/{species}.toml"
    if not is_drawn(species):
        raise ProtocolFileError.of(name, "(file)", "not found")
    try:
        raw = tomllib.loads(_file(species).read_text("utf-8"))
        views = raw["views"]
        found = [
            *_both_sides("", views["side"]),
            *_both_sides("_head", views["head"]),
            *(_halves(one, views[one]) for one in ("top", "under") if one in views),
        ]
        return Body(species, {view.name: view for view in found}, raw["not_drawn"])
    except (KeyError, ValueError, IndexError) as error:
        raise ProtocolFileError.of(name, "(drawing)", str(error)) from error


def _file(species: str) -> Any:  # noqa: ANN401 - a path, or one inside a package
    return files(_PLACE).joinpath("bodies", f"{species}.toml")


def _both_sides(ending: str, raw: Mapping[str, Any]) -> Iterator[BodyView]:
    outline = _curve(raw["outline"])
    lines = tuple(_curve(text, is_closed=False) for text in raw.get("lines", ()))
    for near, far in (("left", "right"), ("right", "left")):
        is_mirror = near == "right"
        areas = []
        for name, text in raw["areas"].items():
            only, _, key = name.rpartition(" ")
            if only and only != near:
                continue
            part, side = split_key(key)
            sides = {"near": near, "far": far, "": ""}
            area = _area(_key(part, sides[side]), text, is_far=side == "far")
            areas.append(_mirror(area) if is_mirror else area)
        yield BodyView(
            near + ending,
            raw["height"],
            outline.mirrored() if is_mirror else outline,
            tuple(map(Curve.mirrored, lines)) if is_mirror else lines,
            tuple(areas),
        )


def _halves(view: str, raw: Mapping[str, Any]) -> BodyView:
    lines = [_curve(text, is_closed=False) for text in raw.get("lines", ())]
    areas = []
    for name, text in raw["areas"].items():
        only, _, key = name.rpartition(" ")
        side = split_key(key)[1]
        area = _area(key, text)
        if only:
            areas.append(area)
        elif side:
            areas += [area, _mirror(area, _key(split_key(key)[0], _SIDES[side]))]
        elif "o " in text:
            areas.append(area)
        else:
            shapes = tuple(map(_joined, area.shapes))
            label = area.label if "@" in text else _mean(shapes[0])
            areas.append(replace(area, shapes=shapes, label=label))
    return BodyView(
        view,
        raw["height"],
        _joined(_curve(raw["outline"])),
        (*lines, *map(Curve.mirrored, lines)),
        tuple(areas),
    )


def _key(part: str, side: str) -> str:
    return f"{part}.{side}" if side else part


def _mirror(area: Area, key: str = "") -> Area:
    shapes = tuple(map(Curve.mirrored, area.shapes))
    label = (WIDTH - area.label[0], area.label[1])
    return replace(area, key=key or area.key, shapes=shapes, label=label)


def _joined(half: Curve) -> Curve:
    """Return a half and its mirror as one closed line, joined on the middle."""
    last = len(half.points) - 1
    ends = {at for at in (0, last) if half.points[at][0] == _MIDDLE}
    other = [at for at in range(last, -1, -1) if at not in ends]
    points = [
        *half.points,
        *((WIDTH - half.points[a][0], half.points[a][1]) for a in other),
    ]
    corners = set(half.corners)
    corners |= {last + 1 + n for n, at in enumerate(other) if at in half.corners}
    return Curve(tuple(points), frozenset(corners))


def _area(key: str, text: str, *, is_far: bool = False) -> Area:
    label, rest = None, text.removeprefix("+ ")
    if rest.startswith("@"):
        said, rest = rest[1:].split(maxsplit=1)
        label = _point(said)
    shapes = tuple(map(_curve, rest.split("|")))
    is_whole = text.startswith("+ ")
    return Area(key, shapes, label or _mean(shapes[0]), is_far, is_whole)


def _mean(curve: Curve) -> tuple[float, float]:
    across, down = zip(*curve.steps, strict=True)
    return sum(across) / len(across), sum(down) / len(down)


def _curve(text: str, *, is_closed: bool = True) -> Curve:
    words = text.split()
    if words[0] == "o":
        return _ellipse(*words[1:])
    corners = frozenset(at for at, word in enumerate(words) if word.endswith("!"))
    points = tuple(_point(word.removesuffix("!")) for word in words)
    if len(points) < (3 if is_closed else 2):
        msg = f"too few points: {text}"
        raise ValueError(msg)
    return Curve(points, corners, is_closed)


def _ellipse(middle: str, radii: str) -> Curve:
    x, y = _point(middle)
    across, down = _point(radii) if "," in radii else (float(radii),) * 2
    around = ((1, 0), (0.7, 0.7), (0, 1), (-0.7, 0.7))
    points = [(x + across * dx, y + down * dy) for dx, dy in around]
    points += [(x - across * dx, y - down * dy) for dx, dy in around]
    return Curve(tuple(points))


def _point(word: str) -> tuple[float, float]:
    x, y = word.split(",")
    return float(x), float(y)

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

Closer drawings are shared among species: ``bodies/closer/NAME.toml``. ``[closer]``
of a species names for each part what is drawn closer (``fore_foot``, ``udder``; see
``CloserView``) and by which file. ``side`` is the outer side of the left limb or foot
and gives the inner one too, ``under`` the left one from below; the right ones are
their mirrors. ``whole`` gives one half, as ``top`` does. There the areas ``limb`` and
``foot`` are the parts that are drawn by a limb's and by a foot's drawing; ``spots``
name and draw what is seen, ``bands`` name it by its height alone, ``captions`` stand
beside it. An area of a part that the species does not have is left out.
"""

import tomllib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

from exam_app.domain.animal.body_drawing import WIDTH, Area, Body, BodyView, Curve
from exam_app.domain.animal.body_marks import (
    CloserView,
    OwnSide,
    closer_name,
    closer_words,
)
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
        views = {view.name: view for view in found}
        return Body(species, views, raw["not_drawn"], *_closer(raw.get("closer", {})))
    except (KeyError, ValueError, IndexError, OSError) as error:
        raise ProtocolFileError.of(name, "(drawing)", str(error)) from error


def _file(species: str) -> Any:  # noqa: ANN401 - a path, or one inside a package
    return files(_PLACE).joinpath("bodies", f"{species}.toml")


def _closer(
    named: Mapping[str, Mapping[str, str]],
) -> tuple[dict[str, BodyView], dict[str, tuple[str, ...]]]:
    """Return the closer drawings by name, and their names by part and side."""
    views: dict[str, BodyView] = {}
    shown: dict[str, tuple[str, ...]] = {}
    owner = {thing: part for part, things in named.items() for thing in things}
    for part, things in named.items():
        for thing, file in things.items():
            raw = _closer_file(file)
            for view in (one for one in CloserView if one.thing == thing):
                for limb in [*OwnSide] if view.aspect else [None]:
                    drawn = _closer_view(view, limb, raw, owner, named)
                    if drawn is None:
                        continue
                    views[drawn.name] = drawn
                    key = _key(part, limb or "")
                    for one in [key] if limb else _sided(part, drawn):
                        shown[one] = (*shown.get(one, ()), drawn.name)
    return views, shown


def _sided(part: str, drawn: BodyView) -> list[str]:
    """Return the keys of a part on a drawing that shows both its sides."""
    return [one.key for one in drawn.areas if split_key(one.key)[0] == part]


@cache
def _closer_file(name: str) -> dict[str, Any]:
    text = files(_PLACE).joinpath("bodies", "closer", f"{name}.toml").read_text("utf-8")
    return tomllib.loads(text)


def _closer_view(
    view: CloserView,
    limb: OwnSide | None,
    raw: Mapping[str, Any],
    owner: Mapping[str, str],
    known: Collection[str],
) -> BodyView | None:
    """Return one closer drawing; nothing where its file does not show it so.

    Args:
        view: Which.
        limb: Of the side that is drawn.
        raw: The file's tables.
        owner: The part that a drawing of a limb or a foot belongs to.
        known: The parts that the species has closer drawings of.
    """
    name, words = closer_name(view, limb), closer_words(view, limb)
    if limb is None:
        half = raw["whole"]
        drawn = replace(_halves(name, half), words=words, **_named_spots(half))
        areas = tuple(one for one in drawn.areas if split_key(one.key)[0] in known)
        return replace(drawn, areas=areas)
    one_side = raw.get("under" if view.aspect == "under" else "side")
    if one_side is None:
        return None
    lines = (*one_side.get("lines", ()), *one_side.get(f"{view.aspect}_lines", ()))
    kind = view.thing.removesuffix("foot").removesuffix("limb").strip("_")
    parts = {
        "limb": owner.get(f"{kind}limb", ""),
        "foot": owner.get(f"{kind}_foot" if kind else "foot", ""),
    }
    areas = tuple(
        _area(_key(parts[name], limb), text)
        for name, text in one_side["areas"].items()
        if parts[name]
    )
    drawn = BodyView(
        name,
        one_side["height"],
        _curve(one_side["outline"]),
        tuple(_curve(text, is_closed=False) for text in lines),
        _as_one(areas),
        words,
        tuple(_spot(name, text) for name, text in one_side.get("spots", {}).items()),
        tuple(one_side.get("bands", {}).items()),
        _captions(one_side),
    )
    # The outer side of the left one and the inner of the right look to the left.
    is_left = (limb is OwnSide.LEFT) is not (view.aspect == "inner")
    return drawn if is_left else _mirrored_view(drawn)


def _as_one(areas: tuple[Area, ...]) -> tuple[Area, ...]:
    """Join the areas of one part: a paw belongs to the limb."""
    joined: dict[str, Area] = {}
    for one in areas:
        before = joined.get(one.key)
        shapes = (*before.shapes, *one.shapes) if before else one.shapes
        joined[one.key] = replace(before or one, shapes=shapes)
    return tuple(joined.values())


def _mirrored_view(view: BodyView) -> BodyView:
    return replace(
        view,
        outline=view.outline.mirrored(),
        lines=tuple(map(Curve.mirrored, view.lines)),
        areas=tuple(map(_mirror, view.areas)),
        spots=tuple(map(_mirror, view.spots)),
        captions=tuple((name, (WIDTH - x, y)) for name, (x, y) in view.captions),
    )


def _captions(raw: Mapping[str, Any]) -> tuple[tuple[str, tuple[float, float]], ...]:
    return tuple((name, _point(at)) for name, at in raw.get("captions", {}).items())


def _named_spots(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a half and its mirror show, named with their side."""
    drawn = _half_areas(raw.get("spots", {}), is_spots=True)
    spots = tuple(replace(one, key=_spoken(one.key)) for one in drawn)
    return {"spots": spots, "captions": _captions(raw)}


def _spoken(key: str) -> str:
    """Name a spot of a half: ``right upper canine`` of ``upper canine.right``."""
    part, side = split_key(key)
    return f"{side} {part}" if side else part


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
    return BodyView(
        view,
        raw["height"],
        _joined(_curve(raw["outline"])),
        (*lines, *map(Curve.mirrored, lines)),
        _half_areas(raw["areas"]),
    )


def _half_areas(raw: Mapping[str, str], *, is_spots: bool = False) -> tuple[Area, ...]:
    """Return the areas of a half and of its mirror.

    Args:
        is_spots: Whether they are spots of a closer drawing: their names are words,
            and have no place of their own.
    """
    areas = []
    for name, text in raw.items():
        only, _, key = ("", "", name) if is_spots else name.rpartition(" ")
        side = split_key(key)[1]
        area = _spot(key, text) if is_spots else _area(key, text)
        if only:
            areas.append(area)
        elif side:
            areas += [area, _mirror(area, _key(split_key(key)[0], _SIDES[side]))]
        elif "o " in text:
            areas.append(area)
        else:
            shapes = tuple(map(_joined, area.shapes))
            has_label = is_spots or "@" in text
            label = area.label if has_label else _mean(shapes[0])
            areas.append(replace(area, shapes=shapes, label=label))
    return tuple(areas)


def _spot(name: str, text: str) -> Area:
    """Return a spot; its place is the first of its points, and is asked by nobody."""
    is_whole = text.startswith("+ ")
    shapes = tuple(map(_curve, text.removeprefix("+ ").split("|")))
    return Area(name, shapes, shapes[0].points[0], is_whole=is_whole)


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

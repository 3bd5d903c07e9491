"""Closer drawings: every part that has one, its side, its frame, what a tap hits.

How many teeth a species has: permanent teeth of one side as WikiVet prints them (dog,
cat: "Dental Formula"), and for ferret and rabbit as printed by Foothill Pet Hospital,
"Dental Formulas for various species"; whether both were read or recalled is not noted.
Horse, donkey, pig, ruminants, camelids and guinea pig are common practice, no source;
wolf teeth are not drawn, and the canine of ruminants counts as a fourth incisor (MSD
Veterinary Manual, "Overview of Dental Development", note c).
"""

from collections import Counter
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.domain.animal.body_drawing import WIDTH, Curve
from exam_app.domain.animal.body_marks import (
    CloserView,
    OwnSide,
    closer_name,
    closer_place,
    closer_words,
)
from exam_app.domain.protocol.protocol import split_key
from exam_app.protocols.bodies import load_body
from exam_app.protocols.codec import ProtocolFileError
from exam_app.protocols.loader import available, load_protocol

SPECIES = available()


def drawn_once():
    """Each drawing once: species share them, and the right ones are mirrors."""
    found = {}
    for species in SPECIES:
        for name, view in load_body(species).closer.items():
            if not name.endswith(".right"):
                found.setdefault(
                    (view.outline, view.spots, view.lines), (species, view)
                )
    return list(found.values())


DRAWN = [
    pytest.param(view, id=f"{species}-{view.name}") for species, view in drawn_once()
]
# The narrowest screen that is looked at, and the narrowest drawing on it.
FINGER = 56 * WIDTH / 200
DOG = load_body("dog")
SMALLEST = 24


def curves_of(view):
    return [view.outline, *view.lines, *(s for one in view.spots for s in one.shapes)]


@pytest.mark.parametrize("view", DRAWN)
def test_all_that_is_drawn_lies_inside_its_frame(view):
    for curve in curves_of(view):
        for x, y in curve.steps:
            assert 0 <= x <= WIDTH, view.name
            assert 0 <= y <= view.height, view.name


@pytest.mark.parametrize("view", DRAWN)
def test_no_caption_touches_the_drawing_or_another(view):
    # Twelve pixels high where the drawing is 334 wide; a letter is some six wide.
    boxes = []
    for words, (x, y) in view.captions:
        across, down = len(words) * 6.2 * WIDTH / 334 / 2, 14 * WIDTH / 334 / 2
        assert across <= x <= WIDTH - across, words
        assert y - down + 12 >= 0, words
        assert y + down <= view.height + 12, words
        corners = [(x + a * across, y + b * down) for a in (-1, 1) for b in (-1, 0, 1)]
        if abs(x - WIDTH / 2) > WIDTH / 4:
            assert not any(view.outline.contains(one) for one in corners), words
        boxes.append((x, y, across, down))
    for at, (x, y, a, d) in enumerate(boxes):
        for ox, oy, oa, od in boxes[at + 1 :]:
            assert abs(x - ox) > a + oa or abs(y - oy) > d + od


@pytest.mark.parametrize("species", SPECIES)
def test_every_part_with_closer_drawings_has_exactly_one_set_of_them(species):
    body, protocol = load_body(species), load_protocol(species).protocol
    keys = {key for region in protocol.regions for key in region.answer_keys()}
    assert body.closer_of.keys() <= keys
    parts = {split_key(key)[0] for key in body.closer_of}
    for part in parts:
        region = protocol.region(part)
        assert set(region.answer_keys()) <= body.closer_of.keys(), part
    shown = {name for names in body.closer_of.values() for name in names}
    assert shown == body.closer.keys()
    for key, names in body.closer_of.items():
        assert len(names) == len(set(names))
        side = split_key(key)[1]
        assert {name.partition(".")[2] for name in names} <= {side, ""}


@pytest.mark.parametrize("species", SPECIES)
def test_limbs_feet_udder_and_mouth_have_one_wherever_a_species_has_them(species):
    protocol, body = load_protocol(species).protocol, load_body(species)
    wanted = {"forelimb", "hindlimb", "hoof_fore", "hoof_hind", "mouth", "mouth_deep"}
    wanted |= {"udder", "udder_fore", "udder_rear", "mammary"}
    has = {region.region_id for region in protocol.regions} & wanted
    if species == "chicken":
        # A beak is one drawing on the head already.
        has -= {"mouth"}
    assert {split_key(key)[0] for key in body.closer_of} == has


@pytest.mark.parametrize("species", SPECIES)
def test_every_part_of_a_closer_drawing_is_hit_where_its_name_stands(species):
    body = load_body(species)
    for view in body.closer.values():
        keys = {area.key for area in view.areas}
        for area in view.areas:
            for finger in (1, FINGER):
                assert view.hit(area.label, finger, keys) == area.key, view.name
            assert view.is_on(area.label, 1), (view.name, area.key)


@pytest.mark.parametrize("view", DRAWN)
def test_a_tap_beside_a_closer_drawing_names_nothing(view):
    tried = 0
    for point in product(range(0, WIDTH + 1, 100), range(0, view.height + 1, 100)):
        if not any(
            one.contains(point) or one.distance(point) <= SMALLEST
            for one in (view.outline, *(s for a in view.spots for s in a.shapes))
        ):
            tried += 1
            assert not view.is_on(point, SMALLEST)
            assert view.spot_at(point) == ""
    assert tried > 5


@pytest.mark.parametrize("view", DRAWN)
def test_every_spot_is_named_where_it_is_drawn(view):
    for spot in view.spots:
        # What another spot lies upon is named beside it.
        assert any(
            view.spot_at(point) == spot.key
            for shape in spot.shapes
            for point in grid_within(shape)
        ), (view.name, spot.key)


def grid_within(shape: Curve):
    across, down = zip(*shape.steps, strict=True)
    for n, m in product(range(1, 16), range(1, 16)):
        x = min(across) + (max(across) - min(across)) * n / 16
        y = min(down) + (max(down) - min(down)) * m / 16
        if shape.contains((x, y)):
            yield x, y


@pytest.mark.parametrize("species", SPECIES)
def test_sides_are_mirrors_and_the_inner_side_is_the_outer_one_seen_from_behind(
    species,
):
    body = load_body(species)
    for name, view in body.closer.items():
        if name.endswith(".left"):
            other = body.closer[name.removesuffix(".left") + ".right"]
            assert other.outline.points == view.outline.mirrored().points
    outer, inner = "hindlimb_outer.left", "hindlimb_inner.left"
    if outer in body.closer:
        drawn = body.closer[outer].outline
        assert body.closer[inner].outline.points == drawn.mirrored().points


def test_outer_and_front_stand_where_they_are_on_the_animal():
    # Of a left flank the nose is at the left, so is the front of its limb; from below
    # with the toes up, the outer side of a left foot is at the right.
    for name, caption, is_left in (
        ("forelimb_outer.left", "front", True),
        ("forelimb_inner.left", "front", False),
        ("forelimb_outer.right", "front", False),
        ("fore_foot_under.left", "outer", False),
        ("fore_foot_under.right", "outer", True),
    ):
        x, _ = dict(DOG.closer[name].captions)[caption]
        assert (x < WIDTH / 2) is is_left, name


@pytest.mark.parametrize("species", SPECIES)
def test_below_an_udder_and_in_a_mouth_the_right_is_at_the_left(species):
    for name in ("udder", "mammary", "mouth"):
        view = load_body(species).closer.get(name)
        if view is None:
            continue
        assert (
            dict(view.captions)["right"][0] < WIDTH / 2 < dict(view.captions)["left"][0]
        )
        for one in view.spots:
            x = sum(x for x, _ in one.shapes[0].steps) / len(one.shapes[0].steps)
            side = next((s for s in ("right", "left") if one.key.startswith(s)), "")
            if side:
                assert (x < WIDTH / 2) is (side == "right"), one.key
        for area in view.areas:
            if side := split_key(area.key)[1]:
                assert (area.label[0] < WIDTH / 2) is (side == "right"), area.key


# Of one side: incisors, canines and cheek teeth above, then below.
TEETH = {
    "dog": ((3, 1, 4 + 2), (3, 1, 4 + 3)),
    "cat": ((3, 1, 3 + 1), (3, 1, 2 + 1)),
    "ferret": ((3, 1, 3 + 1), (3, 1, 3 + 2)),
    "rabbit": ((2, 0, 3 + 3), (1, 0, 2 + 3)),
    "guinea_pig": ((1, 0, 1 + 3), (1, 0, 1 + 3)),
    "pig": ((3, 1, 4 + 3), (3, 1, 4 + 3)),
    "horse": ((3, 1, 3 + 3), (3, 1, 3 + 3)),
    "donkey": ((3, 1, 3 + 3), (3, 1, 3 + 3)),
    "cattle": ((0, 0, 3 + 3), (4, 0, 3 + 3)),
    "sheep": ((0, 0, 3 + 3), (4, 0, 3 + 3)),
    "goat": ((0, 0, 3 + 3), (4, 0, 3 + 3)),
    "camelid": ((1, 1, 2 + 3), (3, 1, 2 + 3)),
}


CITED = ("dog", "cat", "ferret", "rabbit")


@pytest.mark.parametrize(
    "species",
    [
        pytest.param(name, marks=[pytest.mark.reference] * (name in CITED))
        for name in TEETH
    ],
)
def test_each_side_of_a_mouth_has_the_teeth_of_the_species(species):
    found = Counter()
    for spot in load_body(species).closer["mouth"].spots:
        if "right" in spot.key:
            jaw = "lower" if "lower" in spot.key else "upper"
            for kind, names in (
                ("incisor", ("incisor",)),
                ("canine", ("canine", "tusk")),
                ("cheek", ("cheek tooth",)),
            ):
                found[jaw, kind] += any(name in spot.key for name in names)
    told = tuple(
        tuple(found[jaw, kind] for kind in ("incisor", "canine", "cheek"))
        for jaw in ("upper", "lower")
    )
    assert told == TEETH[species]


@pytest.mark.parametrize(
    ("species", "pairs"),
    [
        ("cattle", 2),
        ("sheep", 1),
        ("goat", 1),
        ("horse", 1),
        ("donkey", 1),
        ("camelid", 2),
    ],
)
def test_an_udder_has_its_teats(species, pairs):
    # Common practice, no source.
    spots = load_body(species).closer["udder"].spots
    assert sum("teat end" in one.key for one in spots) == 2 * pairs


@pytest.mark.parametrize(
    ("species", "pairs"),
    [
        ("dog", 5),
        ("cat", 4),
        ("ferret", 4),
        ("rabbit", 4),
        ("guinea_pig", 1),
        ("pig", 7),
    ],
)
def test_rows_of_glands_have_their_teats(species, pairs):
    # Common practice, no source; it differs from one animal to the next.
    body = load_body(species)
    drawn = body.closer.get("mammary") or body.closer["udder"]
    assert sum("teat" in one.key for one in drawn.spots) == 2 * pairs


def test_a_foot_of_a_hoofed_animal_is_its_own_part_and_a_paw_belongs_to_the_limb():
    horse = load_body("horse")
    assert horse.closer_of["hoof_fore.left"] == (
        "fore_foot_outer.left",
        "fore_foot_inner.left",
        "fore_foot_under.left",
    )
    assert DOG.closer_of["forelimb.left"] == (
        "forelimb_outer.left",
        "forelimb_inner.left",
        *horse.closer_of["hoof_fore.left"],
    )
    limb = horse.closer["forelimb_outer.left"]
    keys = {area.key for area in limb.areas}
    assert limb.hit((450, 1100), 1, keys) == "hoof_fore.left"
    assert limb.hit((510, 500), 1, keys) == "forelimb.left"
    assert {area.key for area in DOG.closer["fore_foot_under.right"].areas} == {
        "forelimb.right"
    }


@given(
    view=st.sampled_from([v for s in SPECIES for v in load_body(s).closer.values()]),
    across=st.integers(0, 1000),
    down=st.integers(0, 1000),
    width=st.integers(200, 520),
)
def test_a_place_in_thousandths_comes_back_from_any_screen(view, across, down, width):
    point = across, down * view.height / 1000
    seen = view.from_pixels(view.at_pixels(point, width), width)
    place = closer_place(view, seen)
    assert (place.x, place.y) == (across, down)
    assert place.drawing == view.name
    assert closer_words(place.view, place.limb) == view.words


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
def test_a_tap_beside_the_frame_is_on_its_edge(x, y):
    place = closer_place(DOG.closer["mouth"], (x, y))
    assert 0 <= place.x <= 1000
    assert 0 <= place.y <= 1000


@pytest.mark.parametrize("view", CloserView)
def test_every_closer_view_has_words_and_is_drawn_for_a_species(view):
    limb = OwnSide.LEFT if view.aspect else None
    name = closer_name(view, limb)
    assert any(name in load_body(species).closer for species in SPECIES)
    assert "_" not in closer_words(view, limb)


@pytest.mark.parametrize(
    "closer",
    [
        {"forelimb": {"forelimb": "no_such_file"}},
        {"mouth": {"mouth": "paw"}},
        {"mouth": {"mouth": "../dog"}},
    ],
)
def test_a_species_that_names_no_drawing_of_ours_is_refused_in_words(
    closer, monkeypatch
):
    import exam_app.protocols.bodies as module

    text = module._file("dog").read_text("utf-8")
    lines = [line for line in text.splitlines() if " = { " not in line]
    part, things = next(iter(closer.items()))
    thing, file = next(iter(things.items()))
    put = f'{part} = {{ {thing} = "{file}" }}'
    text = "\n".join(lines).replace("[closer]", f"[closer]\n{put}")

    class Stored:
        def is_file(self):
            return True

        def read_text(self, _):
            return text

    monkeypatch.setattr(module, "_file", lambda _: Stored())
    with pytest.raises(ProtocolFileError, match=r"newt\.toml"):
        module.load_body.__wrapped__("newt")

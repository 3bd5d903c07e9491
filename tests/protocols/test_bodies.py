"""Every species has its drawing, and a tap on a part names that part and its side."""

from itertools import product

import pytest

from exam_app.domain.animal.body_drawing import WIDTH, Curve, hatching
from exam_app.domain.protocol.protocol import split_key
from exam_app.protocols.bodies import is_drawn, load_body
from exam_app.protocols.codec import ProtocolFileError
from exam_app.protocols.loader import available, load_protocol

SPECIES = available()
VIEWS = [
    pytest.param(species, view, id=f"{species}-{view}")
    for species in SPECIES
    for view in ("left", "right", "left_head", "right_head", "top", "under")
]
PHONE = 390 - 56
FINGER = 56 * WIDTH / PHONE
OTHER = {"left": "right", "right": "left", "": ""}


def faults_of(body, protocol):
    """Yield what a drawing and a protocol do not agree about, in words."""
    keys = {key for region in protocol.regions for key in region.answer_keys()}
    drawn = {area.key for view in body.views.values() for area in view.areas}
    for key in sorted(drawn - keys):
        yield f"{key}: drawn, and no part of the protocol"
    parts = {split_key(key)[0] for key in keys}
    for part in sorted(body.not_drawn):
        if part not in parts:
            yield f"{part}: called not drawn, and no part of the protocol"
        if part in {split_key(key)[0] for key in drawn}:
            yield f"{part}: called not drawn, and drawn"
    for key in sorted(keys - drawn):
        if split_key(key)[0] not in body.not_drawn:
            yield f"{key}: has no area"


@pytest.mark.parametrize("species", SPECIES)
def test_every_part_of_a_protocol_is_drawn_or_named_as_not_drawn(species):
    protocol = load_protocol(species).protocol
    assert list(faults_of(load_body(species), protocol)) == []


def test_a_part_without_an_area_is_told():
    dog, cattle = load_body("dog"), load_protocol("cattle").protocol
    told = list(faults_of(dog, cattle))
    assert "udder_fore.left: has no area" in told
    assert "mammary.left: drawn, and no part of the protocol" in told


@pytest.mark.parametrize(("species", "name"), VIEWS)
def test_the_place_of_every_name_hits_its_own_part(species, name):
    view = load_body(species).views[name]
    keys = {area.key for area in view.areas}
    hit = {area.key: view.hit(area.label, 1, keys) for area in view.areas}
    assert hit == {key: key for key in keys}


@pytest.mark.parametrize(("species", "name"), VIEWS)
def test_no_name_stands_off_the_drawing(species, name):
    view = load_body(species).views[name]
    for area in view.areas:
        x, y = area.label
        assert 0 <= x <= WIDTH, area.key
        assert 0 <= y <= view.height, area.key


@pytest.mark.parametrize(("species", "name"), VIEWS)
def test_a_tap_far_from_the_animal_names_nothing(species, name):
    view = load_body(species).views[name]
    keys = {area.key for area in view.areas}
    assert view.hit((-FINGER, -FINGER), FINGER, keys) == ""
    assert view.hit((WIDTH + FINGER, view.height + FINGER), FINGER, keys) == ""


@pytest.mark.parametrize(("species", "name"), VIEWS)
def test_the_place_of_every_name_lies_on_the_animal(species, name):
    view = load_body(species).views[name]
    off = {area.key for area in view.areas if not view.outline.contains(area.label)}
    assert off - {area.key for area in view.areas if area.is_whole} == set()


@pytest.mark.slow
@pytest.mark.parametrize("species", SPECIES)
@pytest.mark.parametrize("apart", [200, pytest.param(50, marks=pytest.mark.exhaustive)])
def test_a_tap_on_empty_ground_names_nothing(species, apart):
    tried = 0
    for view in load_body(species).views.values():
        keys = {area.key for area in view.areas}
        drawn = [view.outline]
        drawn += [s for a in view.areas if a.is_whole for s in a.shapes]
        across, down = range(0, WIDTH + 1, apart), range(0, view.height + 1, apart)
        for point in product(across, down):
            if not any(
                one.contains(point) or one.distance(point) <= FINGER / 2
                for one in drawn
            ):
                tried += 1
                assert view.hit(point, FINGER, keys) == "", (view.name, point)
    assert tried > 40


@pytest.mark.parametrize("species", SPECIES)
def test_every_drawn_part_and_side_is_hit_by_a_finger_on_a_phone(species):
    body = load_body(species)
    drawn = {area.key for view in body.views.values() for area in view.areas}
    hit = {
        view.hit(area.label, FINGER, {a.key for a in view.areas})
        for view in body.views.values()
        for area in view.areas
    }
    assert drawn - hit == set()


@pytest.mark.parametrize("species", SPECIES)
@pytest.mark.parametrize("part", ["eyes", "ears", "nose", "mouth"])
def test_small_parts_of_the_head_take_a_finger_that_is_not_exact(species, part):
    for side in ("left", "right"):
        view = load_body(species).views[f"{side}_head"]
        keys = {area.key for area in view.areas}
        area = next(a for a in view.areas if split_key(a.key)[0] == part)
        x, y = area.label
        off = 8 * WIDTH / PHONE
        around = [(x + off, y), (x - off, y), (x, y + off), (x, y - off)]
        assert {view.hit(at, FINGER, keys) for at in around} == {area.key}


@pytest.mark.parametrize("species", SPECIES)
def test_the_right_view_is_the_left_one_in_a_mirror(species):
    body = load_body(species)
    left, right = body.views["left"], body.views["right"]
    for area in left.areas:
        part, side = split_key(area.key)
        other = right.area(f"{part}.{OTHER[side]}" if side else part)
        if part != "rumen":
            assert other is not None
            assert other.label == (WIDTH - area.label[0], area.label[1])


@pytest.mark.parametrize("species", ["cattle", "sheep", "goat", "camelid"])
def test_the_first_stomach_lies_on_the_left_only(species):
    body = load_body(species)
    assert body.views["left"].area("rumen") is not None
    assert body.views["right"].area("rumen") is None


def test_a_tap_names_every_part_below_it_the_one_meant_first():
    view = load_body("dog").views["left"]
    keys = {area.key for area in view.areas}
    at = view.area("lungs.left").label
    assert view.parts_at(at, FINGER, keys) == ("lungs.left", "chest")
    assert view.parts_at(at, FINGER, {"chest"}) == ("chest",)
    assert view.parts_at((500, 60), FINGER, keys) == ()


@pytest.mark.slow
@pytest.mark.parametrize("species", SPECIES)
def test_no_tap_on_a_flank_names_a_limb_of_the_other_side(species):
    # What is on the other side is marked in the view that shows it.
    for side in ("left", "right"):
        view = load_body(species).views[side]
        keys = {area.key for area in view.areas}
        named = {
            key
            for x, y in product(range(0, 1001, 60), range(0, view.height, 60))
            for key in view.parts_at((x, y), FINGER, keys)
        }
        assert {split_key(key)[1] for key in named} <= {"", side}
        assert len(named) > 5


@pytest.mark.parametrize("species", SPECIES)
def test_the_skin_is_all_over_every_animal(species):
    assert load_body(species).everywhere == ("skin_coat",)


def test_a_part_the_exam_does_not_ask_for_gives_its_taps_to_what_lies_below():
    view = load_body("dog").views["left_head"]
    eye = view.area("eyes.left")
    assert view.hit(eye.label, FINGER, {"eyes.left", "head"}) == "eyes.left"
    assert view.hit(eye.label, FINGER, {"head"}) == "head"


@pytest.mark.parametrize("width", [280, 334, 560])
def test_a_place_in_thousandths_and_its_pixel_are_one_place(width):
    view = load_body("dog").views["top"]
    there = view.at_pixels((125, 640), width)
    assert view.from_pixels(there, width) == pytest.approx((125, 640))


@pytest.mark.parametrize("falls", [True, False])
def test_hatching_stays_inside_its_part(falls):
    square = ((100.0, 100.0), (200.0, 100.0), (200.0, 200.0), (100.0, 200.0))
    curve = Curve(square, frozenset(range(4)))
    lines = list(hatching(curve, 20, falls=falls))
    assert len(lines) == 9
    for (ax, ay), (bx, by) in lines:
        assert curve.contains(((ax + bx) / 2, (ay + by) / 2))


def test_a_species_without_a_drawing_is_refused_in_words():
    assert not is_drawn("newt")
    with pytest.raises(ProtocolFileError, match=r"newt\.toml.*not found"):
        load_body("newt")

"""A finger on the drawing: the name while it is down, the part when it is lifted."""

from types import SimpleNamespace

import flet as ft
import flet.canvas as cv
import pytest

from exam_app.app.view.body_presenter import Mark
from exam_app.app.view.mark_presenter import ShownMark
from exam_app.domain.animal.body_marks import BodyMark, MarkView
from exam_app.protocols.bodies import load_body
from exam_app.ui.widgets.body_picture import body_picture, marked_picture

WIDTH = 334
HEAD = load_body("dog").views["left_head"]
KEYS = [area.key for area in HEAD.areas]
EYE = HEAD.area("eyes.left")


def picture(**said: Mark):
    touched, taken = [], []
    marks = dict.fromkeys(KEYS, Mark.OPEN) | {"eyes.left": said.get("eye", Mark.OPEN)}
    drawn = body_picture(HEAD, WIDTH, marks, touched.append, taken.append)
    return drawn, touched, taken


def finger(x: float, y: float):
    return SimpleNamespace(local_position=ft.Offset(x, y))


def test_the_name_is_told_when_the_finger_is_down_and_taken_when_it_is_lifted():
    drawn, touched, taken = picture()
    drawn.on_tap_down(finger(*HEAD.at_pixels(EYE.label, WIDTH)))
    assert touched == ["eyes.left"]
    assert taken == []
    drawn.on_tap()
    assert taken == ["eyes.left"]


def test_a_tap_beside_the_animal_takes_nothing():
    drawn, touched, taken = picture()
    drawn.on_tap_down(finger(5, 5))
    drawn.on_tap()
    assert touched == [""]
    assert taken == []


@pytest.mark.parametrize(
    ("mark", "hatchings", "signs"),
    [(Mark.OPEN, 0, 0), (Mark.ANSWERED, 1, 0), (Mark.FINDING, 2, 1)],
)
def test_a_state_is_told_by_shape_and_not_by_colour(mark, hatchings, signs):
    shapes = picture(eye=mark)[0].content.shapes
    assert sum(isinstance(shape, cv.Points) for shape in shapes) == hatchings
    texts = [shape.value for shape in shapes if isinstance(shape, cv.Text)]
    assert texts == ["!"] * signs


def shapes_of(mark: ShownMark | None, proposed: BodyMark | None = None):
    """Return what a mark adds to the drawing without one."""
    bare = len(marked_picture(HEAD, WIDTH, ()).shapes)
    placed = [mark] if mark else []
    return marked_picture(HEAD, WIDTH, placed, proposed).shapes[bare:]


def placed(*, is_earlier: bool) -> ShownMark:
    mark = BodyMark(3, MarkView.LEFT_HEAD, 430, 356)
    return ShownMark(mark, "eyes.left", "f" * 32, "wound", is_earlier=is_earlier)


def test_now_earlier_and_proposed_are_told_apart_by_shape_and_all_have_a_number():
    own = shapes_of(placed(is_earlier=False))
    earlier = shapes_of(placed(is_earlier=True))
    proposed = shapes_of(None, placed(is_earlier=False).mark)
    assert [type(one) for one in own] == [cv.Circle, cv.Circle, cv.Text]
    assert [type(one) for one in earlier] == [cv.Path, cv.Path, cv.Text]
    assert earlier[1].paint.stroke_dash_pattern
    assert proposed[1].paint.style is ft.PaintingStyle.STROKE
    assert {shapes[-1].value for shapes in (own, earlier, proposed)} == {"3"}


def test_a_mark_stands_at_its_share_of_the_drawing():
    number = shapes_of(placed(is_earlier=False))[-1]
    height = HEAD.height * WIDTH / 1000
    assert (number.x, number.y) == pytest.approx((0.430 * WIDTH, 0.356 * height))


def test_a_place_that_is_proposed_on_another_drawing_is_not_drawn_here():
    assert shapes_of(None, BodyMark(3, MarkView.TOP, 1, 1)) == []

"""A finger on the drawing: the name while it is down, the part when it is lifted."""

from types import SimpleNamespace

import flet as ft
import flet.canvas as cv
import pytest

from exam_app.app.view.body_presenter import Mark
from exam_app.protocols.bodies import load_body
from exam_app.ui.widgets.body_picture import body_picture

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

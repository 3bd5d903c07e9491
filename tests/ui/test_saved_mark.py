"""What the header calls saved was saved there; what is not saved stands everywhere."""

import flet as ft
import pytest

from exam_app.ui.shell.layout import Frame
from exam_app.ui.shell.saved_mark import SavedMark
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.room import ROOM
from tests.browser.in_process import unlocked
from tests.browser.prepared import prepare_folder
from tests.ui.test_lined_up import within

PAGE = Screen("Moss", [])


def mark():
    return SavedMark(lambda: 300.0)


def line_of(one):
    (said,) = (part for part in within(one.control) if isinstance(part, ft.Text))
    return said.value if one.control.opacity else None


def test_saved_is_said_of_the_place_where_it_was_saved_and_of_no_other():
    one = mark()
    one.show("Saved 11:13:52", "/exam/1", is_safe=True)
    one.stand_above("/exam/1", PAGE)
    assert line_of(one) == "Saved 11:13:52"
    one.stand_above("/animal/new", PAGE)
    assert line_of(one) is None
    # Its room stays, so that the next save moves nothing.
    assert one.control.visible
    one.stand_above("/exam/1", PAGE)
    assert line_of(one) == "Saved 11:13:52"


def test_that_something_is_not_saved_is_said_above_every_screen():
    one = mark()
    one.show("Not saved", "/exam/1", is_safe=False)
    one.stand_above("/animal/new", PAGE)
    assert line_of(one) == "Not saved"


@pytest.fixture
def phone(tmp_path):
    with unlocked(prepare_folder(tmp_path / "exams")) as driver:
        yield driver


def test_nothing_is_called_saved_above_an_animal_that_is_not(phone):
    phone.go("/settings/looks")
    phone.click("look-dark")
    phone.wait_text("saved", "Saved")
    phone.go("/animal/new/dog")
    phone.wait("animal-save")
    assert not phone.has("saved")


SAID = "Dog · Adult · Technician exam · Farm or stable · Demo"


@pytest.mark.parametrize(
    ("scale", "subtitle", "is_said"),
    [(1.0, SAID, True), (2.0, SAID, False), (2.0, "Moss, dog", True)],
)
def test_large_text_leaves_the_rest_of_a_long_line_out_of_a_low_header(
    scale, subtitle, is_said, monkeypatch
):
    monkeypatch.setattr(ROOM, "width", 360)
    monkeypatch.setattr(ROOM, "text_scale", scale)
    monkeypatch.setattr(Frame, "_width", 360)
    frame = Frame(lambda: None, lambda: None, lambda: None, lambda _: None)
    header = frame._header(Screen("Moss", [], subtitle, back="/", is_dense=True))
    texts = [one.value for one in within(header) if isinstance(one, ft.Text)]
    assert (subtitle in texts) is is_said

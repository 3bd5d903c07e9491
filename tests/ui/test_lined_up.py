"""What stands below one another is in line, whole, and said once."""

import flet as ft
import pytest

from exam_app.domain.protocol.protocol import Scope
from exam_app.ui.animal.animal_edit import _AGE_HEIGHT
from exam_app.ui.shell.layout import Frame
from exam_app.ui.widgets.choices import ToggleRow
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.room import ROOM
from tests.browser.driver import PHONE
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked
from tests.browser.prepared import prepare_folder

LONG = ("The newest record of each animal this device saw", "Everything of these ten")


def within(control):
    """Give a control and all that stands in it."""
    yield control
    inside = [getattr(control, "content", None), *(getattr(control, "controls", ()))]
    for one in inside:
        if isinstance(one, ft.BaseControl):
            yield from within(one)


def faces(row):
    """How the words of each toggle stand: its face is a row of its own."""
    found = (one for one in within(row.control) if isinstance(one, ft.Row))
    return {one.alignment for one in found if any_text(one)}


def any_text(row):
    return any(isinstance(one, ft.Text) for one in row.controls)


def test_toggles_below_one_another_begin_at_the_left(monkeypatch):
    monkeypatch.setattr(ROOM, "width", 390)
    monkeypatch.setattr(ROOM, "text_scale", 1.0)
    # As a finger meets them, whatever was pressed in another test.
    monkeypatch.setattr(HANDS, "has_keys", False)
    lines = ToggleRow("made", [(one, one) for one in LONG])
    assert len(lines.control.controls) == len(LONG)
    assert faces(lines) == {ft.MainAxisAlignment.START}
    grid = ToggleRow("made", [("a", "Dog"), ("b", "Cat")])
    assert len(grid.control.controls) == 1
    assert faces(grid) == {ft.MainAxisAlignment.CENTER}
    # So do the buttons that a key leads to.
    monkeypatch.setattr(HANDS, "has_keys", True)
    lines = ToggleRow("made", [(one, one) for one in LONG])
    drawn = [
        one.content for one in within(lines.control) if isinstance(one, ft.Semantics)
    ]
    assert len(drawn) == len(LONG)
    assert all(one.style.alignment == ft.Alignment.CENTER_LEFT for one in drawn)


@pytest.mark.parametrize(
    ("width", "scale", "is_safe", "shown"),
    [
        (390, 1.0, True, "Saved 11:13:52"),
        (1280, 2.0, True, "Saved 11:13:52"),
        (360, 2.0, True, "Saved"),
        (360, 2.0, False, "Saved 11:13:52"),
    ],
)
def test_what_is_saved_lies_under_no_button_and_its_time_is_not_broken(
    width, scale, is_safe, shown, monkeypatch
):
    monkeypatch.setattr(ROOM, "width", width)
    monkeypatch.setattr(ROOM, "text_scale", scale)
    frame = Frame(lambda: None, lambda: None, lambda: None, lambda _: None)
    frame.show_saved("Saved 11:13:52", is_safe=is_safe)
    (said,) = (one for one in within(frame._saved.control) if isinstance(one, ft.Text))
    assert said.value == shown
    # What is told whole takes a line more.
    assert (said.expand, said.expand_loose) == (True, True)


@pytest.fixture
def empty(tmp_path):
    """A page over a store without any exam."""
    with unlocked(prepare_folder(tmp_path / "exams")) as driver:
        yield driver


def test_no_age_and_a_birth_date_take_the_room_of_an_age_and_fill_it(empty):
    empty.go("/animal/new/dog")
    said = {
        "not known": "Without an age no value is compared",
        "birth date": "The age on the day of an exam is counted from it.",
    }
    heights = set()
    for basis, words in said.items():
        empty.click(f"animal-age-basis-{basis}")
        empty.wait_text("screen", words)
        heights.add(height_around(empty, words))
    assert heights == {_AGE_HEIGHT}


def height_around(driver, words):
    """The height of the nearest control with one around what says these words."""
    shown = driver._look(driver._client.shown)
    at = next(
        n for n, one in enumerate(shown) if words in str(one.control.get("value"))
    )
    around = (one.get("height") for one in reversed(shown[at].around))
    return next(filter(None, around))


def test_pain_and_condition_say_once_how_they_are_taken(tmp_path):
    folder = prepare_exam(tmp_path / "exams", Scope.TECHNICIAN)
    with unlocked(folder, PHONE) as driver:
        driver.go(f"/exam/{EXAM_ID}/review")
        driver.click("review-point-pain")
        driver.wait_text("sheet", "Note the signs seen.")
        assert driver.text("sheet").count("impression") == 1
        driver.click(driver.named("source-note-"))
        driver.wait_text("sheet", "The observer's impression from 0 to 10.")


def test_reasons_and_counts_stand_in_even_rows(tmp_path):
    folder = prepare_exam(tmp_path / "exams", Scope.TECHNICIAN)
    with unlocked(folder, PHONE) as driver:
        driver.go(f"/exam/{EXAM_ID}/review")
        driver.click("review-point-heart_rate")
        names = (*driver.names("vital-reason-"), "vital-count-60", "vital-count-20")
        for name in names:
            shown = driver._look(lambda name=name: driver._find(name))
            assert shown.control["expand"] == 1, name


def test_a_stop_is_told_more_of_before_its_button(tmp_path):
    folder = prepare_exam(tmp_path / "exams", Scope.TECHNICIAN)
    with unlocked(folder, PHONE) as driver:
        driver.go(f"/exam/{EXAM_ID}")
        driver.click("exam-stop")
        driver.click("stop-reason-unsafe")
        driver.wait("stop-note")
        said = driver.text("sheet")
        assert said.index("More about it") < said.index("Stop the exam")

"""The drawing that is tapped for a place, by itself: what it keeps, what it sends."""

from types import SimpleNamespace

import pytest

from exam_app.app.view.mark_presenter import ShownMark, closer_offers
from exam_app.domain.animal.body_marks import (
    BodyMark,
    CloserPlace,
    CloserView,
    MarkView,
    OwnSide,
)
from exam_app.protocols.bodies import load_body
from exam_app.protocols.loader import load_protocol
from exam_app.ui.finding import mark_drawing
from exam_app.ui.finding.mark_drawing import MarkDrawing
from tests.exam_samples import new_exam

FOOT = "fore_foot_under.left"


@pytest.fixture
def changes():
    return []


@pytest.fixture
def drawing(changes):
    page = SimpleNamespace(width=390, height=844)
    tab = SimpleNamespace(page=page, keys=SimpleNamespace(is_by_key=False))
    editor = SimpleNamespace(exam=new_exam(), protocol=load_protocol("dog").protocol)
    return MarkDrawing(tab, editor, load_body("dog"), lambda: changes.append(1))


def tap(drawing, x, y):
    """A finger comes down at a place in pixels, and is lifted there."""
    drawing._down(SimpleNamespace(local_position=SimpleNamespace(x=x, y=y)))
    drawing._lifted()


def low_on_the_fore_limb(drawing):
    area = next(a for a in drawing.drawn.areas if a.key == "forelimb.left")
    x, y = drawing.drawn.at_pixels(area.label, drawing._width())
    tap(drawing, x, y)


def foot(drawing):
    offers = closer_offers(drawing.body, ["forelimb.left"])
    return next(one for one in offers if FOOT in one.names)


def test_a_tap_is_sent_once_and_asked_about_once(drawing, changes, monkeypatch):
    sent = []
    monkeypatch.setattr(mark_drawing, "send", sent.append)
    low_on_the_fore_limb(drawing)
    assert drawing.place is not None
    assert sent == [drawing.control]
    assert changes == [1]


def test_a_finger_that_began_to_scroll_marks_nothing(drawing, changes):
    drawing._down(SimpleNamespace(local_position=None))
    drawing._lifted()
    assert (drawing.place, changes) == (None, [])


def test_what_was_proposed_on_the_whole_body_is_there_again(drawing):
    low_on_the_fore_limb(drawing)
    proposed = drawing.place
    drawing.show_closer(foot(drawing))
    assert drawing.place is None
    drawing.tab.give_focus = lambda _: None
    drawing._show_whole()
    assert drawing.place == proposed


def test_a_mark_that_is_opened_closer_takes_over_nothing_proposed_before(drawing):
    low_on_the_fore_limb(drawing)
    proposed = drawing.place
    drawing.show_closer(foot(drawing))
    drawing.tab.give_focus = lambda _: None
    drawing._show_whole()
    place = CloserPlace(CloserView("fore_foot_under"), 500, 500, OwnSide.LEFT)
    mark = BodyMark(1, MarkView.LEFT, 100, 900, place)
    drawing.show_mark(ShownMark(mark, "forelimb.left", "1" * 32, "Wound"))
    assert drawing.place is None
    drawing.take_as_new()
    assert drawing.place is not None
    assert (drawing.place.x, drawing.place.y) != (proposed.x, proposed.y)

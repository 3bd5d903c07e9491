"""What lies over the screen: its order, how it is left, where Tab goes on."""

import weakref

import flet as ft
import pytest

from exam_app.ui.shell.dialogs import Modals
from exam_app.ui.shell.focus import Keys, Opener, identifier_of, wants_typing

OPENER = Opener(7, "region-head-finding")


class Page:
    """Keeps the routes that can be open, in the order in which they are opened."""

    def __init__(self):
        self.routes = []

    def show_dialog(self, route):
        route.open = True
        self.routes.append(route)

    @property
    def open(self):
        return [route.content.content.value for route in self.routes if route.open]


@pytest.fixture
def page():
    return Page()


@pytest.fixture
def left():
    return []


@pytest.fixture
def modals(page, left):
    modals = Modals(lambda: page, lambda: OPENER, left.append)
    page.routes = [*modals.ready]
    return modals


def lay(modals, page, name, *, beside=None, escape=None):
    modals.lay(name, ft.Text(name), beside=beside, escape=escape)


def test_sheet_closed_under_a_cover_goes_after_the_cover(modals, page):
    lay(modals, page, "sheet")
    lay(modals, page, "cover")
    modals.take("sheet")
    assert page.open == ["sheet", "cover"]
    assert not modals.has("sheet")
    modals.take("cover")
    assert page.open == []


def test_refusal_under_a_cover_waits_for_the_cover_to_go(modals, page):
    lay(modals, page, "cover")
    lay(modals, page, "stop")
    assert page.open == ["cover"]
    assert modals.has("stop")
    modals.take("cover")
    assert page.open == ["stop"]


def test_what_a_cover_refuses_is_said_over_it(modals, page):
    lay(modals, page, "cover")
    lay(modals, page, "over")
    assert page.open == ["cover", "over"]
    lay(modals, page, "cover")
    assert page.open == ["cover", "over"]
    modals.take("over")
    assert page.open == ["cover"]


def test_sheet_and_refusal_that_waited_open_in_their_order(modals, page):
    lay(modals, page, "cover")
    lay(modals, page, "stop")
    lay(modals, page, "sheet")
    modals.take("cover")
    assert page.open == ["sheet", "stop"]


def test_another_sheet_takes_the_place_of_the_first_in_the_same_route(modals, page):
    lay(modals, page, "sheet")
    modals.lay("sheet", ft.Text("next"), beside=None, escape=None)
    assert page.open == ["next"]
    assert page.routes[0].open


def test_cover_that_the_browser_took_away_is_laid_again(modals, page, left):
    lay(modals, page, "cover")
    lost = page.routes[0]
    lost.open = False
    lost.on_dismiss()
    assert page.open == ["cover"]
    assert not lost.open
    assert left == []


def test_what_opened_a_sheet_is_told_when_the_sheet_is_gone(modals, page, left):
    lay(modals, page, "sheet")
    modals.take("sheet")
    page.routes[0].on_dismiss()
    assert left == [OPENER]


def test_route_is_taken_again_only_once_the_page_has_told_that_it_is_gone(modals, page):
    count = len(modals.ready)
    for number in range(count + 1):
        lay(modals, page, "sheet")
        assert page.routes[number].open
        modals.take("sheet")
    assert len(page.routes) == count + 1
    for gone in page.routes:
        gone.on_dismiss()
    assert modals.ready == page.routes[:count]
    lay(modals, page, "sheet")
    assert page.open == ["sheet"]
    assert page.routes[0].open


def test_what_stood_in_a_sheet_is_found_no_more_once_it_is_gone(modals, page):
    lay(modals, page, "sheet")
    modals.take("sheet")
    page.routes[0].on_dismiss()
    assert page.routes[0].content.content is None


def test_escape_leaves_the_topmost_layer_only(modals, page):
    gone = []
    lay(modals, page, "sheet", beside=lambda: gone.append("sheet"))
    lay(modals, page, "stop", escape=lambda: gone.append("stop"))
    assert modals.escape()
    assert gone == ["stop"]


def test_escape_leaves_no_cover_and_no_notice_that_needs_an_answer(modals, page):
    lay(modals, page, "sheet", beside=lambda: pytest.fail("the sheet was left"))
    lay(modals, page, "stop")
    assert not modals.escape()
    lay(modals, page, "cover")
    assert not modals.escape()


def test_only_a_click_that_follows_a_key_counts_as_done_with_a_key():
    keys = Keys()
    keys.note(1, "keyboard_event")
    keys.note(5, "click", "region-head-finding")
    assert keys.is_by_key
    assert keys.opener() == Opener(5, "region-head-finding")
    keys.note(6, "click")
    assert not keys.is_by_key
    assert keys.opener() is None


def test_key_that_activates_no_control_names_no_earlier_one():
    keys = Keys()
    keys.note(1, "keyboard_event")
    keys.note(5, "click")
    keys.note(1, "keyboard_event")
    assert keys.opener() is None


def test_field_that_wants_typing_is_found_however_deep_it_stands():
    field = ft.TextField(autofocus=True)
    deep = ft.Column([ft.Text("a"), ft.Container(ft.Row([field]))])
    assert wants_typing(deep)
    field.autofocus = False
    assert not wants_typing(deep)


def test_button_is_known_by_the_identifier_around_it_and_a_bare_one_by_none():
    named = ft.Semantics(content=ft.OutlinedButton("Finding"), identifier="finding")
    bare = ft.Column([ft.OutlinedButton("Finding")])
    named.content._parent = weakref.ref(named)
    bare.controls[0]._parent = weakref.ref(bare)
    assert identifier_of(named.content) == "finding"
    assert identifier_of(bare.controls[0]) == ""
    assert identifier_of(None) == ""

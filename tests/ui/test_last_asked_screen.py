"""The screen asked for last stays, however long the ones before it take to be read."""

import asyncio
from types import SimpleNamespace

import flet as ft
import pytest

from exam_app.app.session import LockState
from exam_app.ui.shell.layout import Frame
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Route, Screen
from tests.screen_words import words_of


@pytest.fixture(autouse=True)
def no_page(monkeypatch):
    """Let nothing lie over the screen: only a page could take it off."""
    monkeypatch.setattr(Frame, "take_off", lambda *_given: None)


class Person:
    """Taps on, while the store is still being read for an earlier tap."""

    def __init__(self):
        self.read = asyncio.Event()
        self.left = asyncio.Event()
        self.page = SimpleNamespace(route="/", width=390)
        session = SimpleNamespace(
            state=LockState.OPEN, vault=SimpleNamespace(settings={})
        )
        gate = SimpleNamespace(
            is_admitted=lambda _tab: True, cover=lambda _tab: ft.Text("locked")
        )
        routes = (
            Route("/", self._at_once),
            Route("/records", self._slow),
            Route("/count", self._counting),
        )
        self.tab = Tab(self.page, session, routes, gate)

    def taps(self, route):
        self.page.route = route
        return asyncio.ensure_future(self.tab.show_route())

    @property
    def sees(self):
        return words_of(self.tab.frame.view)

    async def _at_once(self, _tab):
        return Screen("Today", [], has_examiner=False)

    async def _slow(self, _tab):
        await self.read.wait()
        return Screen("Records", [], has_examiner=False)

    async def _counting(self, _tab):
        leave = self.left.wait
        return Screen("Count", [], has_examiner=False, on_leave=leave)


async def _let_all_run():
    for _ in range(9):
        await asyncio.sleep(0)


def test_records_that_were_read_slowly_do_not_cover_today_that_was_tapped_since():
    async def walk():
        person = Person()
        records = person.taps("/records")
        await _let_all_run()
        await person.taps("/")
        person.read.set()
        await records
        return person

    person = asyncio.run(walk())
    assert "Today" in person.sees
    assert "Records" not in person.sees
    assert person.tab.screen.title == "Today"


def test_records_read_slowly_are_shown_when_nothing_else_was_tapped():
    async def walk():
        person = Person()
        await person.taps("/")
        person.read.set()
        await person.taps("/records")
        return person

    assert "Records" in asyncio.run(walk()).sees


def test_screen_that_waited_for_a_count_to_end_does_not_cover_a_later_one():
    async def walk():
        person = Person()
        person.read.set()
        await person.taps("/count")
        today = person.taps("/")
        await _let_all_run()
        await person.taps("/records")
        person.left.set()
        await today
        return person

    person = asyncio.run(walk())
    assert "Records" in person.sees
    assert "Today" not in person.sees


def test_exams_read_slowly_are_not_shown_in_a_tab_that_lost_them_meanwhile(monkeypatch):
    async def walk():
        person = Person()
        monkeypatch.setattr(Tab, "cover", lambda _tab: None)
        records = person.taps("/records")
        await _let_all_run()
        person.tab.lose_session()
        person.read.set()
        await records
        return person

    person = asyncio.run(walk())
    assert "Records" not in person.sees
    assert person.tab.screen is None

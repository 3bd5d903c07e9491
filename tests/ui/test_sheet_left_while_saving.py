"""What follows a sign is shown before that is saved, and not again afterwards."""

import asyncio
from types import SimpleNamespace

import flet as ft
import pytest

from exam_app.app import region_changes
from exam_app.app.region_changes import Found
from exam_app.app.typed_entries import TypedEntries
from exam_app.domain.exam.people import Person, Role
from exam_app.ui.finding.details import DetailsSheet
from exam_app.ui.shell.layout import Frame
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.urgent.sign_list import open_signs
from tests.app.test_exam_editor import DraftStore, editor_of


class Examiner:
    """Taps a sign of the urgent list while the store is busy."""

    def __init__(self, monkeypatch):
        self.laid = []
        monkeypatch.setattr(
            Frame,
            "lay_over",
            lambda _frame, _name, sheet, **_how: self.laid.append(sheet),
        )
        monkeypatch.setattr(Frame, "take_off", lambda *_given: None)
        self.drafts = DraftStore()
        self.editor = editor_of(self.drafts)
        silent = SimpleNamespace(
            show_saved=lambda *_given: None, exam_changed=lambda *_given: None
        )
        people = SimpleNamespace(all=list)
        settings = SimpleNamespace(get=lambda _key, default="": default)
        vault = SimpleNamespace(people=people, settings=settings)
        session = SimpleNamespace(
            examiner=Person("a" * 32, "Ash", Role.TECHNICIAN, "A"),
            messages=silent,
            touch=lambda: None,
            typed=TypedEntries(lambda _write: None, lambda: None),
            vault=vault,
        )
        page = SimpleNamespace(route="/", width=390, height=844)
        self.tab = Tab(page, session, (), None)
        open_signs(self.tab, self.editor)
        self.drafts.gate.clear()

    def taps_first_sign(self):
        sign = next(find(self.laid[-1], "urgent-sign-"))
        return asyncio.ensure_future(sign.content.on_click())

    @property
    def titles(self):
        return [len(list(find(sheet, "urgent-kind-told"))) for sheet in self.laid]


def find(control, start):
    if isinstance(control, ft.Semantics) and (control.identifier or "").startswith(
        start
    ):
        yield control
    inside = getattr(control, "content", None)
    for one in [inside, *(getattr(control, "controls", None) or [])]:
        if isinstance(one, ft.BaseControl):
            yield from find(one, start)


@pytest.mark.parametrize("is_left", [True, False])
def test_the_answer_opens_while_its_sign_is_saved_and_stays_closed_if_it_was_left(
    monkeypatch, is_left
):
    async def walk():
        examiner = Examiner(monkeypatch)
        saved = examiner.taps_first_sign()
        await asyncio.sleep(0)
        assert examiner.titles == [0, 1]
        assert len(examiner.editor.exam.urgent) == 1
        if is_left:
            examiner.tab.close_sheet()
        examiner.drafts.gate.set()
        await saved
        assert examiner.titles == [0, 1]
        return examiner.tab.sheet is None

    assert asyncio.run(walk()) == is_left


def test_a_find_that_was_taken_back_at_once_gets_no_rest_of_its_sheet(monkeypatch):
    async def walk():
        examiner = Examiner(monkeypatch)
        examiner.drafts.gate.set()
        tab, editor = examiner.tab, examiner.editor
        region = next(one for one in editor.protocol.regions if one.terms)
        find = Found(region, ((region.region_id, "f" * 32),), region.terms[0])
        await editor.apply(region_changes.found(find, "", None))
        later = DetailsSheet(tab, editor, find).later()
        await editor.apply(region_changes.removed(find))
        return list(later.make())

    assert asyncio.run(walk()) == []

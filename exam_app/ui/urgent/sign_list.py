"""The list of what can be urgent: each sign one tap away, under its heading."""

import math
from collections.abc import Sequence

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Ask, Form
from exam_app.app.region_changes import SIGN_ID, examiner_bitten
from exam_app.app.view.urgent_groups import (
    SignGroup,
    first_sign,
    sign_groups,
    signs_named,
)
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.review import sign_label
from exam_app.domain.protocol.urgent_signs import UrgentSign
from exam_app.language.catalogue import in_english, to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.sheet_rest import MadeLater
from exam_app.ui.urgent.urgent_list import open_urgent_answer, open_urgent_list
from exam_app.ui.visit.bite_sheet import open_bites
from exam_app.ui.widgets.buttons import OnClick, button
from exam_app.ui.widgets.even_rows import even_rows
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.hands import control_height
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, heading, quiet, stack

_ELSE = Ask(
    "words",
    to_translate("Something else urgent"),
    lines=2,
    required=to_translate("Type what is urgent."),
    identifier="urgent-words",
)
_NOT_LISTED = to_translate("No sign has these words. Say it in your own words below.")
_THREE_FROM = 560
_LAYOUT_GAP = 8


def open_signs(tab: Tab, editor: ExamEditor) -> None:
    """Offer the urgent signs of the species, and own words."""
    _SignList(tab, editor).open()


class _SignList:
    """The sheet: answers so far, the first signs, a search, the groups, own words."""

    def __init__(self, tab: Tab, editor: ExamEditor) -> None:
        self._tab, self._editor = tab, editor
        self._typed = exam_sessions.typed_in(
            tab.session, editor, "urgent", tr(_ELSE.label)
        )
        self._words = FormView(Form((_ELSE,), typed=self._typed))
        self._search = text_field(
            "urgent-find",
            tr("Find a sign by a word"),
            autofocus=tab.is_wide,
            on_change=self._narrowed,
            on_submit=self._take_only_one,
        )
        self._later: list[MadeLater] = []
        self._listed = Slot(self._draw_groups)

    def open(self) -> None:
        """Lay the sheet over the screen."""
        self._tab.open_sheet(
            tr("What is urgent?"),
            *self._answers(),
            even_rows(self._first(), 2, ROOM.sheet),
            self._search.control,
            self._listed.control,
            *self._words.controls(),
            across(_tile("urgent-words-save", tr("This is urgent"), self._own_words)),
            quiet(tr("A veterinarian decides; this makes sure that one is told.")),
            typed=self._typed,
            grows=True,
            later=self._later,
        )

    def _answers(self) -> list[ft.Control]:
        tab, editor = self._tab, self._editor
        if not editor.exam.urgent:
            return []
        waiting = len(editor.view.urgent.unanswered)

        def answer() -> None:
            open_urgent_list(tab, editor)

        label = (
            tr("Answer: {waiting} open", waiting=waiting)
            if waiting
            else tr("Answers so far")
        )
        return [across(_tile("urgent-answer", label, answer))]

    def _first(self) -> list[ft.Control]:
        """Offer what comes before all others, and the examiner's own wound.

        An animal that does not breathe comes before a hand that bleeds.
        """
        exam, protocol = self._editor.exam, self._editor.protocol
        first, bite = first_sign(exam, protocol), protocol.sign(SIGN_ID)
        tiles = [self._sign(first)] if first else []
        if bite is not None:
            tiles.append(self._bitten(_stored_label(bite, exam)))
        return tiles

    def _draw_groups(self) -> ft.Control:
        exam, protocol = self._editor.exam, self._editor.protocol
        if self._search.value:
            found = signs_named(exam, protocol, self._search.value)
            if not found:
                return identified("urgent-none", quiet(tr(_NOT_LISTED)), live=True)
            return self._in_rows([self._found(sign) for sign in found])
        place = self._editor.view.current.place
        groups = sign_groups(exam, protocol, place)
        shown = len(groups) if self._later else self._in_sight(groups)
        drawn = stack(*map(self._group, groups[:shown]))
        if not self._later:
            self._later = [MadeLater(drawn, lambda: map(self._group, groups[shown:]))]
        return drawn

    def _in_sight(self, groups: Sequence[SignGroup]) -> int:
        """Count the first groups, of which a sheet that opens can show something."""
        left, row = self._tab.page.height or math.inf, control_height("hands")
        shown = 0
        while left > 0 and shown < len(groups):
            left -= row * math.ceil(len(groups[shown].signs) / self._columns)
            shown += 1
        return shown

    def _group(self, group: SignGroup) -> ft.Control:
        return stack(
            heading(tr(group.heading), is_small=True),
            self._in_rows([self._sign(sign) for sign in group.signs]),
            spacing=_LAYOUT_GAP,
        )

    def _narrowed(self) -> None:
        self._listed.refresh()

    def _in_rows(self, tiles: Sequence[ft.Control]) -> ft.Control:
        return even_rows(tiles, self._columns, ROOM.sheet)

    @property
    def _columns(self) -> int:
        return 3 if ROOM.sheet >= _THREE_FROM else 2

    def _sign(self, sign: UrgentSign, name: str = "urgent-sign") -> ft.Control:
        async def tapped() -> None:
            await _noticed(self._tab, self._editor, sign, "")

        label = tr(sign_label(sign, words_for(self._editor.exam)))
        return _tile(for_choice(name, sign.sign_id), label, tapped)

    def _found(self, sign: UrgentSign) -> ft.Control:
        # The sign before all others stands above already, under its own name.
        first = first_sign(self._editor.exam, self._editor.protocol)
        return self._sign(sign, "urgent-found" if sign is first else "urgent-sign")

    def _bitten(self, label: str) -> ft.Control:
        """Make the button of a bitten examiner: two taps, then the hands are washed."""
        tab, editor = self._tab, self._editor

        async def tapped() -> None:
            sheet, told = tab.sheet, tr("examiner bitten or scratched")
            is_made = await exam_sessions.change(
                tab.session, editor, examiner_bitten(label), told
            )
            if is_made and tab.sheet is sheet:
                open_bites(tab, editor)

        words, icon = tr("I was bitten or scratched"), ft.Icons.PAN_TOOL_OUTLINED
        return _tile("urgent-bitten", words, tapped, icon)

    async def _take_only_one(self) -> None:
        """Take the sign that was searched for, where no other has its words."""
        exam, protocol = self._editor.exam, self._editor.protocol
        typed = self._search.value
        found = signs_named(exam, protocol, typed) if typed else ()
        if len(found) == 1:
            await _noticed(self._tab, self._editor, found[0], "")

    async def _own_words(self) -> None:
        if not self._words.is_complete():
            return
        words = self._words.form[_ELSE.name]
        if await _noticed(self._tab, self._editor, None, words):
            self._typed.drop()


def _tile(
    identifier: str, words: str, on_click: OnClick, icon: ft.IconData | None = None
) -> ft.Control:
    return button(identifier, words, on_click, icon=icon, kind="tile", size="hands")


def _stored_label(sign: UrgentSign, exam: Exam) -> str:
    """Name a sign as the record does: in English."""
    with in_english():
        return sign_label(sign, words_for(exam))


async def _noticed(
    tab: Tab, editor: ExamEditor, sign: UrgentSign | None, words: str
) -> bool:
    label = _stored_label(sign, editor.exam) if sign else words
    shown = tr(label) if sign else words
    made = region_changes.urgent_noticed(sign, words, label)

    def go_on() -> None:
        opened = [e for e in editor.view.urgent.unanswered if e.label == label]
        if opened:
            open_urgent_answer(tab, editor, opened[-1].entry_id)
        else:
            tab.close_sheet()

    name = tr("urgent: {sign}", sign=shown)
    return await exam_sessions.change(tab.session, editor, made, name, on_made=go_on)

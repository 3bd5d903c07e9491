"""A round in words: one animal, one line, which begins with its tag.

The row of an animal begins when something of its line is recorded, as a typed tag would
begin it; until then it is read on a row that is kept nowhere.
"""

import flet as ft

from exam_app.app import exam_sessions, round_exams
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Ask, Form
from exam_app.app.forms.round_cells import Column
from exam_app.app.practice_claims import claims_kept
from exam_app.app.view.round_presenter import (
    chosen_columns,
    columns_offered,
    usual_columns,
)
from exam_app.app.words.line_state import LINE, TITLE, LineState
from exam_app.app.words.said_items import split_tag
from exam_app.domain.exam.exam import words_for
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.ui.day import day
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, quiet
from exam_app.ui.words.line_blocks import LineBlocks
from exam_app.ui.words.words import HOW_IT_READS

_ASK = Ask(
    LINE,
    to_translate("Tag, and what is seen"),
    hint=to_translate("As in: 4312: BCS 3/5, eyelid card 2/5, from a distance normal"),
    lines=2,
    identifier="words-row-line",
)


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the page of a round's lines."""
    group = await day.exam_or_day(tab, exam_id)
    if isinstance(group, Screen):
        return group
    return RoundWords(tab, group).screen()


class RoundWords:
    """One line after another, each of one animal."""

    def __init__(self, tab: Tab, group: ExamEditor) -> None:
        """Begin with the line that was typed before."""
        self.tab = tab
        self.group = group
        kept = exam_sessions.typed_in(tab.session, group, "words-row", tr(TITLE))
        tag = split_tag(kept.value(LINE))[0]
        self.state = LineState(tab.session, self._row(tag), kept, self._begin)
        self.blocks = LineBlocks(tab, self.state, self._changed)
        form = Form((_ASK,), typed=kept, is_by_name=True)
        self.box = FormView(form, on_change=self._typed, autofocus=LINE)
        self.tag = tag
        self.shown = Slot(self.blocks.draw)
        self.foot = Slot(self._draw_foot)

    @property
    def columns(self) -> tuple[Column, ...]:
        """What is asked of every animal of this round."""
        species = self.group.exam.animal.species
        kept = round_exams.columns_kept(self.tab.session, species)
        added = claims_kept(self.tab.vault, species).added
        words = words_for(self.group.exam)
        offered = columns_offered(self.group.protocol, words, added)
        wanted = usual_columns(offered) if kept is None else kept
        return chosen_columns(offered, wanted)

    def _row(self, tag: str) -> ExamEditor:
        return round_exams.row_in_mind(self.tab.session, self.group, tag, self.columns)

    async def _begin(self) -> ExamEditor:
        tag = split_tag(self.state.text)[0]
        return await round_exams.begin_row(
            self.tab.session, self.group, tag, self.columns
        )

    def screen(self) -> Screen:
        """Return it with the button that records at its foot."""
        animal = self.group.exam.animal
        return Screen(
            title=tr("Round: {name}", name=animal.name),
            subtitle=tr(TITLE),
            back=f"/round/{self.group.exam.exam_id}",
            body=[*self.box.controls(), self.shown.control, quiet(tr(HOW_IT_READS))],
            bottom=[self.foot.control],
            is_dense=True,
        )

    def _typed(self, _name: str) -> None:
        self.blocks.recorded, self.blocks.refused = (), ()
        text = self.box.form.texts[LINE]
        tag = split_tag(text)[0]
        if tag != self.tag:
            self.tag, self.state.editor = tag, self._row(tag)
        self.state.write(text)
        self._draw()

    def _changed(self) -> None:
        if self.box.form.texts[LINE] != self.state.text:
            self.box.write(LINE, self.state.text)
        self._draw()

    def _draw(self) -> None:
        self.shown.refresh()
        self.foot.refresh()

    def _draw_foot(self) -> ft.Control:
        count = len(self.state.to_record())
        name = self.tag or tr("the animal")
        return across(
            button(
                "words-row-record",
                tr_plural(
                    "{name}: record {count} entry",
                    "{name}: record {count} entries",
                    count,
                    name=name,
                )
                if count
                else self.blocks.first_to_do(),
                self._record,
                kind="main tile" if count else "tile",
                size="thumb",
            )
        )

    async def _record(self) -> None:
        current, line = self.group.view.current, self.box.fields[LINE]
        await self.blocks.record(current, line, is_whole=bool(self.tag))

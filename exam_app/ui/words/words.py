"""Say an exam in words: one box takes a line, and proposes what it understood.

The line is read here and sent nowhere. Whoever dictates speaks to the keyboard of the
phone, which is not ours: the page says so.
"""

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_words import exam_subtitle
from exam_app.app.forms.form import Ask, Form
from exam_app.app.queries.history import read_before
from exam_app.app.words.exam_words_known import refused_words
from exam_app.app.words.line_state import LINE, TITLE, LineState
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.ui.day import day
from exam_app.ui.exam.exam_foot import exam_shortcuts, urgent_button
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.shortcuts import answer
from exam_app.ui.urgent import urgent_list
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, side_by_side
from exam_app.ui.words.line_blocks import LineBlocks

HOW_IT_READS = to_translate(
    "It reads what stands in the box, here on this device: it stores nothing until you "
    "record it, and sends nothing. Dictating is done by the keyboard of the phone, "
    "which may send your voice away unless it is set to work offline."
)
_ASK = Ask(
    LINE,
    to_translate("A line of the exam"),
    hint=to_translate(
        "As in: T 38.5 C, HR 22 in 15 s at rest, left ear red, nose normal"
    ),
    lines=3,
    identifier="words-line",
)


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the page of an open exam."""
    editor = await day.exam_or_day(tab, exam_id)
    if isinstance(editor, Screen):
        return editor
    await read_before(tab.session, editor, tab.person.role)
    return WordsPage(tab, editor).screen()


class WordsPage:
    """The page of one exam's line."""

    def __init__(self, tab: Tab, editor: ExamEditor) -> None:
        """Begin with what was typed before."""
        self.tab = tab
        self.editor = editor
        self.state = LineState(tab.session, editor)
        self.blocks = LineBlocks(tab, self.state, self._changed)
        form = Form((_ASK,), typed=self.state.typed, is_by_name=True)
        self.box = FormView(form, on_change=self._typed, autofocus=LINE)
        self.shown = Slot(self.blocks.draw)
        self.foot = Slot(self._draw_foot)
        self.kept = Slot(self._draw_kept, in_place=True)

    def screen(self) -> Screen:
        """Return it with the button that records at its foot."""
        tab, editor = self.tab, self.editor
        refused = refused_words(tab.session)
        told = [banner("words-refused-file", refused, Tone.NOTICE)] if refused else []
        keys = exam_shortcuts(tab, editor)

        async def pressed(event: ft.KeyboardEvent) -> None:
            await answer(tab, keys, event)

        return Screen(
            title=f"{editor.exam.animal.name}: {tr(TITLE).lower()}",
            subtitle=exam_subtitle(editor.exam, editor.protocol),
            back=f"/exam/{editor.exam.exam_id}",
            pinned=[urgent_list.banner_slot(tab, editor)],
            body=[
                *told,
                *self.box.controls(),
                self.shown.control,
                self.kept.control,
                quiet(tr(HOW_IT_READS)),
            ],
            bottom=[self.foot.control],
            is_dense=True,
            on_key=pressed,
        )

    def _typed(self, _name: str) -> None:
        self.blocks.recorded, self.blocks.refused = (), ()
        self.state.write(self.box.form.texts[LINE])
        self._draw()

    def _changed(self) -> None:
        """Draw what an answer changed; a line that is settled is emptied."""
        if self.box.form.texts[LINE] != self.state.text:
            self.box.write(LINE, self.state.text)
        self._draw()

    def _draw(self) -> None:
        self.shown.refresh()
        self.foot.refresh()

    def _draw_foot(self) -> ft.Control:
        count = len(self.state.to_record())
        record = button(
            "words-record",
            tr_plural("Record {count} entry", "Record {count} entries", count)
            if count
            else self.blocks.first_to_do(),
            self._record,
            kind="main tile" if count else "tile",
            size="thumb",
            expand=4,
        )
        return ft.Row([record, urgent_button(self.tab, self.editor)], spacing=8)

    async def _record(self) -> None:
        current = self.editor.view.current
        await self.blocks.record(current, self.box.fields[LINE])

    def _draw_kept(self) -> ft.Control:
        return side_by_side(
            pick(
                "words-keep",
                tr("Keep my words beside what they gave"),
                self._keep_words,
                is_chosen=self.state.keeps_words,
            )
        )

    async def _keep_words(self) -> None:
        await self.state.keep_words(is_wanted=not self.state.keeps_words)
        self.kept.refresh()

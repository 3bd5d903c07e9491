"""The photographs of an open exam: looked at, described otherwise, taken out."""

from dataclasses import dataclass, replace
from functools import partial

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Change, ExamEditor
from exam_app.app.forms.form import Form
from exam_app.app.forms.photograph_form import caption_asked
from exam_app.app.photographs import described, taken_out
from exam_app.app.view.photograph_presenter import shown_photographs
from exam_app.app.view.photograph_subjects import (
    Subject,
    photographs,
    photos_of,
    subject_words,
)
from exam_app.language.catalogue import tr
from exam_app.ui.photographs.large_view import Pictured, open_large
from exam_app.ui.photographs.take_sheet import open_take
from exam_app.ui.photographs.thumbs import Thumbs
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.texts import across

ICON = ft.Icons.PHOTO_CAMERA_OUTLINED


def photograph_label(editor: ExamEditor, subject: Subject) -> str:
    """Say what the way to photographs leads to: how many there are, or to take one."""
    count = len(photos_of(editor.exam, subject))
    return photographs(count) if count else tr("Add a photograph")


def open_photographs(tab: Tab, editor: ExamEditor, subject: Subject) -> None:
    """Show the photographs of something, with the way to one more.

    Where there are none, one is asked for.
    """
    if photos_of(editor.exam, subject):
        _KeptSheet(tab, editor, subject).open()
    else:
        open_take(tab, editor, subject)


@dataclass(slots=True, repr=False)
class _KeptSheet:
    """The photographs of a finding, a part, or of all of the exam."""

    tab: Tab
    editor: ExamEditor
    subject: Subject

    def open(self) -> None:
        exam, protocol = self.editor.exam, self.editor.protocol
        photos = photos_of(exam, self.subject)
        every = shown_photographs(self.tab.vault, exam, protocol)
        shown = [one for one in every if one.photo in photos]
        thumbs = Thumbs(self.tab, shown, self._large)
        again = partial(open_take, self.tab, self.editor, self.subject, self._again)
        self.tab.open_sheet(
            f"{photographs(len(photos))}: "
            f"{subject_words(exam, protocol, self.subject)}",
            thumbs.slot.control,
            grows=True,
            foot=[
                across(
                    button(
                        "photo-more",
                        tr("Add a photograph"),
                        again,
                        icon=ICON,
                        kind="tile",
                        size="thumb",
                    )
                )
            ],
        )
        self.tab.start(thumbs.load())

    def _again(self) -> None:
        if photos_of(self.editor.exam, self.subject):
            self.open()
        else:
            self.tab.close_sheet()

    async def _large(self, one: Pictured) -> None:
        async def take_out() -> None:
            made = taken_out(one.shown.photo.sha256)
            words = tr(
                "Photograph taken out: {caption}", caption=one.shown.photo.caption
            )
            if await self._changed(made, words):
                self.tab.tell(words, self._undo)

        out = button(
            "photo-out",
            tr("Take it out"),
            take_out,
            kind="tile",
            size="thumb",
            expand=1,
        )
        say = button(
            "photo-say",
            tr("Say otherwise"),
            partial(self._say, one),
            kind="tile",
            size="thumb",
            expand=1,
        )
        open_large(self.tab, one.shown.photo.caption, [one], [out, say], self._again)

    async def _changed(self, made: Change, words: str) -> bool:
        """Make a change, and lead back unless its sheet was left while it was saved."""
        sheet = self.tab.sheet
        if not await exam_sessions.change(self.tab.session, self.editor, made, words):
            return False
        if self.tab.sheet is sheet:
            self._again()
        return True

    async def _undo(self) -> None:
        await exam_sessions.undo(self.tab.session, self.editor)

    def _say(self, one: Pictured) -> None:
        photo = one.shown.photo
        label = tr("What a photograph shows: {caption}", caption=photo.caption)
        typed = exam_sessions.typed_in(
            self.tab.session, self.editor, f"caption-{photo.sha256[:16]}", label
        )
        view = FormView(Form(caption_asked(photo.caption), typed=typed))

        async def save() -> None:
            if not view.is_complete():
                return
            caption = view.form["caption"]
            made = described(replace(photo, caption=caption))
            if await self._changed(made, tr("Photograph: {caption}", caption=caption)):
                typed.drop()

        keep = button(
            "photo-words-save", tr("Save these words"), save, kind="main tile"
        )
        self.tab.open_sheet(
            tr("What it shows"), *view.controls(), across(keep), typed=typed
        )

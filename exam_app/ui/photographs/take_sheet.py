"""Take or choose a photograph, see it, say what it shows, save it.

The picture is kept as soon as it is prepared and its words as they are typed: neither a
closed sheet, a lock nor a kill loses them. It is of the exam once it is saved.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Form
from exam_app.app.forms.photograph_form import caption_asked
from exam_app.app.photographs import keep_picture, kept_picture, named_in
from exam_app.app.pictures.picture_sizes import size_of
from exam_app.app.pictures.preparing import prepare_photograph
from exam_app.app.typed_entries import PICTURE, Typed
from exam_app.app.view.photograph_subjects import (
    Subject,
    proposed_caption,
    subject_words,
)
from exam_app.domain.errors import ExamError, TooManyPhotographsError
from exam_app.domain.exam.photographs import require_room
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.errors import PhotographMissingError
from exam_app.ui.photographs.computer_camera import ComputerCamera, offers_camera
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.files import pick_picture
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.room import ROOM, sharing_width
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, quiet, stack

_HOW = to_translate(
    "Place, camera and time inside the file are left out: the record says when and by "
    "whom. A file that you choose may be JPEG, PNG or WebP."
)
_IS_IT_GOOD = to_translate(
    "Is it sharp, and is all on it? It is kept until it is replaced or thrown away; "
    "what it shows is said next."
)
# What stands above and below the picture on a phone, at normal text.
_BESIDE_PICTURE = 430
_BESIDE_NEW = 320
_LEAST_HEIGHT, _MOST_HEIGHT = 110, 420


def open_take(
    tab: Tab,
    editor: ExamEditor,
    subject: Subject,
    after: Callable[[], object] | None = None,
) -> None:
    """Ask for a photograph of a finding, a part, or the animal.

    Args:
        tab: Where it is shown.
        editor: The open exam.
        subject: What it is to show.
        after: Called once it is saved, in place of closing.
    """
    _TakeSheet(tab, editor, subject, after).open()


@dataclass(slots=True, repr=False)
class _TakeSheet:
    """One photograph on its way into the exam.

    Attributes:
        picture: As it is kept; empty while none was chosen.
        sha256: Of the picture, in hexadecimal.
        is_busy: Whether one is being prepared.
        is_new: Whether the camera has just taken it, and nobody has said yet that it
            is good enough. It is kept all the same.
    """

    tab: Tab
    editor: ExamEditor
    subject: Subject
    after: Callable[[], object] | None
    picture: bytes = b""
    sha256: str = ""
    is_busy: bool = False
    is_new: bool = False
    _typed: Typed = field(init=False)
    _view: FormView = field(init=False)
    _problem: ProblemNotice = field(init=False)
    _shown: Slot = field(init=False)
    _foot: Slot = field(init=False)
    _camera: ComputerCamera = field(init=False)

    def __post_init__(self) -> None:
        """Begin with what was chosen and typed before."""
        exam, protocol = self.editor.exam, self.editor.protocol
        label = tr(
            "Photograph of {subject_words}",
            subject_words=subject_words(exam, protocol, self.subject),
        )
        self._typed = exam_sessions.typed_in(
            self.tab.session, self.editor, self.subject.place, label
        )
        asked = caption_asked(proposed_caption(exam, protocol, self.subject))
        self._view = FormView(Form(asked, typed=self._typed))
        self._problem = ProblemNotice("photo-problem", hides_empty=True)
        self._camera = ComputerCamera(
            self.tab, self._redraw, self._redraw_foot, self._problem.say
        )
        self._shown = Slot(self._draw)
        self._foot = Slot(self._draw_foot)

    def open(self) -> None:
        """Show it; a picture that was kept before is read first."""
        exam, protocol = self.editor.exam, self.editor.protocol
        self.tab.open_sheet(
            tr(
                "Photograph: {subject_words}",
                subject_words=subject_words(exam, protocol, self.subject),
            ),
            self._problem.control,
            self._shown.control,
            grows=True,
            foot=[self._foot.control],
        )
        if self._kept_before:
            self.tab.start(self._read_before())

    @property
    def _kept_before(self) -> str:
        return self._typed.value(PICTURE)

    async def _read_before(self) -> None:
        session, sha256 = self.tab.session, self._kept_before
        picture = await kept_picture(session, sha256)
        if picture is None:
            self._typed.forget(PICTURE)
        else:
            self.sha256 = sha256
            self._show(picture)

    def _show(self, picture: bytes) -> None:
        self.picture = picture
        self._redraw()

    def _redraw(self) -> None:
        self._shown.refresh()
        self._foot.refresh()

    def _redraw_foot(self) -> None:
        self._foot.refresh()

    def _has_room(self) -> bool:
        try:
            require_room(self.editor.exam)
        except TooManyPhotographsError as refusal:
            self._problem.say(refusal.advice)
            return False
        return True

    async def _choose(self) -> None:
        if not self._has_room():
            return
        content = await pick_picture(self.tab)
        if content is not None:
            await self._bring(content, is_new=False)

    def _use_camera(self) -> None:
        if self._has_room() and not self.is_busy:
            self._problem.clear()
            self._camera.start()

    async def _photograph(self) -> None:
        content = await self._camera.take()
        if content is not None:
            await self._bring(content, is_new=True)

    def _keep(self) -> None:
        self.is_new = False
        self._redraw()

    async def _bring(self, content: bytes, *, is_new: bool) -> None:
        """Prepare and keep a picture; what was there stays where that is refused."""
        if self.is_busy:
            return
        self.is_busy = True
        self._problem.clear()
        self._show(self.picture)
        try:
            await self._take(content)
            self.is_new = is_new
        except ExamError as refusal:
            self._problem.say(refusal.advice)
        finally:
            self.is_busy = False
            self._show(self.picture)

    async def _take(self, content: bytes) -> None:
        session, exam_id = self.tab.session, self.editor.exam.exam_id
        picture = await prepare_photograph(content)
        row = await keep_picture(session, exam_id, picture)
        self._typed.note(PICTURE, row.sha256)
        self.sha256, self.picture = row.sha256, picture

    async def _save(self) -> None:
        if not self._view.is_complete():
            return
        row = self.tab.vault.photographs.row(self.sha256)
        if row is None:
            raise PhotographMissingError(self.sha256[:12])
        caption, sheet = self._view.form["caption"], self.tab.sheet
        made = named_in(row, self.subject.shows(caption))
        words = tr("Photograph: {caption}", caption=caption)
        if await exam_sessions.change(self.tab.session, self.editor, made, words):
            self._typed.drop()
            self.tab.tell(f"{words}. Saved.")
            # What was opened while it was being saved stays.
            if self.tab.sheet is sheet:
                (self.after or self.tab.close_sheet)()

    async def _throw_away(self) -> None:
        words = self._typed.drop()
        self.tab.close_sheet()

        async def undone() -> None:
            self._typed.restore(words)
            open_take(self.tab, self.editor, self.subject, self.after)

        self.tab.tell(tr("The photograph was thrown away; it was never saved."), undone)

    def _draw(self) -> ft.Control:
        if self.is_busy:
            said = quiet(tr("Preparing the picture …"))
            bar = ft.ProgressBar(
                bar_height=14, semantics_label=tr("Preparing the picture")
            )
            return identified("photo-busy", stack(said, bar), live=True)
        if self._camera.is_on:
            return self._camera.view
        if not self.picture:
            return quiet(tr(_HOW))
        beside = _BESIDE_NEW if self.is_new else _BESIDE_PICTURE
        room = (self.tab.page.height or 0) - beside * ROOM.text_scale
        width, height = size_of(self.picture) or (1, 1)
        most = min(_MOST_HEIGHT, ROOM.sheet * height / width)
        picture = ft.Image(
            src=self.picture,
            height=min(most, max(_LEAST_HEIGHT, room)),
            fit=ft.BoxFit.CONTAIN,
            semantics_label=tr("The photograph as it will be kept"),
        )
        shown = identified("photo-preview", picture)
        if self.is_new:
            return stack(shown, quiet(tr(_IS_IT_GOOD)), spacing=8)
        return stack(shown, *self._view.controls("caption"), spacing=14)

    def _draw_foot(self) -> ft.Control:
        if self._camera.is_on:
            return stack(across(self._shutter()), across(self._camera_off()))
        if not self.picture:
            return stack(*map(across, self._ways()))
        if self.is_new:
            again = self._camera_button(tr("Take again"))
            return stack(across(self._keep_button()), across(again))
        drop = button(
            "photo-drop",
            tr("Throw away"),
            self._throw_away,
            kind="tile",
            size="thumb",
            # What is prepared would be noted again after it.
            disabled=self.is_busy,
        )
        save = button(
            "photo-save",
            tr("Save photograph"),
            self._save,
            kind="main tile",
            size="thumb",
            disabled=self.is_busy,
        )
        return stack(*sharing_width([drop, *self._ways()], ROOM.sheet), across(save))

    def _ways(self) -> list[ft.Control]:
        """Draw the ways to a picture, or to another one."""
        if not offers_camera(self.tab.page):
            label = (
                tr("Another picture")
                if self.picture
                else tr("Take or choose a picture")
            )
            return [self._choose_button(label, is_main=not self.picture)]
        if self.picture:
            again = self._camera_button(tr("Take again"))
            return [again, self._choose_button(tr("Choose another"), is_main=False)]
        camera = self._camera_button(tr("Use this computer's camera"), is_main=True)
        return [camera, self._choose_button(tr("Choose a picture"), is_main=False)]

    def _choose_button(self, label: str, *, is_main: bool) -> ft.Control:
        takes = is_main and not offers_camera(self.tab.page)
        return button(
            "photo-choose",
            label,
            self._choose,
            icon=ft.Icons.PHOTO_CAMERA_OUTLINED if takes else None,
            kind="main tile" if is_main else "tile",
            size="thumb",
            disabled=self.is_busy,
        )

    def _camera_button(self, label: str, *, is_main: bool = False) -> ft.Control:
        return button(
            "photo-camera-use",
            label,
            self._use_camera,
            icon=ft.Icons.PHOTO_CAMERA_OUTLINED if is_main else None,
            kind="main tile" if is_main else "tile",
            size="thumb",
            disabled=self.is_busy,
        )

    def _shutter(self) -> ft.Control:
        return button(
            "photo-shutter",
            tr("Take the photograph"),
            self._photograph,
            icon=ft.Icons.PHOTO_CAMERA_OUTLINED,
            kind="main tile",
            size="thumb",
            disabled=not self._camera.is_ready,
        )

    def _camera_off(self) -> ft.Control:
        return button(
            "photo-camera-off",
            tr("Back to the photograph")
            if self.picture
            else tr("Do without the camera"),
            self._camera.leave,
            kind="tile",
            size="thumb",
        )

    def _keep_button(self) -> ft.Control:
        return button(
            "photo-keep",
            tr("Keep"),
            self._keep,
            kind="main tile",
            size="thumb",
            disabled=self.is_busy,
        )

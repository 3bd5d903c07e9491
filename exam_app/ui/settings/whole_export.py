"""Everything kept here as files that are read without the app: begin, stop, go on."""

import asyncio

import flet as ft

from exam_app.app.forms.form import YES, Ask, Form, Kind
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.people import Role
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.files import reaches_folders
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, paragraph, quiet, section
from exam_app.whole_export.contents import Wanted
from exam_app.whole_export.running import (
    LAST_FOLDER,
    Running,
    begin_export,
    export_place,
    is_unfinished,
    running_in,
)

_LOOK_SECONDS = 0.25
_WHAT = to_translate(
    "Writes every closed record into a folder: its signed bytes, a PDF, text, tables, "
    "JSON and FHIR, with photographs and a signed list of it all. It is read without "
    "this app."
)
_NOT_SEALED = to_translate(
    "Nothing in it is sealed: whoever has the folder reads it. Open exams are not in "
    "it. You can go on examining meanwhile."
)
_NO_FOLDER = to_translate(
    "A phone's browser has no folder that lasts, so this is done where the exams lie "
    "on a computer. Hand over to the clinic, or restore a backup of this phone on a "
    "computer, and export there."
)
_ASKS = (
    Ask(
        "folder",
        to_translate("Folder for the export"),
        hint=to_translate(
            "On another disk or stick, from its beginning, as the system shows it. "
            "Empty, new, or of an earlier export, which is gone on with."
        ),
    ),
    Ask("owners", to_translate("Also the owners, in a table"), kind=Kind.TOGGLE),
)
_NOTES = Ask(
    "notes", to_translate("Also my private notes and others'"), kind=Kind.TOGGLE
)


async def build(tab: Tab) -> Screen:
    """Build the screen."""
    back = "/settings"
    if not reaches_folders(tab):
        body = [section("", paragraph(tr(_WHAT)), paragraph(tr(_NO_FOLDER)))]
        return Screen(tr("Whole export"), list(body), back=back)
    shown = _WholeExport(tab)
    return Screen(
        tr("Whole export"),
        [
            section("", paragraph(tr(_WHAT)), paragraph(tr(_NOT_SEALED))),
            section(tr("Where, and what with it"), *shown.view.controls()),
        ],
        back=back,
        # Beside whichever button was tapped.
        pinned=[shown.work.control],
        bottom=[shown.way.control],
        on_shown=shown.watch_if_running,
    )


class _WholeExport:
    """The state of the screen."""

    def __init__(self, tab: Tab) -> None:
        self.tab = tab
        is_veterinarian = tab.person.role is Role.VETERINARIAN
        asks = (*_ASKS, _NOTES) if is_veterinarian else _ASKS
        before = {"folder": tab.vault.settings.get(LAST_FOLDER, "")}
        typed = tab.typed("export", to_translate("Whole export"))
        self.form = Form(asks, "export", before, typed=typed)
        self.view = FormView(self.form)
        self.work = Slot(self._draw_work, hides_empty=True)
        self.way = Slot(self._draw_way)

    @property
    def run(self) -> Running | None:
        """The export under way, or the last one."""
        return running_in(self.tab.vault)

    def watch_if_running(self) -> None:
        """Go on showing an export that was begun before the screen was left."""
        if self.run is not None and self.run.is_running:
            self.tab.start(self._watch(self.run))

    async def _begin(self) -> None:
        tab, form = self.tab, self.form
        try:
            folder = export_place(form["folder"], tab.session.folder)
            wanted = Wanted(form.texts.get("notes") == YES, form["owners"] == YES)
            run = begin_export(tab.session, folder, wanted)
        except ExamError as error:
            self.view.show_problem("folder", tr(error.advice))
            return
        self.view.show_problem("", "")
        form.drop()
        await self._watch(run)

    async def _watch(self, run: Running) -> None:
        self.way.refresh()
        while run.is_running:
            self.work.refresh()
            await asyncio.sleep(_LOOK_SECONDS)
        self.work.refresh()
        self.way.refresh()

    def _stop(self) -> None:
        if self.run is not None:
            self.run.stop()
        self.work.refresh()

    def _draw_way(self) -> ft.Control:
        run = self.run
        if run is not None and run.is_running:
            stop = ft.Icons.STOP_CIRCLE_OUTLINED
            return across(
                button("export-stop", tr("Stop"), self._stop, icon=stop, size="exam")
            )
        label = tr("Go on") if self._is_begun(run) else tr("Export")
        icon = ft.Icons.DRIVE_FOLDER_UPLOAD
        return across(
            button(
                "export-begin", label, self._begin, icon=icon, kind="main", size="exam"
            )
        )

    def _is_begun(self, run: Running | None) -> bool:
        try:
            typed = str(run.folder) if run is not None else self.form["folder"]
            return is_unfinished(export_place(typed, self.tab.session.folder))
        except ExamError:
            return False

    def _draw_work(self) -> ft.Control:
        run = self.run
        if run is None:
            return ft.Container()
        if not run.is_running:
            tone = Tone.PLAIN if run.is_good else Tone.NOTICE
            return banner("export-said", "\n".join(run.lines), tone)
        said = run.found.words
        bar = ft.ProgressBar(value=run.found.share, bar_height=14, semantics_label=said)
        ending = [quiet(tr("It ends after this record."))] if run.is_stopping else []
        title = tr("Exporting …")
        return identified("export-work", section(title, paragraph(said), bar, *ending))

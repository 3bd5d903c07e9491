"""Size and feel of a lump: what is typed and tapped becomes one lump when saved."""

from dataclasses import dataclass, field, replace

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Form
from exam_app.app.forms.lump_form import ASKS, lump_of, texts_of
from exam_app.app.region_changes import Found, finding_of
from exam_app.domain.errors import ExamError, LumpSizeError, ReadingError
from exam_app.domain.lumps.lump_history import earlier_lumps, lump_line
from exam_app.domain.lumps.lumps import Lump
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, paragraph, quiet, stack, strong

_TITLE = "Lump: size and feel"


def open_lump(tab: Tab, editor: ExamEditor, find: Found) -> None:
    """Ask for size and feel; two readings are offered."""
    sheet = LumpSheet(tab, editor, find)
    tab.open_sheet(_TITLE, *sheet.controls(), typed=sheet.form.typed, grows=True)


@dataclass(slots=True, repr=False)
class LumpSheet:
    """The sheet of one lump."""

    tab: Tab
    editor: ExamEditor
    find: Found
    form: Form = field(init=False)
    _problem: ProblemNotice = field(init=False)
    _before: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Begin with the lump as it is recorded."""
        key, finding_id = self.find.findings[0]
        finding = finding_of(self.editor.exam, key, finding_id)
        saved = texts_of(finding.lump if finding else None)
        name = f"lump-{finding_id}"
        typed = exam_sessions.typed_in(self.tab.session, self.editor, name, _TITLE)
        self.form = Form(ASKS, "lump", saved, typed=typed, is_by_name=True)
        self._problem = ProblemNotice("lump-problem")
        self._before = Slot(self._draw_before)

    def controls(self) -> list[ft.Control]:
        """Build the sheet's controls."""
        view = FormView(self.form, on_change=lambda _name: self._before.refresh())
        return [
            *view.controls(),
            across(button("lump-save", "Save the lump", self._save, kind="main tile")),
            # Below the button: it comes and goes with what is chosen above.
            self._problem.control,
            self._before.control,
            quiet("Two people's callipers can differ by centimetres on one lump."),
        ]

    def _lump(self) -> Lump:
        by = exam_sessions.person_now(self.tab.session).name
        return lump_of(self.form.values(), by)

    async def _save(self) -> None:
        try:
            lump = self._lump()
        except ExamError as refusal:
            self._problem.say(_sentence(refusal))
            return
        made = region_changes.detailed(self.find, lump=lump)
        if await self.tab.change_and_close(
            self.editor, made, "lump: size and feel", self.form.typed
        ):
            self.tab.tell("The lump is recorded.")

    def _draw_before(self) -> ft.Control:
        key, finding_id = self.find.findings[0]
        exam = self.editor.exam
        finding = finding_of(exam, key, finding_id)
        told = [f"{f.date}: {f.summary}" for f in earlier_lumps(exam, key)]
        if finding is None or not told:
            return ft.Container()
        lines: list[ft.Control] = [strong("Measured here before"), *map(quiet, told)]
        try:
            beside = lump_line(exam, key, replace(finding, lump=self._lump()))
        except ExamError:
            # Half a size is being typed: there is nothing to compare yet.
            beside = ""
        return stack(*lines, *beside_part(beside), spacing=6)


def beside_part(line: str) -> list[ft.Control]:
    """Show a lump beside its earlier measuring; nothing where the line is empty."""
    return [identified("lump-beside", paragraph(line), live=True)] if line else []


def _sentence(refusal: ExamError) -> str:
    if isinstance(refusal, LumpSizeError | ReadingError):
        return f"{str(refusal).capitalize()}. {refusal.advice}"
    return refusal.advice

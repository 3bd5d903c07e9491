"""Size and feel of a lump: what is typed and tapped becomes one lump when saved."""

from dataclasses import replace

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
from exam_app.ui.widgets.texts import across, paragraph, quiet, stack, strong

_TITLE = "Lump: size and feel"


def open_lump(tab: Tab, editor: ExamEditor, find: Found) -> None:
    """Ask for size and feel; two readings are offered."""
    key, finding_id = find.findings[0]
    finding = finding_of(editor.exam, key, finding_id)
    typed = exam_sessions.typed_in(tab.session, editor, f"lump-{finding_id}", _TITLE)
    saved = texts_of(finding.lump if finding else None)
    form = Form(ASKS, "lump", saved, typed=typed, is_by_name=True)
    view, problem = FormView(form), ProblemNotice("lump-problem")

    def described() -> Lump:
        return lump_of(form.values(), exam_sessions.person_now(tab.session).name)

    async def save() -> None:
        try:
            lump = described()
        except ExamError as refusal:
            problem.say(_sentence(refusal))
            return
        made = region_changes.detailed(find, lump=lump)
        if await tab.change_and_close(editor, made, "lump: size and feel", typed):
            tab.tell("The lump is recorded.")

    def before() -> ft.Control:
        exam = editor.exam
        finding = finding_of(exam, key, finding_id)
        told = [f"{f.date}: {f.summary}" for f in earlier_lumps(exam, key)]
        if finding is None or not told:
            return ft.Container()
        lines: list[ft.Control] = [strong("Measured here before"), *map(quiet, told)]
        try:
            beside = lump_line(exam, key, replace(finding, lump=described()))
        except ExamError:
            # Half a size is being typed: there is nothing to compare yet.
            beside = ""
        return stack(*lines, *beside_part(beside), spacing=6)

    tab.open_sheet(
        _TITLE,
        *view.controls(),
        across(button("lump-save", "Save the lump", save, kind="main tile")),
        # Below the button: it comes and goes with what is chosen above.
        problem.control,
        view.following(before),
        quiet("Two people's callipers can differ by centimetres on one lump."),
        typed=typed,
        grows=True,
    )


def beside_part(line: str) -> list[ft.Control]:
    """Show a lump beside its earlier measuring; nothing where the line is empty."""
    return [identified("lump-beside", paragraph(line), live=True)] if line else []


def _sentence(refusal: ExamError) -> str:
    if isinstance(refusal, LumpSizeError | ReadingError):
        return f"{str(refusal).capitalize()}. {refusal.advice}"
    return refusal.advice

"""Measure a lump: its size always in reach at the foot, what was felt above it.

Size and feel become one lump when they are saved.
"""

from dataclasses import replace

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms import lump_form
from exam_app.app.forms.form import Form
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
_MEASURED = ("typed", "unit", "tool")


def open_lump(tab: Tab, editor: ExamEditor, find: Found) -> None:
    """Ask for size and feel; two readings are offered."""
    key, finding_id = find.findings[0]
    finding = finding_of(editor.exam, key, finding_id)
    typed = exam_sessions.typed_in(tab.session, editor, f"lump-{finding_id}", _TITLE)
    saved = lump_form.texts_of(finding.lump if finding else None)
    form = Form(lump_form.ASKS, "lump", saved, typed=typed, is_by_name=True)
    problem = ProblemNotice("lump-problem")
    view = FormView(form, on_change=lambda _: problem.clear())

    def described() -> Lump:
        return lump_form.lump_of(form.values(), tab.person.name)

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

    felt = (ask.name for ask in lump_form.ASKS if ask.name not in _MEASURED)
    tab.open_sheet(
        _TITLE,
        view.following(before),
        *view.controls(*felt),
        quiet("Two people's callipers can differ by centimetres on one lump."),
        typed=typed,
        grows=True,
        foot=[
            # Above what is tapped, which stands at the foot and stays there.
            problem.control,
            *view.controls(*_MEASURED),
            across(button("lump-save", "Save the lump", save, kind="main tile")),
        ],
    )


def beside_part(line: str) -> list[ft.Control]:
    """Show a lump beside its earlier measuring; nothing where the line is empty."""
    return [identified("lump-beside", paragraph(line), live=True)] if line else []


def _sentence(refusal: ExamError) -> str:
    if isinstance(refusal, LumpSizeError | ReadingError):
        return f"{str(refusal).capitalize()}. {refusal.advice}"
    return refusal.advice

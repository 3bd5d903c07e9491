"""Measure a lump: its size always in reach at the foot, what was felt above it.

Size and feel become one lump when they are saved.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import Change, ExamEditor
from exam_app.app.forms import lump_form
from exam_app.app.forms.form import Form
from exam_app.app.region_changes import Found, finding_of
from exam_app.domain.errors import ExamError, LumpSizeError, ReadingError
from exam_app.domain.exam.findings import EarlierFinding, Finding
from exam_app.domain.exam.marks import earlier_of, known_earlier
from exam_app.domain.lumps.lump_history import (
    compared,
    earlier_lumps,
    lump_line,
    measured_words,
)
from exam_app.domain.lumps.lumps import Lump
from exam_app.domain.wording.exam_wording import mark_words, summary_shown
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.texts import across, paragraph, quiet, stack, strong

_TITLE = to_translate("Lump: size and feel")
_MEASURED = ("typed", "unit", "tool")


def open_lump(tab: Tab, editor: ExamEditor, find: Found) -> None:
    """Ask for size and feel; two readings are offered."""
    key, finding_id = find.findings[0]
    finding = finding_of(editor.exam, key, finding_id)

    def measured() -> Finding | None:
        return finding_of(editor.exam, key, finding_id)

    def made(lump: Lump) -> Change:
        return region_changes.detailed(find, lump=lump)

    saved = lump_form.texts_of(finding.lump if finding else None)
    name = f"lump-{finding_id}"
    _LumpSheet(tab, editor, key, name, tr(_TITLE), measured, made).open(saved)


def open_lump_again(tab: Tab, editor: ExamEditor, earlier_id: str) -> None:
    """Ask for size and feel of a lump of an earlier record, which is measured again.

    It is recorded when the size is saved; until then nothing is said of it.
    """
    known, finding_id = known_earlier(editor.exam, earlier_id), editor.new_id()
    by = editor.attribution()

    def measured() -> Finding:
        return Finding(finding_id, "lump", by, same_as=earlier_id)

    def made(lump: Lump) -> Change:
        return region_changes.found_again(earlier_id, finding_id, lump)

    # By the earlier one: what was typed is there when it is tapped again.
    name, marked = f"lump-again-{earlier_id}", mark_words(known.mark)
    title = tr("The same lump again")
    if marked:
        title = tr("The same lump again: {place}", place=marked)
    _LumpSheet(tab, editor, known.key, name, title, measured, made).open({})


@dataclass(frozen=True, slots=True, repr=False)
class _LumpSheet:
    """A lump while it is described.

    Attributes:
        key: Region key.
        name: Names what is typed among the forms of this exam.
        title: What the sheet is called.
        measured: Gives the finding as it is recorded, without what is typed here.
        made: Makes the change that records the lump.
    """

    tab: Tab
    editor: ExamEditor
    key: str
    name: str
    title: str
    measured: Callable[[], Finding | None]
    made: Callable[[Lump], Change]

    def open(self, saved: Mapping[str, str]) -> None:
        """Show it; ``saved`` is what is recorded, by field."""
        tab, editor = self.tab, self.editor
        typed = exam_sessions.typed_in(tab.session, editor, self.name, self.title)
        form = Form(lump_form.ASKS, "lump", saved, typed=typed, is_by_name=True)
        problem = ProblemNotice("lump-problem")
        view = FormView(form, on_change=lambda _: problem.clear())

        async def save() -> None:
            try:
                lump = self._described(form)
            except ExamError as refusal:
                problem.say(_sentence(refusal))
                return
            made = self.made(lump)
            if await tab.change_and_close(
                editor, made, tr("lump: size and feel"), typed
            ):
                tab.tell(tr("The lump is recorded."))

        felt = (ask.name for ask in lump_form.ASKS if ask.name not in _MEASURED)
        tab.open_sheet(
            self.title,
            view.following(lambda: self._before(form)),
            *view.controls(*felt),
            quiet(tr("Two people's callipers can differ by centimetres on one lump.")),
            typed=typed,
            grows=True,
            foot=[
                # Above what is tapped, which stands at the foot and stays there.
                problem.control,
                *view.controls(*_MEASURED),
                across(
                    button("lump-save", tr("Save the lump"), save, kind="main tile")
                ),
            ],
        )

    def _described(self, form: Form) -> Lump:
        return lump_form.lump_of(form.values(), self.tab.person.name)

    def _typed(self, form: Form) -> Lump | None:
        """Return the lump as far as it is typed; half a size is none yet."""
        try:
            return self._described(form)
        except ExamError:
            return None

    def _before(self, form: Form) -> ft.Control:
        """Lay what is typed beside what was measured before."""
        exam, finding, lump = self.editor.exam, self.measured(), self._typed(form)
        if finding is None:
            return ft.Container()
        if (same := earlier_of(exam, finding.same_as)) is not None:
            said = compared(same.lump, lump) if same.lump and lump else ""
            return stack(_readings(same, lump), *beside_part(said), spacing=6)
        beside = lump_line(exam, self.key, replace(finding, lump=lump)) if lump else ""
        protocol, before = self.editor.protocol, earlier_lumps(exam, self.key)
        told = [f"{f.date}: {summary_shown(f, protocol)}" for f in before]
        if not told:
            return ft.Container()
        lines: list[ft.Control] = [
            strong(tr("Measured here before")),
            *map(quiet, told),
        ]
        return stack(*lines, *beside_part(beside), spacing=6)


def _readings(before: EarlierFinding, now: Lump | None) -> ft.Control:
    """Lay both readings of one lump side by side, each with its tool and person."""
    then = measured_words(before.lump) if before.lump else tr("not measured then")
    said = measured_words(now) if now else tr("not typed yet")
    columns = ((before.date, then), (tr("Now"), said))
    drawn: list[ft.Control] = [
        ft.Container(stack(strong(head), paragraph(words), spacing=2), expand=1)
        for head, words in columns
    ]
    row = ft.Row(drawn, vertical_alignment=ft.CrossAxisAlignment.START)
    return identified("lump-readings", row)


def beside_part(line: str) -> list[ft.Control]:
    """Show a lump beside its earlier measuring; nothing where the line is empty."""
    return [identified("lump-beside", paragraph(line), live=True)] if line else []


def _sentence(refusal: ExamError) -> str:
    if isinstance(refusal, LumpSizeError | ReadingError):
        return f"{tr(str(refusal)).capitalize()}. {tr(refusal.advice)}"
    return tr(refusal.advice)

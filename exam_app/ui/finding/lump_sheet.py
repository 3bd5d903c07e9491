"""Size and feel of a lump: what is typed and tapped becomes one lump when saved."""

from dataclasses import dataclass, field, replace

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.lump_form import (
    DEPTHS,
    DIRECTIONS,
    FEELS,
    MOVES,
    PAINS,
    SURFACES,
    TOOLS,
    UNITS,
    LumpForm,
    form_of,
    lump_of,
)
from exam_app.app.region_changes import Found, finding_of
from exam_app.app.typed_entries import Typed
from exam_app.domain.errors import ExamError, LumpSizeError, ReadingError
from exam_app.domain.lumps.lump_history import earlier_lumps, lump_line
from exam_app.domain.lumps.lumps import Lump
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, paragraph, quiet, stack, strong


def open_lump(tab: Tab, editor: ExamEditor, find: Found) -> None:
    """Ask for size and feel; two readings are offered."""
    sheet = LumpSheet(tab, editor, find)
    tab.open_sheet(
        "Lump: size and feel", *sheet.controls(), typed=sheet.typed, grows=True
    )


@dataclass(slots=True, repr=False)
class LumpSheet:
    """The sheet of one lump."""

    tab: Tab
    editor: ExamEditor
    find: Found
    typed: Typed = field(init=False)
    _saved: LumpForm = field(init=False)
    _form: LumpForm = field(init=False)
    _size: Field = field(init=False)
    _second: Field = field(init=False)
    _problem: str = ""
    _notice: Slot = field(init=False)
    _before: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Begin with the lump as it is recorded."""
        finding = finding_of(self.editor.exam, *self.find.findings[0])
        self._saved = form_of(finding.lump if finding else None)
        name = f"lump-{self.find.findings[0][1]}"
        label = "Lump: size and feel"
        self.typed = exam_sessions.typed_in(self.tab.session, self.editor, name, label)
        self._form = self.typed.begin(self._saved)
        self._size = text_field(
            "lump-size",
            "Size, longest first",
            value=self._form.typed,
            on_change=self._typed,
            hint="For example 12 x 8. One to three sizes; never multiplied.",
        )
        self._second = text_field(
            "lump-second",
            "Second reading",
            value=self._form.second,
            on_change=self._typed,
            hint="Take the calliper off and measure again; may be left empty.",
        )
        self._notice = Slot(self._draw_problem)
        self._before = Slot(self._draw_before)

    def controls(self) -> list[ft.Control]:
        """Build the sheet's controls."""
        form = self._form
        return [
            self._size.control,
            self._row("lump-unit", UNITS, "unit", form.unit, clearable=False),
            strong("Measured with"),
            self._row("lump-tool", TOOLS, "tool", form.tool),
            strong("The longest lies"),
            self._row(
                "lump-direction",
                [(d, d.capitalize()) for d in DIRECTIONS],
                "direction",
                form.direction,
            ),
            self._second.control,
            strong("How deep"),
            self._row("lump-depth", DEPTHS, "depth", form.depth),
            strong("Feel"),
            self._row("lump-feel", FEELS, "feel", form.feel),
            strong("Under the fingers"),
            self._row("lump-moves", MOVES, "moves", form.moves),
            strong("Surface"),
            self._row("lump-surface", SURFACES, "surface", form.surface),
            strong("Pain on touch"),
            self._row("lump-pain", PAINS, "pain", form.pain),
            across(button("lump-save", "Save the lump", self._save, kind="main tile")),
            # Below the button: it comes and goes with what is chosen above.
            self._notice.control,
            self._before.control,
            quiet("Two people's callipers can differ by centimetres on one lump."),
        ]

    def _row(
        self,
        group: str,
        options: list[tuple[str, str]] | tuple[tuple[str, str], ...],
        name: str,
        chosen: str,
        *,
        clearable: bool = True,
    ) -> ft.Control:
        async def choose(value: str) -> None:
            self._form = replace(self._form, **{name: value})
            self._note()

        row = ChoiceRow(group, options, choose, chosen or None, clearable=clearable)
        return row.control

    async def _typed(self) -> None:
        self._form = replace(
            self._form, typed=self._size.value, second=self._second.value
        )
        self._note()

    def _note(self) -> None:
        """Keep the form as it stands, and lay it beside what was measured before."""
        self.typed.keep(self._form, self._saved)
        self._before.refresh()

    def _lump(self) -> Lump:
        return lump_of(self._form, exam_sessions.person_now(self.tab.session).name)

    async def _save(self) -> None:
        try:
            lump = self._lump()
        except ExamError as refusal:
            self._problem = _sentence(refusal)
            self._notice.refresh()
            return
        made = region_changes.detailed(self.find, lump=lump)
        if await exam_sessions.change(
            self.tab.session, self.editor, made, "lump: size and feel"
        ):
            self.typed.drop()
            self.tab.close_sheet()
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

    def _draw_problem(self) -> ft.Control:
        if not self._problem:
            return ft.Container()
        return banner("lump-problem", self._problem, Tone.NOTICE)


def beside_part(line: str) -> list[ft.Control]:
    """Show a lump beside its earlier measuring; nothing where the line is empty."""
    return [identified("lump-beside", paragraph(line), live=True)] if line else []


def _sentence(refusal: ExamError) -> str:
    if isinstance(refusal, LumpSizeError | ReadingError):
        return f"{refusal.reason.capitalize()}. {refusal.advice}"
    return refusal.advice

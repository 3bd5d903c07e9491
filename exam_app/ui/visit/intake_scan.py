"""Scan for a chip: numbers from a reader that types, or none found on this scan.

Every scan is added to those before it; none is ever replaced.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.forms import scan_form
from exam_app.app.forms.scan_form import ScanForm
from exam_app.app.queries import animals as animal_queries
from exam_app.app.typed_entries import Typed
from exam_app.domain.animal.chips import scans_of
from exam_app.domain.exam import visit_transitions as transitions
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.visit import ChipScan
from exam_app.domain.wording.visit_wording import scan_words
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import Kind, button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, stack, strong


def ask_about_number(tab: Tab, editor: ExamEditor) -> None:
    """Say that a scanned number is not the animal's; change it only when told to."""
    number, question = scan_form.question_about(editor.exam)
    if not number:
        return

    async def keep() -> None:
        if not await exam_sessions.change(
            tab.session,
            editor,
            lambda exam, _: transitions.keep_chip(exam, number),
            "Chip number of the animal",
        ):
            return
        animal, owner = animal_queries.fetch(tab.session, editor.exam.animal.animal_id)
        changed = transitions.with_chip(animal, number)
        await animal_queries.keep(tab.session, changed, owner)
        tab.close_sheet()

    tab.open_sheet(
        "Chip number",
        banner("scan-differs", question, Tone.NOTICE),
        button("scan-keep", "Keep it on the animal", keep, kind="main", size="exam"),
        button(
            for_choice("scan-keep", "not"),
            "Change nothing",
            tab.close_sheet,
            size="exam",
        ),
    )


def open_scans(tab: Tab, editor: ExamEditor) -> None:
    """Open the scans made so far, and the way to one more."""
    ScanSheet(tab, editor).open()


@dataclass(slots=True, repr=False)
class ScanSheet:
    """One scan being made."""

    tab: Tab
    editor: ExamEditor
    typed: Typed = field(init=False)
    _form: ScanForm = field(init=False)
    _number: Field = field(init=False)
    _scanner: Field = field(init=False)
    _read: Slot = field(init=False)
    _why_not: Slot = field(init=False)
    _is_why_open: bool = False

    def __post_init__(self) -> None:
        """Begin with the next occasion and the scanner used last."""
        self.typed = exam_sessions.typed_in(
            self.tab.session, self.editor, "scan", "Chip scan"
        )
        self._form = scan_form.form_for(self.editor.exam)
        kept = tuple(self.typed.value("numbers").split())
        self._form = replace(self._form, numbers=kept)
        known = str(self.tab.vault.settings.get(scan_form.SCANNER_SETTING, ""))
        self._scanner = text_field(
            "scan-scanner", "Scanner", value=known, typed=self.typed
        )
        self._number = text_field(
            "scan-number",
            "Chip number",
            hint="Scan with a reader that types, or type it. Enter takes it.",
            autofocus=self.tab.is_wide,
            on_submit=self._submitted,
            typed=self.typed,
        )
        self._is_why_open = bool(self.typed.value("scan-not-done-words"))
        self._read = Slot(self._draw_read)
        self._why_not = Slot(self._draw_why_not)

    def open(self) -> None:
        """Lay the sheet over the screen."""
        slot_key = self._form.slot.replace(" ", "-")
        occasions = ChoiceRow(
            "scan-slot", scan_form.SLOT_LABELS, self._choose_slot, slot_key
        )
        self.tab.open_sheet(
            "Chip scan",
            *self._made_before(),
            quiet(scan_form.HOW),
            occasions.control,
            self._number.control,
            self._read.control,
            self._scanner.control,
            self._why_not.control,
            typed=self.typed,
            grows=True,
        )

    def _made_before(self) -> list[ft.Control]:
        scans = scans_of(self.editor.exam)
        lines = [
            identified(for_choice("scan-line", str(place)), paragraph(scan_words(s)))
            for place, s in enumerate(scans)
        ]
        return [strong("Scans so far"), *lines, ft.Divider()] if lines else []

    async def _choose_slot(self, key: str) -> None:
        self._form = ScanForm(
            key.replace("-", " "), self._form.numbers, self._form.refused
        )

    async def _submitted(self) -> None:
        self._take_typed()
        await self._number.entry.focus()  # type: ignore[no-untyped-call]

    def _take_typed(self) -> None:
        self._form = scan_form.with_read(self._form, self._number.typed)
        self._number.clear()
        self._show_read()

    def _show_read(self) -> None:
        """Show the numbers read so far, and keep them until the scan is saved."""
        self.typed.note("numbers", " ".join(self._form.numbers))
        self._read.refresh()

    def _draw_read(self) -> ft.Control:
        shown = [self._number_line(number) for number in self._form.numbers]
        if self._form.refused:
            words = scan_form.number_words(self._form.refused)
            keep = button("scan-keep-as-read", "Keep it as read", self._keep_refused)
            shown.append(banner("scan-check", words, Tone.NOTICE, keep))
        has_numbers = bool(self._form.numbers)
        label = "Save this scan" if has_numbers else "Take this number"
        kind: Kind = "main" if has_numbers else "other"
        save = button("scan-save", label, self._save_found, kind=kind, size="exam")
        shown.append(save)
        if not has_numbers:
            shown.append(strong("None found on this scan: how many passes?"))
            shown.append(self._passes())
        return stack(*shown, spacing=8)

    def _number_line(self, number: str) -> ft.Control:
        def dropped() -> None:
            self._form = scan_form.without_number(self._form, number)
            self._show_read()

        words = paragraph(scan_form.number_words(number))
        name = for_choice("scan-read", f"{number.lower()}-drop")
        cross = button(
            name, "Drop this number", dropped, kind="icon", icon=ft.Icons.CLOSE
        )
        row = ft.Row([ft.Container(words, expand=True), cross])
        return identified(for_choice("scan-read", number.lower()), row)

    def _keep_refused(self) -> None:
        self._form = scan_form.kept_as_read(self._form)
        self._show_read()

    async def _save_found(self) -> None:
        if self._number.value or not self._form.numbers:
            self._take_typed()
            return
        form, scanner = self._form, self._scanner.value
        if await self._add("Chip scan", partial(scan_form.found_scan, form, scanner)):
            await self._kept()

    async def _add(self, name: str, scan: Callable[[Attribution], ChipScan]) -> bool:
        def made(exam: Exam, edit: Edit) -> Exam:
            return transitions.record_visit(exam, scan(edit.by))

        return await exam_sessions.change(self.tab.session, self.editor, made, name)

    def _passes(self) -> ft.Control:
        buttons = [self._none_found(passes) for passes in scan_form.PASSES]
        return ft.Row(buttons, spacing=8)

    def _none_found(self, passes: int) -> ft.Control:
        async def tapped() -> None:
            form, scanner = self._form, self._scanner.value
            scan = partial(scan_form.none_found_scan, form, passes, scanner)
            if await self._add("Chip scan: none found on this scan", scan):
                await self._kept()

        spoken = f"None found on this scan; passes: {passes}"
        name = for_choice("scan-none", str(passes))
        return button(name, str(passes), tapped, expand=1, spoken=spoken, kind="tile")

    def _draw_why_not(self) -> ft.Control:
        if not self._is_why_open:
            action = button(
                "scan-not-done", "Not scanned …", self._ask_why, kind="tile"
            )
            return ft.Row([action])
        own = text_field(
            "scan-not-done-words", "Reason in your own words", typed=self.typed
        )

        async def save() -> None:
            if not own.value:
                own.show_problem("Type why it was not scanned.")
                return
            await self._not_done(own.value)

        reasons = [
            self._reason(place, reason)
            for place, reason in enumerate(scan_form.REASONS)
        ]
        return stack(
            strong("Not scanned, because"),
            ft.Row(reasons, wrap=True, spacing=8, run_spacing=8),
            own.control,
            ft.Row(
                [button("scan-not-done-save", "Save this reason", save, kind="tile")]
            ),
        )

    def _ask_why(self) -> None:
        self._is_why_open = True
        self._why_not.refresh()

    def _reason(self, place: int, reason: str) -> ft.Control:
        async def tapped() -> None:
            await self._not_done(reason)

        return button(
            for_choice("scan-not-done", str(place)), reason, tapped, kind="tile"
        )

    async def _not_done(self, reason: str) -> None:
        scan = partial(scan_form.not_done_scan, self._form, reason)
        if await self._add(f"Chip not scanned: {reason}", scan):
            self.typed.drop()
            self.tab.close_sheet()

    async def _kept(self) -> None:
        scanner, vault = self._scanner.value, self.tab.vault
        if vault.settings.get(scan_form.SCANNER_SETTING, "") != scanner:
            await self.tab.save(
                lambda: vault.settings.put(scan_form.SCANNER_SETTING, scanner)
            )
        self.typed.drop()
        self.tab.close_sheet()
        if self._form.numbers:
            ask_about_number(self.tab, self.editor)

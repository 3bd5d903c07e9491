"""Scan for a chip: numbers from a reader that types, or none found on this scan.

Every scan is added to those before it; none is ever replaced.
"""

from dataclasses import replace

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.forms import scan_form
from exam_app.app.forms.form import Form
from exam_app.app.forms.scan_form import ScanForm
from exam_app.app.queries import animals as animal_queries
from exam_app.domain.animal.chips import scans_of
from exam_app.domain.exam import visit_transitions as transitions
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.visit import ChipScan
from exam_app.domain.wording.visit_wording import scan_words
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import Kind, button
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    paragraph,
    quiet,
    side_by_side,
    stack,
    strong,
)


def ask_about_number(tab: Tab, editor: ExamEditor) -> None:
    """Say that a scanned number is not the animal's; change it only when told to."""
    number, question = scan_form.question_about(editor.exam)
    if not number:
        return

    def made(exam: Exam, _edit: Edit) -> Exam:
        return transitions.keep_chip(exam, number)

    async def keep() -> None:
        sheet = tab.sheet
        told = tr("Chip number of the animal")
        if not await exam_sessions.change(tab.session, editor, made, told):
            return
        animal, owner = animal_queries.fetch(tab.session, editor.exam.animal.animal_id)
        changed = replace(animal, chip=number)
        await animal_queries.keep(tab.session, changed, owner)
        tab.close_only(sheet)

    tab.open_sheet(
        tr("Chip number"),
        banner("scan-differs", question, Tone.NOTICE),
        button("scan-keep", tr("Keep it on the animal"), keep, kind="lead"),
        button("scan-keep-not", tr("Change nothing"), tab.close_sheet, size="exam"),
    )


def open_scans(tab: Tab, editor: ExamEditor) -> None:
    """Open the scans made so far, and the way to one more."""
    ScanSheet(tab, editor).open()


class ScanSheet:
    """One scan being made."""

    def __init__(self, tab: Tab, editor: ExamEditor) -> None:
        """Begin with the next occasion and the scanner used last."""
        self._tab, self._editor = tab, editor
        settings = tab.vault.settings
        saved = {
            "slot": scan_form.next_slot(editor.exam).replace(" ", "-"),
            "scanner": str(settings.get(scan_form.SCANNER_SETTING, "")),
        }
        typed = exam_sessions.typed_in(tab.session, editor, "scan", tr("Chip scan"))
        self._form = Form(scan_form.ASKS, "scan", saved, typed=typed)
        self._number = FormView(
            self._form,
            on_enter=self._submitted,
            autofocus="number" if tab.is_wide else "",
        )
        self._view = FormView(self._form)
        self._refused = ""
        self._is_why_open = bool(self._form["not-done-words"])
        self._read = Slot(self._draw_read)
        self._why_not = Slot(self._draw_why_not)

    def open(self) -> None:
        """Lay the sheet over the screen."""
        drawn = self._view.control
        self._tab.open_sheet(
            tr("Chip scan"),
            *self._made_before(),
            quiet(tr(scan_form.HOW)),
            drawn("slot"),
            self._number.control("number"),
            self._read.control,
            drawn("scanner"),
            self._why_not.control,
            typed=self._form.typed,
            grows=True,
        )

    def _made_before(self) -> list[ft.Control]:
        scans = scans_of(self._editor.exam)
        lines = [
            identified(for_choice("scan-line", str(place)), paragraph(scan_words(s)))
            for place, s in enumerate(scans)
        ]
        return [strong(tr("Scans so far")), *lines, ft.Divider()] if lines else []

    @property
    def _scan(self) -> ScanForm:
        numbers = tuple(self._form["numbers"].split())
        return ScanForm(self._form["slot"].replace("-", " "), numbers, self._refused)

    async def _submitted(self) -> None:
        self._take_typed()
        await self._number.fields["number"].focus()

    def _take_typed(self) -> None:
        typed = self._form.texts["number"]
        self._number.write("number", "")
        self._show(scan_form.with_read(self._scan, typed))

    def _show(self, scan: ScanForm) -> None:
        """Show the numbers read so far, and keep them until the scan is saved."""
        self._refused = scan.refused
        self._form.put("numbers", " ".join(scan.numbers))
        self._read.refresh()

    def _draw_read(self) -> ft.Control:
        scan = self._scan
        shown = [self._number_line(number) for number in scan.numbers]
        if scan.refused:
            words = scan_form.number_words(scan.refused)
            keep = button(
                "scan-keep-as-read", tr("Keep it as read"), self._keep_refused
            )
            shown.append(banner("scan-check", words, Tone.NOTICE, keep))
        label = tr("Save this scan") if scan.numbers else tr("Take this number")
        kind: Kind = "main" if scan.numbers else "other"
        save = button("scan-save", label, self._save_found, kind=kind, size="exam")
        shown.append(save)
        if not scan.numbers:
            shown.append(strong(tr("None found on this scan: how many passes?")))
            passes = map(self._none_found, scan_form.PASSES)
            shown.append(ft.Row(list(passes), spacing=8))
        return stack(*shown, spacing=8)

    def _number_line(self, number: str) -> ft.Control:
        def dropped() -> None:
            self._show(scan_form.without_number(self._scan, number))

        words = paragraph(scan_form.number_words(number))
        name = for_choice("scan-read", f"{number.lower()}-drop")
        cross = button(
            name, tr("Drop this number"), dropped, kind="icon", icon=ft.Icons.CLOSE
        )
        row = ft.Row([ft.Container(words, expand=True), cross])
        return identified(for_choice("scan-read", number.lower()), row)

    def _keep_refused(self) -> None:
        self._show(scan_form.kept_as_read(self._scan))

    async def _save_found(self) -> None:
        if self._form["number"] or not self._scan.numbers:
            self._take_typed()
            return
        numbers, scanner = self._scan.numbers, self._form["scanner"]
        if await self._record(tr("Chip scan"), numbers=numbers, scanner=scanner):
            await self._keep_scanner()
            ask_about_number(self._tab, self._editor)

    def _none_found(self, passes: int) -> ft.Control:
        async def tapped() -> None:
            scanner = self._form["scanner"]
            name = tr("Chip scan: none found on this scan")
            if await self._record(name, passes=passes, scanner=scanner):
                await self._keep_scanner()

        spoken = tr("None found on this scan; passes: {passes}", passes=passes)
        name = for_choice("scan-none", str(passes))
        return button(name, str(passes), tapped, expand=1, spoken=spoken, kind="tile")

    def _draw_why_not(self) -> ft.Control:
        if not self._is_why_open:
            action = button(
                "scan-not-done", tr("Not scanned …"), self._ask_why, kind="tile"
            )
            return side_by_side(action)

        async def save() -> None:
            if self._view.is_complete():
                await self._not_done(self._form["not-done-words"])

        reasons = [self._reason(*one) for one in enumerate(scan_form.REASONS)]
        return stack(
            strong(tr("Not scanned, because")),
            evenly(reasons),
            self._view.control("not-done-words"),
            side_by_side(
                button("scan-not-done-save", tr("Save this reason"), save, kind="tile")
            ),
        )

    def _ask_why(self) -> None:
        self._is_why_open = True
        self._why_not.refresh()

    def _reason(self, place: int, reason: str) -> ft.Control:
        async def tapped() -> None:
            await self._not_done(reason)

        return button(
            for_choice("scan-not-done", str(place)), tr(reason), tapped, kind="tile"
        )

    async def _not_done(self, reason: str) -> None:
        shown = tr(reason) if reason in scan_form.REASONS else reason
        name = tr("Chip not scanned: {reason}", reason=shown)
        await self._record(name, not_done=reason)

    async def _record(
        self,
        name: str,
        *,
        numbers: tuple[str, ...] = (),
        passes: int = 0,
        scanner: str = "",
        not_done: str = "",
    ) -> bool:
        """Add a scan; one that found none does not say that there is none."""
        slot = self._scan.slot

        def made(exam: Exam, edit: Edit) -> Exam:
            scan = ChipScan(slot, numbers, passes, scanner, edit.by, not_done=not_done)
            return transitions.record_visit(exam, scan)

        typed = self._form.typed
        return await self._tab.change_and_close(self._editor, made, name, typed)

    async def _keep_scanner(self) -> None:
        scanner, settings = self._form["scanner"], self._tab.vault.settings
        if settings.get(scan_form.SCANNER_SETTING, "") != scanner:
            await self._tab.save(
                lambda: settings.put(scan_form.SCANNER_SETTING, scanner)
            )

"""Record a finding: side, then term, and it is saved; details may follow.

The third tap of "Finding, Both, term" saves; everything on the details sheet is
optional and saved at once, each on its own.
"""

from dataclasses import dataclass

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Ask, Form
from exam_app.app.region_changes import Found, finding_of
from exam_app.app.view.later_details import put_off
from exam_app.app.view.region_presenter import keys_of, label_of, step_name, term_label
from exam_app.domain.protocol.protocol import Region, Term
from exam_app.ui.exam.seen_earlier import open_seen_earlier, seen_earlier_button
from exam_app.ui.finding.finding_details import DetailsSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import side_question
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.texts import paragraph, stack

_OWN_WORDS = Ask(
    "words",
    "In your own words",
    lines=2,
    required="Type what was found.",
    identifier="finding-words",
)


def open_terms(tab: Tab, editor: ExamEditor, region: Region) -> None:
    """Ask which side, where there are two, and then what was found."""
    keys = keys_of(editor.exam, editor.protocol, region)

    def chosen(sides: tuple[str, ...]) -> None:
        _Terms(tab, editor, region, sides).open()

    if len(keys) == 1:
        chosen(keys)
        return
    title = f"{label_of(editor.exam, region)}: which side?"
    tab.open_sheet(title, *side_question("finding-side", keys, chosen))


@dataclass(frozen=True, slots=True, repr=False)
class _Terms:
    """What can be found in a part, on the sides that were chosen."""

    tab: Tab
    editor: ExamEditor
    region: Region
    keys: tuple[str, ...]

    def open(self) -> None:
        """Offer the region's terms as buttons, and a field for own words."""
        tab, editor, place = self.tab, self.editor, f"found-{'-'.join(self.keys)}"
        label = self._name("own words of a finding")
        typed = exam_sessions.typed_in(tab.session, editor, place, label)
        view = FormView(Form((_OWN_WORDS,), typed=typed))

        async def save_words() -> None:
            if view.is_complete() and await self._record(None, view.form["words"]):
                typed.drop()

        buttons = list(map(self._term_button, self.region.terms))
        listed = (
            stack(*(ft.Row([action]) for action in buttons), spacing=10)
            if HANDS.gloved
            else ft.Row(buttons, wrap=True, spacing=10, run_spacing=10)
        )
        save = button("finding-words-save", "Save these words", save_words, kind="tile")
        tab.open_sheet(
            self._name("what was found?"),
            listed,
            *view.controls(),
            ft.Row([save]),
            typed=typed,
        )

    def _name(self, step: str) -> str:
        return step_name(self.editor.exam, self.region, self.keys, step)

    def _term_button(self, term: Term) -> ft.Control:
        async def tapped() -> None:
            await self._record(term, "")

        return button(
            for_choice("finding-term", term.term_id),
            term_label(self.editor.exam, term),
            tapped,
            icon=ft.Icons.PRIORITY_HIGH if term.urgent_sign_id else None,
            spoken="Urgent sign" if term.urgent_sign_id else None,
            expand=1 if HANDS.gloved else None,
            kind="tile",
            size="hands",
        )

    async def _record(self, term: Term | None, words: str) -> bool:
        tab, editor, sheet = self.tab, self.editor, self.tab.sheet
        findings = tuple((key, exam_sessions.new_id()) for key in self.keys)
        name = self._name(term_label(editor.exam, term) if term else words)
        made = region_changes.found(Found(self.region, findings, term), words)
        if not await exam_sessions.change(tab.session, editor, made, name):
            return False
        is_left = tab.sheet is not sheet
        if not HANDS.gloved:
            if not is_left:
                open_details(tab, editor, self.region, findings)
            return True
        # Details need clean hands: the review asks for them.
        if not is_left:
            tab.close_sheet()
        tab.tell(f"{name}. Details can follow in the review.")
        found_ids = tuple(finding_id for _, finding_id in findings)
        exam_id = editor.exam.exam_id
        await tab.save(lambda: put_off(tab.vault, exam_id, found_ids))
        return True


def open_details(
    tab: Tab,
    editor: ExamEditor,
    region: Region,
    findings: tuple[tuple[str, str], ...],
) -> None:
    """Offer what may be added to a finding that is recorded already."""
    first = finding_of(editor.exam, *findings[0])
    if first is None:
        tab.tell("This finding was taken back.")
        return
    term = next((t for t in region.terms if t.term_id == first.term_id), None)
    find = Found(region, findings, term)
    sheet = DetailsSheet(tab, editor, find)

    def ask_when() -> None:
        made = region_changes.detailed(find)
        open_seen_earlier(tab, editor, first.words, made)

    title = step_name(editor.exam, region, tuple(k for k, _ in findings), first.words)
    tab.open_sheet(
        title,
        paragraph("Recorded. Everything below may be left open."),
        *sheet.controls(),
        seen_earlier_button(ask_when),
        typed=sheet.form.typed,
        grows=True,
    )

"""Record a finding: side, then term, and it is saved; details may follow.

The third tap of "Finding, Both, term" saves; everything on the details sheet is
optional and saved at once, each on its own.
"""

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.region_changes import Found, finding_of
from exam_app.app.typed_entries import Typed
from exam_app.app.view.later_details import put_off
from exam_app.app.view.region_presenter import keys_of, label_of, step_name, term_label
from exam_app.domain.protocol.protocol import Region, Term
from exam_app.ui.exam.seen_earlier import open_seen_earlier, seen_earlier_button
from exam_app.ui.finding.finding_details import DetailsSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import side_question
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.texts import paragraph


def open_terms(tab: Tab, editor: ExamEditor, region: Region) -> None:
    """Ask which side, where there are two, and then what was found."""
    keys = keys_of(editor.exam, editor.protocol, region)
    if len(keys) == 1:
        _show_terms(tab, editor, region, keys)
        return

    def chosen(sides: tuple[str, ...]) -> None:
        _show_terms(tab, editor, region, sides)

    title = f"{label_of(editor.exam, region)}: which side?"
    tab.open_sheet(title, *side_question("finding-side", keys, chosen))


def _show_terms(
    tab: Tab, editor: ExamEditor, region: Region, keys: tuple[str, ...]
) -> None:
    title = step_name(editor.exam, region, keys, "what was found?")
    typed = own_words(tab, editor, region, keys)
    tab.open_sheet(title, *term_controls(tab, editor, region, keys, typed), typed=typed)


def own_words(
    tab: Tab, editor: ExamEditor, region: Region, keys: tuple[str, ...]
) -> Typed:
    """Give what was typed as a finding of these keys and not saved."""
    label = step_name(editor.exam, region, keys, "own words of a finding")
    return exam_sessions.typed_in(tab.session, editor, f"found-{'-'.join(keys)}", label)


def term_controls(
    tab: Tab,
    editor: ExamEditor,
    region: Region,
    keys: tuple[str, ...],
    typed: Typed,
) -> list[ft.Control]:
    """Build the region's terms as buttons, and the field for own words."""
    buttons: list[ft.Control] = [
        _term_button(tab, editor, region, keys, term) for term in region.terms
    ]
    words = text_field("finding-words", "In your own words", lines=2, typed=typed)

    async def save_words() -> None:
        if not words.value:
            words.show_problem("Type what was found.")
            return
        if await _record(tab, editor, region, keys, None, words.value):
            typed.drop()

    listed = (
        ft.Column([ft.Row([action]) for action in buttons], spacing=10, tight=True)
        if HANDS.gloved
        else ft.Row(buttons, wrap=True, spacing=10, run_spacing=10)
    )
    return [
        listed,
        words.control,
        ft.Row(
            [button("finding-words-save", "Save these words", save_words, kind="tile")]
        ),
    ]


def _term_button(
    tab: Tab, editor: ExamEditor, region: Region, keys: tuple[str, ...], term: Term
) -> ft.Control:
    async def tapped() -> None:
        await _record(tab, editor, region, keys, term, "")

    return button(
        for_choice("finding-term", term.term_id),
        term_label(editor.exam, term),
        tapped,
        icon=ft.Icons.PRIORITY_HIGH if term.urgent_sign_id else None,
        spoken="Urgent sign" if term.urgent_sign_id else None,
        expand=1 if HANDS.gloved else None,
        kind="tile",
        size="hands",
    )


async def _record(
    tab: Tab,
    editor: ExamEditor,
    region: Region,
    keys: tuple[str, ...],
    term: Term | None,
    words: str,
) -> bool:
    findings = tuple((key, exam_sessions.new_id()) for key in keys)
    find = Found(region, findings, term)
    said = term_label(editor.exam, term) if term else words
    name = step_name(editor.exam, region, keys, said)
    made, sheet = region_changes.found(find, words), tab.sheet
    if not await exam_sessions.change(tab.session, editor, made, name):
        return False
    is_left = tab.sheet is not sheet
    if not HANDS.gloved:
        if not is_left:
            open_details(tab, editor, region, findings)
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

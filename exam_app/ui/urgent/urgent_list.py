"""Urgent signs: the banner while one is unanswered, and the button that opens one."""

from collections.abc import Mapping
from typing import Any

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Ask, Form
from exam_app.app.region_changes import SIGN_ID, examiner_bitten
from exam_app.app.view.urgent_presenter import banner_text
from exam_app.app.view.visit_presenter import Part
from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.review import sign_label
from exam_app.domain.exam.transitions import signs_offered
from exam_app.domain.protocol.protocol import UrgentSign
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.urgent.urgent_answer import open_urgent_answer, open_urgent_list
from exam_app.ui.visit.visit_sheet import open_whole
from exam_app.ui.widgets.buttons import OnClick, button
from exam_app.ui.widgets.exam_parts import banner_button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, quiet

_ELSE = Ask(
    "words",
    "Something else urgent",
    lines=2,
    required="Type what is urgent.",
    identifier="urgent-words",
)


def banner_slot(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Make the banner of an exam's own screens; it appears with the first sign."""

    def draw() -> ft.Control:
        waiting = editor.view.urgent.unanswered
        if not waiting:
            return ft.Container()

        def answer() -> None:
            open_urgent_list(tab, editor)

        text = f"{banner_text(waiting)}. Say who was told"
        action = banner_button("urgent-answer", text, answer)
        return identified("urgent-banner", action, live=True)

    return Slot(draw, editor.view.urgent, hides_empty=True).control


def notice(tab: Tab) -> list[ft.Control]:
    """Draw the banner of open exams above every screen that is not their own."""
    shown: list[ft.Control] = []
    for row in tab.vault.drafts.open():
        exam_id = row.exam_id
        route = tab.page.route or ""
        if route == f"/exam/{exam_id}" or route.startswith(f"/exam/{exam_id}/"):
            continue
        labels = _waiting(tab, exam_id)
        if labels:
            shown.append(_notice_of(tab, exam_id, row.name, labels))
    return shown


def _notice_of(tab: Tab, exam_id: str, name: str, labels: list[str]) -> ft.Control:
    text = f"URGENT, not yet told: {name}: {'; '.join(labels)}"
    go = tab.way(f"/exam/{exam_id}")
    action = banner_button(for_choice("urgent-answer", exam_id), text, go)
    return identified(for_choice("urgent-banner", exam_id), action, live=True)


def _waiting(tab: Tab, exam_id: str) -> list[str]:
    known = tab.session.editors.get(exam_id)
    if known is not None:
        return [entry.label for entry in known.view.urgent.unanswered]
    draft: Mapping[str, Any] = tab.vault.drafts.get(exam_id) or {}
    return [
        str(entry.get("label"))
        for entry in draft.get("urgent", ())
        if not entry.get("answers")
    ]


def open_signs(tab: Tab, editor: ExamEditor) -> None:
    """Offer the urgent signs of the species, and own words."""
    waiting = editor.view.urgent.unanswered

    def answer() -> None:
        open_urgent_list(tab, editor)

    label = f"Answer: {len(waiting)} open" if waiting else "Answers so far"
    answers = [_wide("urgent-answer", label, answer)] if editor.exam.urgent else []
    signs = signs_offered(editor.exam, editor.protocol)
    listed = [_sign(tab, editor, sign) for sign in signs]
    bite = editor.protocol.sign(SIGN_ID)
    if bite is not None:
        # Second: an animal that does not breathe comes before a hand that bleeds.
        listed.insert(1, _bitten(tab, editor, sign_label(bite, words_for(editor.exam))))
    typed = exam_sessions.typed_in(tab.session, editor, "urgent", _ELSE.label)
    view = FormView(Form((_ELSE,), typed=typed))

    async def save() -> None:
        if not view.is_complete():
            return
        if await _noticed(tab, editor, None, view.form[_ELSE.name]):
            typed.drop()

    tab.open_sheet(
        "What is urgent?",
        quiet("A veterinarian decides; this makes sure that one is told."),
        *answers,
        *listed,
        *view.controls(),
        _wide("urgent-words-save", "This is urgent", save),
        typed=typed,
    )


def _wide(
    identifier: str, words: str, on_click: OnClick, icon: ft.IconData | None = None
) -> ft.Control:
    return across(
        button(identifier, words, on_click, icon=icon, kind="tile", size="hands")
    )


def _bitten(tab: Tab, editor: ExamEditor, label: str) -> ft.Control:
    """Make the button of a bitten examiner: two taps, and the hands can be washed."""

    async def tapped() -> None:
        sheet, told = tab.sheet, "examiner bitten or scratched"
        is_made = await exam_sessions.change(
            tab.session, editor, examiner_bitten(label), told
        )
        if is_made and tab.sheet is sheet:
            open_whole(tab, editor, Part.BITE)

    words, icon = "I was bitten or scratched", ft.Icons.PAN_TOOL_OUTLINED
    return _wide("urgent-bitten", words, tapped, icon)


def _sign(tab: Tab, editor: ExamEditor, sign: UrgentSign) -> ft.Control:
    async def tapped() -> None:
        await _noticed(tab, editor, sign, "")

    name = for_choice("urgent-sign", sign.sign_id)
    return _wide(name, sign_label(sign, words_for(editor.exam)), tapped)


async def _noticed(
    tab: Tab, editor: ExamEditor, sign: UrgentSign | None, words: str
) -> bool:
    label = sign_label(sign, words_for(editor.exam)) if sign else words
    made, sheet = region_changes.urgent_noticed(sign, words, label), tab.sheet
    if not await exam_sessions.change(tab.session, editor, made, f"urgent: {label}"):
        return False
    if tab.sheet is not sheet:
        # Closed while it was saved: the banner leads to the answer.
        return True
    opened = [e for e in editor.view.urgent.unanswered if e.label == label]
    if opened:
        open_urgent_answer(tab, editor, opened[-1].entry_id)
    else:
        tab.close_sheet()
    return True

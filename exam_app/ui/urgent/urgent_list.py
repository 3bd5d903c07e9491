"""Urgent signs: the banner, the list, and the answer: who was told, or why not."""

from collections.abc import Mapping
from typing import Any

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.exam_sessions import change, typed_in
from exam_app.app.forms.form import Ask, Form
from exam_app.app.region_changes import SIGN_ID, examiner_bitten
from exam_app.app.view.urgent_presenter import (
    answer_asks,
    answered,
    answered_text,
    banner_text,
    clinic_line,
    kind_of,
    to_answer,
)
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import sign_label
from exam_app.domain.exam.transitions import signs_offered
from exam_app.domain.exam.urgent import AnswerKind, UrgentEntry
from exam_app.domain.protocol.urgent_signs import UrgentSign
from exam_app.domain.wording.source_words import cited
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.urgent.telephone import open_telephone, telephone_button
from exam_app.ui.visit.bite_sheet import open_bites
from exam_app.ui.widgets.buttons import OnClick, button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.exam_parts import banner_button
from exam_app.ui.widgets.flags import source_note
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, in_its_place, quiet, stack, strong

# Asked anew when another kind of answer is chosen; names and words stay.
_OF_ONE_KIND = ("how", "read-back", "when")


def open_urgent_list(tab: Tab, editor: ExamEditor) -> None:
    """Offer the unanswered signs; a single one opens its answer at once."""
    waiting = editor.view.urgent.unanswered
    if len(waiting) == 1:
        open_urgent_answer(tab, editor, waiting[0].entry_id)
        return
    rows = [_waiting_line(tab, editor, entry) for entry in editor.exam.urgent]
    tab.open_sheet("Urgent signs", stack(*rows, spacing=8))


def open_urgent_answer(tab: Tab, editor: ExamEditor, entry_id: str) -> None:
    """Open the answer sheet of one urgent sign."""
    entry = next((e for e in editor.exam.urgent if e.entry_id == entry_id), None)
    if entry is not None:
        _AnswerSheet(tab, editor, entry).open()


def _waiting_line(tab: Tab, editor: ExamEditor, entry: UrgentEntry) -> ft.Control:
    def chosen() -> None:
        open_urgent_answer(tab, editor, entry.entry_id)

    name = for_choice("urgent-sheet", entry.entry_id)
    label = f"{entry.label}\n{answered_text(entry)}"
    return pick(
        name, label, chosen, is_chosen=entry.is_answered, is_row=True, size="hands"
    )


class _AnswerSheet:
    """One answer being given."""

    def __init__(self, tab: Tab, editor: ExamEditor, entry: UrgentEntry) -> None:
        self._tab, self._editor, self._entry = tab, editor, entry
        self._own = OwnSheet(tab)
        people = tab.vault.people.all()
        names = tuple(one.name for one in people if one.role is Role.VETERINARIAN)
        place = f"answer-{entry.entry_id}"
        waiting = {one.entry_id for one in editor.exam.urgent if not one.is_answered}
        role, count = tab.person.role, len(waiting | {entry.entry_id})
        self._form = Form(
            answer_asks(names, role, count),
            "urgent",
            typed=typed_in(tab.session, editor, place, entry.label),
            is_by_name=True,
        )
        if self._form["kind"] not in dict(self._form.ask("kind").choices):
            self._form.put("kind", "")
        self._view = FormView(self._form, on_change=self._changed, size="hands")
        self._details = Slot(self._draw_details)
        # At the foot of the sheet: below all that one kind asks it was out of sight.
        self._end = Slot(self._draw_end, hides_empty=True)

    def open(self) -> None:
        """Lay the sheet over the screen."""
        entry, settings = self._entry, self._tab.vault.settings
        clinic = clinic_line(
            settings.get("practice", ""), settings.get("clinic_phone", "")
        )
        notice = f"URGENT. {entry.action}" if entry.action else "URGENT."
        self._own.open(
            entry.label,
            banner("urgent-sheet", notice, Tone.URGENT),
            identified("urgent-clinic", _large(clinic)),
            telephone_button(
                "urgent-telephone", lambda: open_telephone(self._tab, self._editor)
            ),
            *([quiet(entry.note)] if entry.note else []),
            *([quiet(answered_text(entry))] if entry.is_answered else []),
            self._view.control("kind"),
            self._details.control,
            *self._source(),
            typed=self._form.typed,
            grows=True,
            foot=[self._end.control],
        )

    def _source(self) -> list[ft.Control]:
        sign = self._editor.protocol.sign(self._entry.sign_id)
        if sign is None:
            return []
        about = cited(self._editor.protocol, sign.every_source())
        return [source_note("urgent", (about,))]

    def _changed(self, name: str) -> None:
        form = self._form
        if name == "kind":
            for other in _OF_ONE_KIND:
                form.put(other, form.ask(other).start)
            self._details.refresh()
            self._end.refresh()
        elif name == "known":
            self._view.write("whom", form["known"])
            # A name that is typed over is chosen no more when this is drawn anew.
            form.put("known", "")

    def _draw_details(self) -> ft.Control:
        kind, drawn = kind_of(self._form["kind"]), self._view.control
        if kind is None:
            return ft.Container()
        is_self, is_told = kind is AnswerKind.AM_VETERINARIAN, kind is AnswerKind.TOLD
        has_known = bool(self._form.ask("known").choices)
        whom = ("known", "whom", "how") if has_known else ("whom", "how")
        instruction = drawn("instruction")
        if is_self:
            self._view.fields["instruction"].entry.label = "What I do"
        return stack(
            *(in_its_place(drawn(name), not is_self) for name in whom),
            in_its_place(instruction, is_self or is_told),
            in_its_place(drawn("read-back"), is_told),
            *([] if is_self else [self._when()]),
        )

    def _draw_end(self) -> ft.Control:
        if kind_of(self._form["kind"]) is None:
            return ft.Container()
        label = "Save this answer"
        return button(
            "urgent-answer-save", label, self._save, kind="main", size="hands"
        )

    def _when(self) -> ft.Control:
        is_asked = [self._form["when"] != self._form.ask("when").start]

        def draw() -> ft.Control:
            if is_asked[0]:
                return self._view.control("when")
            return button("urgent-when", "It was not just now", ask, kind="quiet")

        def ask() -> None:
            is_asked[0] = True
            slot.refresh()

        slot = Slot(draw)
        return slot.control

    async def _save(self) -> None:
        editor, entry, texts = self._editor, self._entry, self._form.values()

        def made(exam: Exam, edit: Edit) -> Exam:
            answer = to_answer(texts, edit.by, edit.by.entered)
            return answered(exam, entry.entry_id, answer)

        if await change(self._tab.session, editor, made, f"{entry.label}: answered"):
            self._form.drop()
            await self._own.show_anew()
            self._tab.tell(f"{entry.label}: answer saved.")


def _large(text: str) -> ft.Control:
    return ft.Row(
        [ft.Icon(ft.Icons.PHONE), ft.Container(strong(text), expand=True)], spacing=12
    )


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
            text = f"URGENT, not yet told: {row.name}: {'; '.join(labels)}"
            name, go = for_choice("urgent-answer", exam_id), tab.way(f"/exam/{exam_id}")
            action = banner_button(name, text, go)
            around = for_choice("urgent-banner", exam_id)
            shown.append(identified(around, action, live=True))
    return shown


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
            open_bites(tab, editor)

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

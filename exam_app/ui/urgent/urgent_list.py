"""Urgent signs noted: the banner, and the answer: who was told, or why not."""

from collections.abc import Mapping
from typing import Any

import flet as ft

from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.exam_sessions import change, typed_in
from exam_app.app.forms.form import Form
from exam_app.app.view.urgent_presenter import (
    answer_asks,
    answered,
    answered_text,
    banner_text,
    clinic_line,
    kind_of,
    to_answer,
)
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.urgent import AnswerKind, UrgentEntry
from exam_app.domain.wording.exam_wording import sign_words
from exam_app.domain.wording.source_words import cited
from exam_app.language.catalogue import tr
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.urgent.telephone import open_telephone, telephone_button
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.exam_parts import banner_button
from exam_app.ui.widgets.flags import source_note
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import in_its_place, quiet, stack, strong

# Asked anew when another kind of answer is chosen; names and words stay.
_OF_ONE_KIND = ("how", "read-back", "when")


def open_urgent_list(tab: Tab, editor: ExamEditor) -> None:
    """Offer the unanswered signs; a single one opens its answer at once."""
    waiting = editor.view.urgent.unanswered
    if len(waiting) == 1:
        open_urgent_answer(tab, editor, waiting[0].entry_id)
        return
    rows = [_waiting_line(tab, editor, entry) for entry in editor.exam.urgent]
    tab.open_sheet(tr("Urgent signs"), stack(*rows, spacing=8))


def open_urgent_answer(tab: Tab, editor: ExamEditor, entry_id: str) -> None:
    """Open the answer sheet of one urgent sign."""
    entry = next((e for e in editor.exam.urgent if e.entry_id == entry_id), None)
    if entry is not None:
        _AnswerSheet(tab, editor, entry).open()


def _waiting_line(tab: Tab, editor: ExamEditor, entry: UrgentEntry) -> ft.Control:
    def chosen() -> None:
        open_urgent_answer(tab, editor, entry.entry_id)

    name = for_choice("urgent-sheet", entry.entry_id)
    label = f"{sign_words(entry)}\n{answered_text(entry)}"
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
            typed=typed_in(tab.session, editor, place, sign_words(entry)),
            is_by_name=True,
        )
        if self._form["kind"] not in dict(self._form.ask("kind").choices):
            self._form.put("kind", "")
        self._view = FormView(self._form, on_change=self._changed, size="hands")
        self._details = Slot(self._draw_details)
        # At the foot of the sheet: below all that one kind asks it was out of sight.
        self._end = Slot(self._draw_end)

    def open(self) -> None:
        """Lay the sheet over the screen."""
        entry, settings = self._entry, self._tab.vault.settings
        clinic = clinic_line(
            settings.get("practice", ""), settings.get("clinic_phone", "")
        )
        notice = tr("URGENT.")
        if entry.action:
            notice = tr("URGENT. {action}", action=tr(entry.action))
        self._own.open(
            sign_words(entry),
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
            self._view.fields["instruction"].entry.label = tr("What I do")
        return stack(
            *(in_its_place(drawn(name), not is_self) for name in whom),
            in_its_place(instruction, is_self or is_told),
            in_its_place(drawn("read-back"), is_told),
            *([] if is_self else [self._when()]),
        )

    def _draw_end(self) -> ft.Control:
        if kind_of(self._form["kind"]) is None:
            return quiet(tr("Say which; then it is saved here."))
        label = tr("Save this answer")
        return button(
            "urgent-answer-save", label, self._save, kind="main", size="hands"
        )

    def _when(self) -> ft.Control:
        is_asked = [self._form["when"] != self._form.ask("when").start]

        def draw() -> ft.Control:
            if is_asked[0]:
                return self._view.control("when")
            return button("urgent-when", tr("It was not just now"), ask, kind="quiet")

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

        label = sign_words(entry)
        name = tr("{sign}: answered", sign=label)
        if await change(self._tab.session, editor, made, name):
            self._form.drop()
            await self._own.show_anew()
            self._tab.tell(tr("{sign}: answer saved.", sign=label))


def _large(text: str) -> ft.Control:
    return ft.Row(
        [ft.Icon(ft.Icons.PHONE), ft.Container(strong(text), expand=True)], spacing=12
    )


def banner_slot(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Make the banner of an exam's own screens; it appears with the first sign."""

    def draw() -> ft.Control:
        waiting = editor.view.urgent.unanswered
        if not waiting:
            return ft.Container()

        def answer() -> None:
            open_urgent_list(tab, editor)

        text = tr("{untold}. Say who was told", untold=banner_text(waiting))
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
            text = tr(
                "URGENT, not yet told: {name}: {signs}",
                name=row.name,
                signs="; ".join(labels),
            )
            name, go = for_choice("urgent-answer", exam_id), tab.way(f"/exam/{exam_id}")
            action = banner_button(name, text, go)
            around = for_choice("urgent-banner", exam_id)
            shown.append(identified(around, action, live=True))
    return shown


def _waiting(tab: Tab, exam_id: str) -> list[str]:
    known = tab.session.editors.get(exam_id)
    if known is not None:
        return [sign_words(entry) for entry in known.view.urgent.unanswered]
    draft: Mapping[str, Any] = tab.vault.drafts.get(exam_id) or {}
    return [
        tr(label) if entry.get("sign_id") or entry.get("origin") else label
        for entry in draft.get("urgent", ())
        if not entry.get("answers") and (label := str(entry.get("label")))
    ]

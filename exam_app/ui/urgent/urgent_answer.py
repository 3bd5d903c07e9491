"""The answer to an urgent sign: who was told, how, what they said, or why not."""

from dataclasses import replace

import flet as ft

from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.exam_sessions import change, typed_in
from exam_app.app.typed_entries import Typed
from exam_app.app.view.urgent_presenter import (
    HOW,
    WHEN,
    AnswerForm,
    answered_text,
    clinic_line,
    to_answer,
)
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.urgent import AnswerKind, UrgentEntry
from exam_app.domain.exam.urgent_transitions import answer_urgent
from exam_app.domain.wording.source_words import cited
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, pick
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.flags import source_note
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, side_by_side, stack, strong

_KINDS = (
    (AnswerKind.TOLD, "Told"),
    (AnswerKind.TRIED, "Tried, not reached"),
    (AnswerKind.AM_VETERINARIAN, "I am the veterinarian"),
)


def open_urgent_list(tab: Tab, editor: ExamEditor) -> None:
    """Offer the unanswered signs; a single one opens its answer at once."""
    waiting = editor.view.urgent.unanswered
    if len(waiting) == 1:
        open_urgent_answer(tab, editor, waiting[0].entry_id)
        return
    rows = [_waiting(tab, editor, entry) for entry in editor.exam.urgent]
    tab.open_sheet("Urgent signs", stack(*rows, spacing=8))


def open_urgent_answer(tab: Tab, editor: ExamEditor, entry_id: str) -> None:
    """Open the answer sheet of one urgent sign."""
    entry = next((e for e in editor.exam.urgent if e.entry_id == entry_id), None)
    if entry is not None:
        _AnswerSheet(tab, editor, entry).open()


def _waiting(tab: Tab, editor: ExamEditor, entry: UrgentEntry) -> ft.Control:
    def chosen() -> None:
        open_urgent_answer(tab, editor, entry.entry_id)

    name = for_choice("urgent-sheet", entry.entry_id)
    label = f"{entry.label}\n{answered_text(entry)}"
    return pick(
        name, label, chosen, is_chosen=entry.is_answered, is_row=True, size="hands"
    )


def _in_its_place(control: ft.Control, is_asked: bool) -> ft.Control:
    """Return a control, or the room of one that is not asked: nothing below moves."""
    if is_asked:
        return control
    return ft.Container(control, opacity=0, disabled=True, ignore_interactions=True)


class _AnswerSheet:
    """One answer being given."""

    def __init__(self, tab: Tab, editor: ExamEditor, entry: UrgentEntry) -> None:
        self._tab, self._editor, self._entry = tab, editor, entry
        self._typed = typed_in(
            tab.session, editor, f"answer-{entry.entry_id}", entry.label
        )
        self._form = _begun(self._typed)
        self._details = Slot(self._draw_details)

    def open(self) -> None:
        """Lay the sheet over the screen."""
        settings = self._tab.vault.settings
        clinic = clinic_line(
            settings.get("practice", ""), settings.get("clinic_phone", "")
        )
        notice = f"URGENT. {self._entry.action}" if self._entry.action else "URGENT."
        controls: list[ft.Control] = [
            banner("urgent-sheet", notice, Tone.URGENT),
            identified("urgent-clinic", _large(clinic)),
        ]
        if self._entry.note:
            controls.append(quiet(self._entry.note))
        if self._entry.is_answered:
            controls.append(quiet(answered_text(self._entry)))
        row = ChoiceRow(
            "urgent-kind",
            [(kind.name.lower().replace("_", "-"), label) for kind, label in _KINDS],
            self._choose,
            self._form.kind.name.lower().replace("_", "-") if self._form.kind else None,
            size="hands",
        )
        self._tab.open_sheet(
            self._entry.label,
            *controls,
            row.control,
            self._details.control,
            *self._source(),
            typed=self._typed,
            grows=True,
        )

    def _source(self) -> list[ft.Control]:
        sign = self._editor.protocol.sign(self._entry.sign_id)
        if sign is None:
            return []
        about = cited(self._editor.protocol, sign.every_source())
        return [source_note("urgent", (about,))]

    def _note(self) -> None:
        """Keep what is chosen and typed until the answer is saved."""
        form = self._form
        self._typed.note("kind", form.kind.name if form.kind else "")
        self._typed.note("how", form.how)
        self._typed.note("whom", form.whom)
        self._typed.note("instruction", form.instruction)

    async def _choose(self, key: str) -> None:
        kind = AnswerKind[key.upper().replace("-", "_")]
        self._form = AnswerForm(
            kind, whom=self._form.whom, instruction=self._form.instruction
        )
        self._note()
        self._details.refresh()

    def _draw_details(self) -> ft.Control:
        kind = self._form.kind
        if kind is None:
            return ft.Container()
        is_self, is_told = kind is AnswerKind.AM_VETERINARIAN, kind is AnswerKind.TOLD
        save = button(
            "urgent-answer-save",
            "Save this answer",
            self._save,
            kind="main",
            size="hands",
        )
        return stack(
            *(_in_its_place(control, not is_self) for control in self._whom()),
            _in_its_place(self._how(), not is_self),
            _in_its_place(self._instruction(), is_self or is_told),
            _in_its_place(self._read_back(), is_told),
            save,
            *([] if is_self else [self._when()]),
        )

    def _whom(self) -> list[ft.Control]:
        async def typed(event: ft.Event[ft.TextField]) -> None:
            self._form = replace(self._form, whom=event.control.value or "")
            self._note()

        field = text_field(
            "urgent-whom",
            "Name of the veterinarian",
            value=self._form.whom,
            on_change=typed,
        )

        async def known(name: str) -> None:
            self._form = replace(self._form, whom=name)
            self._note()
            field.entry.value = name
            field.entry.update()

        names = [
            person["name"]
            for person in self._tab.vault.people.all()
            if person.get("role") == Role.VETERINARIAN.value
        ]
        if not names:
            return [field.control]
        group = for_choice("urgent-whom", "known")
        row = ChoiceRow(group, [(name, name) for name in names], known, size="hands")
        return [row.control, field.control]

    def _how(self) -> ft.Control:
        async def chosen(key: str) -> None:
            self._form = replace(self._form, how=key)
            self._note()

        return ChoiceRow(
            "urgent-how", HOW, chosen, self._form.how or None, size="hands"
        ).control

    def _when(self) -> ft.Control:
        async def chosen(key: str) -> None:
            self._form = replace(self._form, minutes_ago=int(key))

        def draw() -> ft.Control:
            if not is_asked:
                later = "It was not just now"
                return button("urgent-when", later, ask, kind="quiet")
            return ChoiceRow(
                "urgent-when",
                [(str(minutes), label) for minutes, label in WHEN],
                chosen,
                chosen=str(self._form.minutes_ago),
                size="hands",
            ).control

        def ask() -> None:
            is_asked.append(True)
            slot.refresh()

        is_asked: list[bool] = []
        slot = Slot(draw)
        return slot.control

    def _instruction(self) -> ft.Control:
        async def typed(event: ft.Event[ft.TextField]) -> None:
            self._form = replace(self._form, instruction=event.control.value or "")
            self._note()

        is_self = self._form.kind is AnswerKind.AM_VETERINARIAN
        return text_field(
            "urgent-instruction",
            "What I do" if is_self else "What was instructed",
            value=self._form.instruction,
            lines=2,
            on_change=typed,
        ).control

    def _read_back(self) -> ft.Control:
        def draw() -> ft.Control:
            return side_by_side(
                pick(
                    "urgent-read-back",
                    "Instruction read back",
                    toggled,
                    is_chosen=self._form.was_read_back,
                    size="hands",
                )
            )

        async def toggled() -> None:
            read_back = not self._form.was_read_back
            self._form = replace(self._form, was_read_back=read_back)
            slot.refresh()

        slot = Slot(draw, in_place=True)
        return slot.control

    async def _save(self) -> None:
        editor, entry_id = self._editor, self._entry.entry_id
        form = self._form

        def made(exam: Exam, edit: Edit) -> Exam:
            answer = to_answer(form, edit.by, edit.by.entered)
            return answer_urgent(exam, entry_id, answer)

        if await change(
            self._tab.session, editor, made, f"{self._entry.label}: answered"
        ):
            self._typed.drop()
            self._tab.close_sheet()
            await self._tab.redraw()
            self._tab.tell(f"{self._entry.label}: answer saved.")


def _begun(typed: Typed) -> AnswerForm:
    """Return the answer as it was left, or an empty one."""
    kind = typed.value("kind")
    return AnswerForm(
        AnswerKind[kind] if kind in AnswerKind.__members__ else None,
        whom=typed.value("whom"),
        how=typed.value("how"),
        instruction=typed.value("instruction"),
    )


def _large(text: str) -> ft.Control:
    return ft.Row(
        [ft.Icon(ft.Icons.PHONE), ft.Container(strong(text), expand=True)], spacing=12
    )

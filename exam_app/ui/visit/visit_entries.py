"""Lists of the visit: what was given, done and sampled, each entry added on its own.

An entry is kept by its button, whole; one recorded by mistake is taken back while
the exam is open. Nothing is calculated and no drug is proposed.
"""

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor, change_maker
from exam_app.app.forms import visit_forms
from exam_app.app.view.visit_presenter import Part, part_card
from exam_app.domain.exam import visit_transitions as transitions
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.people import Role
from exam_app.domain.wording.visit_wording import DRUG_LOG_NOTE
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.visit.visit_form import VisitForm
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, strong

_ADD = {
    Part.GIVEN: "Add what was given",
    Part.PROCEDURES: "Add what was done",
    Part.SAMPLES: "Add this sample or test",
}


def open_entries(tab: Tab, editor: ExamEditor, part: Part) -> None:
    """Open the list of one part, with the form for one more."""
    words = words_for(editor.exam)
    asks = _asks(tab, editor, part)
    typed = exam_sessions.typed_in(tab.session, editor, part.key, part.title(words))
    form = VisitForm(asks, {ask.name: "" for ask in asks}, words, typed=typed)
    said: list[str] = []
    problem = Slot(lambda: _problem(said))

    async def add() -> None:
        texts = form.said()
        said[:] = [visit_forms.problem_of(asks, texts, editor.now())]
        problem.refresh()
        if said[0]:
            return
        name = f"{part.title(words)}: {texts[asks[0].name]}"
        if await exam_sessions.change(tab.session, editor, _adding(part, texts), name):
            typed.drop()
            tab.close_sheet()

    tab.open_sheet(
        part.title(words),
        *([quiet(DRUG_LOG_NOTE)] if part is Part.GIVEN else []),
        *entry_lines(tab, editor, part),
        *form.controls(),
        problem.control,
        button("visit-save", _ADD[part], add, kind="main", size="exam"),
        typed=typed,
        grows=True,
    )


def entry_lines(tab: Tab, editor: ExamEditor, part: Part) -> list[ft.Control]:
    """Show what is recorded, each line with the way to take it back."""
    lines = part_card(editor.exam, part, exam_sessions.person_now(tab.session)).lines
    if not lines:
        return []
    return [
        strong("Recorded"),
        *(_line(tab, editor, part, place, text) for place, text in enumerate(lines)),
        ft.Divider(),
    ]


def _line(
    tab: Tab, editor: ExamEditor, part: Part, place: int, text: str
) -> ft.Control:
    async def taken() -> None:
        made = taking_back(part.follows, place)
        if await exam_sessions.change(tab.session, editor, made, f"{text}: taken back"):
            open_entries(tab, editor, part)

    name = for_choice("visit-take-back", str(place))
    row = ft.Row(
        [
            ft.Container(paragraph(text), expand=True),
            button(
                name, "Take this back", taken, kind="icon", icon=ft.Icons.DELETE_OUTLINE
            ),
        ]
    )
    return identified(for_choice("visit-line", str(place)), row)


@change_maker
def taking_back(exam: Exam, _edit: Edit, field: str, place: int) -> Exam:
    """Drop one entry of a list."""
    return transitions.take_back(exam, field, place)


def _asks(tab: Tab, editor: ExamEditor, part: Part) -> tuple[visit_forms.Ask, ...]:
    if part is Part.PROCEDURES:
        return visit_forms.PROCEDURE
    if part is Part.SAMPLES:
        return visit_forms.SAMPLE
    people = tab.vault.people.all()
    names = [p["name"] for p in people if p["role"] == Role.VETERINARIAN.value]
    return visit_forms.given_asks(editor.exam.animal.species, editor.now(), names)


@change_maker
def _adding(exam: Exam, edit: Edit, part: Part, texts: dict[str, str]) -> Exam:
    by = edit.by
    if part is Part.PROCEDURES:
        return transitions.record_visit(exam, visit_forms.procedure_said(texts, by))
    if part is Part.SAMPLES:
        return transitions.record_visit(exam, visit_forms.sample_said(texts, by))
    given = visit_forms.given_said(texts, by, by.entered)
    return transitions.record_visit(exam, given)


def _problem(said: list[str]) -> ft.Control:
    if not said or not said[0]:
        return ft.Container()
    name = for_choice("visit", "problem")
    return banner(name, said[0], Tone.NOTICE)

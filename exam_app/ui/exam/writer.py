"""Who writes the exam down, where that is somebody else than the examiner."""

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.people_shapes import person_of
from exam_app.app.writers import keep_writer
from exam_app.domain.exam.people import Person
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, quiet


def writer_line(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Show who writes, and offer to change it."""

    def ask() -> None:
        _ask(tab, editor)

    def draw() -> ft.Control:
        writer = editor.view.people.scribe
        label = f"{writer} writes" if writer else "Somebody else writes …"
        return across(
            button("exam-writer", label, ask, icon=ft.Icons.EDIT, kind="tile")
        )

    return Slot(draw, editor.view.people).control


def _ask(tab: Tab, editor: ExamEditor) -> None:
    people = [person_of(fields) for fields in tab.vault.people.all()]
    others = [p for p in people if p.person_id != tab.person["person_id"]]
    tab.open_sheet(
        "Who writes this exam down?",
        quiet("Each entry names who examined and who wrote."),
        _choice(tab, editor, None),
        *(_choice(tab, editor, person) for person in others),
    )


def _choice(tab: Tab, editor: ExamEditor, person: Person | None) -> ft.Control:
    async def chosen() -> None:
        editor.change_people(editor.examiner, person)
        tab.close_sheet()
        exam_id = editor.exam.exam_id
        await tab.save(lambda: keep_writer(tab.vault, exam_id, person))

    is_now = person == editor.scribe
    name = for_choice("exam-writer", person.person_id if person else "examiner")
    label = person.name if person else "The examiner"
    icon = ft.Icons.CHECK if is_now else None
    return across(button(name, label, chosen, icon=icon, kind="tile"))

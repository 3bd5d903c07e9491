"""A private note of suspected abuse or neglect: facts, for the veterinarian only."""

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor, change_maker
from exam_app.app.forms.form import Ask, Form
from exam_app.app.view.visit_presenter import Part, notes_for
from exam_app.domain.exam import visit_transitions as transitions
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.visit import PrivateNote
from exam_app.domain.wording.exam_wording import person_name
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.visit.visit_sheet import entry_line, taking_back
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import banner
from exam_app.ui.widgets.texts import paragraph, quiet, stack

WHO_READS = (
    "For suspected abuse or neglect. The veterinarian reads it, and you until the exam "
    "is closed. It stands on no card, no copy and no sheet for the owner. Roles are "
    "what people say they are, not a lock: whoever holds this device and chooses a "
    "veterinarian can read it."
)
HOW = "Write what you saw and were told, with place and size. Leave out what you think."

_NOTE = Ask(
    "note",
    "Facts",
    hint=HOW,
    lines=3,
    required="Write what was seen.",
    identifier="private-note",
)


def open_private(tab: Tab, editor: ExamEditor) -> None:
    """Open the notes the present person may read, and the field for one more."""
    title = Part.PRIVATE.title(exam_sessions.person_now(tab.session).role)
    # Nobody else's words: another person at this device does not begin with them.
    mine = f"private-{exam_sessions.person_now(tab.session).person_id}"
    typed = exam_sessions.typed_in(tab.session, editor, mine, title)
    view = FormView(Form((_NOTE,), typed=typed))

    async def save() -> None:
        if view.is_complete():
            # What undo names is shown on screens: it never holds the note.
            made = _adding(view.form["note"])
            await tab.change_and_close(editor, made, "Private note", typed)

    tab.open_sheet(
        title,
        banner(for_choice("private-note", "who"), WHO_READS),
        *_known(tab, editor),
        *view.controls(),
        button(
            "private-note-save",
            "Keep this private note",
            save,
            kind="main",
            size="exam",
        ),
        typed=typed,
    )


def _known(tab: Tab, editor: ExamEditor) -> list[ft.Control]:
    shown = notes_for(editor.exam, exam_sessions.person_now(tab.session))
    return [
        _line(tab, editor, place, note)
        for place, note in enumerate(editor.exam.private_notes)
        if note in shown
    ]


def _line(tab: Tab, editor: ExamEditor, place: int, note: PrivateNote) -> ft.Control:
    async def taken() -> None:
        made = taking_back(Part.PRIVATE.follows, place)
        if await exam_sessions.change(
            tab.session, editor, made, "Private note taken back"
        ):
            open_private(tab, editor)

    name = person_name(editor.exam, note.attribution.examined_by)
    written = f"{name}, {note.attribution.entered.clock()}"
    texts = stack(paragraph(note.text), quiet(written), spacing=2)
    name = for_choice("private-note-line", str(place))
    return entry_line(name, texts, place, taken)


@change_maker
def _adding(exam: Exam, edit: Edit, text: str) -> Exam:
    return transitions.record_visit(exam, PrivateNote(text, edit.by))

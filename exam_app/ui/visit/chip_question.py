"""Ask about a scanned number that is not the animal's; nothing changes by itself."""

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms import scan_form
from exam_app.app.queries import animals as animal_queries
from exam_app.domain.exam import visit_transitions as transitions
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import Tone, banner


def ask_about_number(tab: Tab, editor: ExamEditor) -> None:
    """Say that a scanned number is not the animal's; change it only when told to."""
    number, question = scan_form.question_about(editor.exam)
    if not number:
        return

    async def keep() -> None:
        if not await exam_sessions.change(
            tab.session,
            editor,
            lambda exam, _: transitions.keep_chip(exam, number),
            "Chip number of the animal",
        ):
            return
        animal, owner = animal_queries.fetch(tab.session, editor.exam.animal.animal_id)
        changed = transitions.with_chip(animal, number)
        await animal_queries.keep(tab.session, changed, owner)
        tab.close_sheet()

    tab.open_sheet(
        "Chip number",
        banner("scan-differs", question, Tone.NOTICE),
        button("scan-keep", "Keep it on the animal", keep, kind="main", size="exam"),
        button(
            for_choice("scan-keep", "not"),
            "Change nothing",
            tab.close_sheet,
            size="exam",
        ),
    )

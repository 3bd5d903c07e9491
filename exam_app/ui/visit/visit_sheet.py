"""Say something of the visit: presentation, intake, bites, plan, care.

Every field is kept when it is left; the button keeps all and goes back.
"""

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor, change_maker
from exam_app.app.examiner_bitten import with_examiners_name
from exam_app.app.forms import visit_forms
from exam_app.app.view.visit_presenter import Part
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.ui.exam import handling_warnings
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.visit.visit_form import VisitForm
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.texts import quiet

_REMARKS = {
    Part.DANGERS: "It stands above every screen of this exam, beside the part it "
    "names, and on every later exam of this animal.",
    Part.BITE: "What you say here stays on every view of this animal.",
    Part.CARE: "What you say here stands on the kennel card.",
    Part.PRESENTATION: "The owner's name and address belong to the animal, not here.",
}


def open_whole(tab: Tab, editor: ExamEditor, part: Part) -> None:
    """Open the sheet of one part."""
    asks = _asks(tab, editor, part)
    words = words_for(editor.exam)
    title = part.title(words)
    typed = exam_sessions.typed_in(tab.session, editor, part.key, title)
    texts = visit_forms.texts_of(getattr(editor.exam, part.follows), asks)

    async def keep() -> bool:
        said = visit_forms.whole_said(editor.exam, part.follows, form.said())
        before = getattr(editor.exam, part.follows)
        nothing_new = before is None and not any(form.said().values())
        is_changed = before != said and not nothing_new
        if is_changed and not await _keep(tab, editor, part, form.said()):
            return False
        typed.drop()
        return True

    async def left() -> None:
        await keep()

    async def done() -> None:
        problem = visit_forms.nobody_bitten(form.said()) if part is Part.BITE else ()
        if problem and form.show_problem(*problem):
            return
        if await keep():
            tab.close_sheet()

    form = VisitForm(asks, texts, words, left, typed)
    remark = _REMARKS.get(part)
    tab.open_sheet(
        title,
        *([quiet(remark)] if remark else []),
        *form.controls(),
        button("visit-save", "Done", done, kind="main", size="exam"),
        typed=typed,
        grows=True,
    )


def _asks(tab: Tab, editor: ExamEditor, part: Part) -> tuple[visit_forms.Ask, ...]:
    if part is Part.PLAN:
        return visit_forms.plan_asks(exam_sessions.person_now(tab.session).role)
    return {
        Part.DANGERS: visit_forms.DANGERS,
        Part.PRESENTATION: visit_forms.PRESENTATION,
        Part.INTAKE: visit_forms.INTAKE,
        Part.BITE: visit_forms.bite_asks(editor.exam),
        Part.CARE: visit_forms.CARE,
    }[part]


async def _keep(
    tab: Tab, editor: ExamEditor, part: Part, texts: dict[str, str]
) -> bool:
    """Say it in the exam, and of the animal itself what every later exam needs."""
    title = part.title(words_for(editor.exam))
    if not await exam_sessions.change(tab.session, editor, _saying(part, texts), title):
        return False
    if part is Part.DANGERS:
        await handling_warnings.keep(tab, editor.exam.animal)
    return True


@change_maker
def _saying(exam: Exam, edit: Edit, part: Part, texts: dict[str, str]) -> Exam:
    said = visit_forms.whole_said(exam, part.follows, texts)
    if part is Part.BITE:
        said = with_examiners_name(exam, said, edit.by)
    return record_visit(exam, said)

"""Say of each bite who, when, what was done and who was told, a block for each person.

Every field is kept when it is left; the button keeps all and goes back.
"""

from functools import partial

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor, change_maker
from exam_app.app.forms.bite_form import bites_asked
from exam_app.app.forms.form import Form
from exam_app.app.region_changes import with_examiners_name
from exam_app.app.view.visit_presenter import Part
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.visit import BiteHistory
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.texts import across, quiet

_REMARK = to_translate("What you say here stays on every view of this animal.")


def open_bites(tab: Tab, editor: ExamEditor, more: str = "") -> None:
    """Open every bite of an exam.

    Args:
        more: A further one is asked for: ``other`` or ``own``.
    """
    words, part = words_for(editor.exam), Part.BITE
    title = tr(part.title(words))
    typed = exam_sessions.typed_in(tab.session, editor, part.key, title)
    words_kept = typed.entries.words(typed.place).items()
    known = {name.removeprefix("bite-field-"): text for name, text in words_kept}
    asked = bites_asked(editor.exam.bite, editor.now(), known, more)
    form = Form(asked.asks, "bite-field", asked.texts(), typed=typed)
    view = FormView(form, words, size="hands")

    async def keep() -> bool:
        said, before = asked.said(form.values()), editor.exam.bite or BiteHistory()
        said = with_examiners_name(editor.exam, said, editor.attribution())
        if said != before and not await exam_sessions.change(
            tab.session, editor, _saying(said), title
        ):
            return False
        form.drop()
        return True

    def is_said() -> bool:
        return not view.show_problem(*asked.nobody_bitten(form.values()))

    async def done() -> None:
        sheet = tab.sheet
        if is_said() and await keep():
            tab.close_only(sheet)

    async def further(whom: str) -> None:
        sheet = tab.sheet
        if is_said() and await keep() and tab.sheet is sheet:
            open_bites(tab, editor, whom)

    more_labels = (("other", tr("It bit somebody else too")), ("own", tr("It bit me")))
    buttons = [
        button(f"bite-{whom}", label, partial(further, whom), kind="tile", size="hands")
        for whom, label in more_labels
    ]
    view.on_left = keep
    tab.open_sheet(
        title,
        quiet(tr(_REMARK)),
        *view.controls(),
        evenly(buttons),
        across(button("bite-save", tr("Done"), done, kind="lead", size="hands")),
        typed=typed,
        grows=True,
    )


@change_maker
def _saying(exam: Exam, _edit: Edit, said: BiteHistory) -> Exam:
    return record_visit(exam, said)

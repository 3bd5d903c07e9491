"""Say something of the visit: as a whole, or one entry more of a list.

Of a whole part every field is kept when it is left; the button keeps all and goes
back. An entry is kept by its button, whole; one recorded by mistake is taken back while
the exam is open. Nothing is calculated and no drug is proposed. A private note of
suspected abuse or neglect holds facts, for the veterinarian only.
"""

from collections.abc import Sequence

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Edit, ExamEditor, change_maker
from exam_app.app.forms import visit_forms
from exam_app.app.forms.form import Ask, Form
from exam_app.app.queries.given_recently import keep_given
from exam_app.app.view.visit_presenter import ASKS, Part, notes_for, part_card
from exam_app.domain.exam import visit_transitions as transitions
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.visit import PrivateNote
from exam_app.domain.wording.exam_wording import person_name
from exam_app.domain.wording.visit_wording import DRUG_LOG_NOTE
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.exam import handling_warnings
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.visit.given_sheet import given_controls
from exam_app.ui.widgets.buttons import OnClick, button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import ProblemNotice, banner
from exam_app.ui.widgets.texts import across, paragraph, quiet, stack, strong

_REMARKS = {
    Part.DANGERS: to_translate(
        "It stands above every screen of this exam, beside the part it "
        "names, and on every later exam of this animal."
    ),
    Part.CARE: to_translate("What you say here stands on the kennel card."),
    Part.PRESENTATION: to_translate(
        "The owner's name and address belong to the animal, not here."
    ),
    Part.GIVEN: DRUG_LOG_NOTE,
}
_SHORT = (Part.PROCEDURES, Part.PLAN, Part.CARE, Part.DANGERS)
_ADD = {
    Part.GIVEN: to_translate("Add what was given"),
    Part.PROCEDURES: to_translate("Add what was done"),
    Part.SAMPLES: to_translate("Add this sample or test"),
}


def open_whole(tab: Tab, editor: ExamEditor, part: Part) -> None:
    """Open the sheet of a part that is said as a whole."""
    view = _form(tab, editor, part)
    form = view.form

    async def keep() -> bool:
        texts = form.values()
        now = visit_forms.whole_said(editor.exam, part.follows, texts)
        before = getattr(editor.exam, part.follows)
        nothing_new = before is None and not any(texts.values())
        is_changed = before != now and not nothing_new
        if is_changed and not await _keep(tab, editor, part, texts):
            return False
        form.drop()
        return True

    async def done() -> None:
        sheet = tab.sheet
        if await keep():
            tab.close_only(sheet)

    view.on_left = keep
    end = button("visit-save", tr("Done"), done, kind="lead", size="hands")
    _open(tab, part, *view.controls(), view=view, end=[across(end)])


def open_entries(tab: Tab, editor: ExamEditor, part: Part) -> None:
    """Open the list of one part, with the form for one more."""
    view, problem = _form(tab, editor, part), ProblemNotice("visit-problem")
    asks, species = view.form.asks, editor.exam.animal.species
    is_given = part is Part.GIVEN
    fields = given_controls(tab, species, view) if is_given else view.controls()

    async def add() -> None:
        texts = view.form.values()
        if problem.say(visit_forms.problem_of(asks, texts, editor.now())):
            return
        first = texts[asks[0].name]
        first = tr(first) if first in asks[0].options else first
        name = f"{tr(part.title(words_for(editor.exam)))}: {first}"
        made, vault = _adding(part, texts), tab.vault
        is_made = await tab.change_and_close(editor, made, name, view.form.typed)
        if is_made and part is Part.GIVEN:
            await tab.save(lambda: keep_given(vault, species, texts))

    end = button("visit-save", tr(_ADD[part]), add, kind="lead", size="hands")
    shown = (*entry_lines(tab, editor, part), *fields)
    _open(tab, part, *shown, view=view, end=[problem.control, across(end)])


def _form(tab: Tab, editor: ExamEditor, part: Part) -> FormView:
    words, asks = words_for(editor.exam), _asks(tab, editor, part)
    # An entry of a list is one more: it begins empty.
    is_whole = part not in _ADD
    whole = getattr(editor.exam, part.follows) if is_whole else None
    said = visit_forms.texts_of(whole, asks) if is_whole else {}
    typed = exam_sessions.typed_in(tab.session, editor, part.key, tr(part.title(words)))
    return FormView(Form(asks, "visit-field", said, typed=typed), words, size="hands")


def _open(
    tab: Tab,
    part: Part,
    *shown: ft.Control,
    view: FormView,
    end: Sequence[ft.Control],
) -> None:
    remark = _REMARKS.get(part)
    # Short ones would stand in two pieces, far apart, in a wide window.
    is_whole = part in _SHORT and tab.is_wide
    tab.open_sheet(
        tr(part.title(view.words)),
        *([quiet(tr(remark))] if remark else []),
        *shown,
        *(end if is_whole else ()),
        typed=view.form.typed,
        grows=True,
        foot=() if is_whole else end,
    )


def _asks(tab: Tab, editor: ExamEditor, part: Part) -> tuple[Ask, ...]:
    if part is Part.PLAN:
        return visit_forms.plan_asks(tab.person.role)
    if part is Part.GIVEN:
        people = tab.vault.people.all()
        names = [p.name for p in people if p.role is Role.VETERINARIAN]
        return visit_forms.given_asks(editor.exam.animal.species, editor.now(), names)
    return ASKS[part]


async def _keep(
    tab: Tab, editor: ExamEditor, part: Part, texts: dict[str, str]
) -> bool:
    """Say it in the exam, and of the animal itself what every later exam needs."""
    title = tr(part.title(words_for(editor.exam)))
    if not await exam_sessions.change(tab.session, editor, _saying(part, texts), title):
        return False
    if part is Part.DANGERS:
        await handling_warnings.keep(tab, editor.exam.animal)
    return True


@change_maker
def _saying(exam: Exam, _edit: Edit, part: Part, texts: dict[str, str]) -> Exam:
    said = visit_forms.whole_said(exam, part.follows, texts)
    return transitions.record_visit(exam, said)


@change_maker
def _adding(exam: Exam, edit: Edit, part: Part, texts: dict[str, str]) -> Exam:
    said = visit_forms.entry_said(part.follows, texts, edit.by)
    return transitions.record_visit(exam, said)


def entry_lines(tab: Tab, editor: ExamEditor, part: Part) -> list[ft.Control]:
    """Show what is recorded, each line with the way to take it back."""
    lines = part_card(editor.exam, part, tab.person).lines
    if not lines:
        return []
    return [
        strong(tr("Recorded")),
        *(_line(tab, editor, part, place, text) for place, text in enumerate(lines)),
        ft.Divider(),
    ]


def _line(
    tab: Tab, editor: ExamEditor, part: Part, place: int, text: str
) -> ft.Control:
    async def taken() -> None:
        made = taking_back(part.follows, place)
        if await exam_sessions.change(
            tab.session, editor, made, tr("{entry}: taken back", entry=text)
        ):
            open_entries(tab, editor, part)

    name = for_choice("visit-line", str(place))
    return entry_line(name, paragraph(text), place, taken)


def entry_line(
    identifier: str, shown: ft.Control, place: int, taken: OnClick
) -> ft.Control:
    """Show what was recorded, with the button that takes it back."""
    name, icon = for_choice("visit-take-back", str(place)), ft.Icons.DELETE_OUTLINE
    back = button(name, tr("Take this back"), taken, kind="icon", icon=icon)
    return identified(identifier, ft.Row([ft.Container(shown, expand=True), back]))


@change_maker
def taking_back(exam: Exam, _edit: Edit, field: str, place: int) -> Exam:
    """Drop one entry of a list."""
    return transitions.take_back(exam, field, place)


WHO_READS = to_translate(
    "For suspected abuse or neglect. The veterinarian reads it, and you until the exam "
    "is closed. It stands on no card, no copy and no sheet for the owner. Roles are "
    "what people say they are, not a lock: whoever holds this device and chooses a "
    "veterinarian can read it."
)
HOW = to_translate(
    "Write what you saw and were told, with place and size. Leave out what you think."
)

_NOTE = Ask(
    "note",
    to_translate("Facts"),
    hint=HOW,
    lines=3,
    required=to_translate("Write what was seen."),
    identifier="private-note",
)


def open_private(tab: Tab, editor: ExamEditor) -> None:
    """Open the notes the present person may read, and the field for one more."""
    title = tr(Part.PRIVATE.title(tab.person.role))
    # Nobody else's words: another person at this device does not begin with them.
    mine = f"private-{tab.person.person_id}"
    typed = exam_sessions.typed_in(tab.session, editor, mine, title)
    view = FormView(Form((_NOTE,), typed=typed))

    async def save() -> None:
        if view.is_complete():
            # What undo names is shown on screens: it never holds the note.
            made = _adding_note(view.form["note"])
            await tab.change_and_close(editor, made, tr("Private note"), typed)

    tab.open_sheet(
        title,
        banner(for_choice("private-note", "who"), tr(WHO_READS)),
        *_known(tab, editor),
        *view.controls(),
        button(
            "private-note-save",
            tr("Keep this private note"),
            save,
            kind="lead",
            size="hands",
        ),
        typed=typed,
    )


def _known(tab: Tab, editor: ExamEditor) -> list[ft.Control]:
    shown = notes_for(editor.exam, tab.person)
    return [
        _note_line(tab, editor, place, note)
        for place, note in enumerate(editor.exam.private_notes)
        if note in shown
    ]


def _note_line(
    tab: Tab, editor: ExamEditor, place: int, note: PrivateNote
) -> ft.Control:
    async def taken() -> None:
        made = taking_back(Part.PRIVATE.follows, place)
        if await exam_sessions.change(
            tab.session, editor, made, tr("Private note taken back")
        ):
            open_private(tab, editor)

    name = person_name(editor.exam, note.attribution.examined_by)
    written = f"{name}, {note.attribution.entered.clock()}"
    texts = stack(paragraph(note.text), quiet(written), spacing=2)
    name = for_choice("private-note-line", str(place))
    return entry_line(name, texts, place, taken)


@change_maker
def _adding_note(exam: Exam, edit: Edit, text: str) -> Exam:
    return transitions.record_visit(exam, PrivateNote(text, edit.by))

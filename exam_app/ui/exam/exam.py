"""The exam from nose to tail: the thumb stays at the foot and the list moves.

One place is current, a part or a vital: its whole sentence stands in the list (beside
it where the window is wide), its answers in the zone at the foot. What is answered
folds to one line, and the next open place comes up.
"""

from functools import partial

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_sessions import keep_writer
from exam_app.app.exam_words import begun_words, exam_subtitle
from exam_app.app.queries.history import read_before
from exam_app.app.view.exam_places import VITALS, next_place, sections
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.domain.protocol.protocol import SCOPE_LABELS
from exam_app.language.catalogue import tr
from exam_app.ui.day import day
from exam_app.ui.exam.exam_foot import exam_shortcuts, low_actions, more_button
from exam_app.ui.exam.exam_panes import ExamPanes
from exam_app.ui.record.record_notes import request_lines
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.shortcuts import Shortcut, answer
from exam_app.ui.urgent import urgent_list
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, quiet


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the list of an open exam."""
    editor = await day.exam_or_day(tab, exam_id)
    if isinstance(editor, Screen):
        return editor
    await read_before(tab.session, editor, tab.person.role)
    before = [quiet(exam_subtitle(editor.exam, editor.protocol)), begun_line(editor)]
    before += _round(tab, editor.exam)
    before += request_lines(tab, editor.exam.animal.animal_id)
    panes = ExamPanes(tab, editor, before, [writer_line(tab, editor)])
    answered, is_low = panes.control(), panes.is_low
    moves = (
        Shortcut("↓", tr("The place below in the list"), partial(panes.go_beside, 1)),
        Shortcut("↑", tr("The place above in the list"), partial(panes.go_beside, -1)),
    )
    keys = exam_shortcuts(tab, editor, panes.go, moves)
    return Screen(
        title=f"{editor.exam.animal.name}, {tr(editor.protocol.label).lower()}",
        subtitle=tr(SCOPE_LABELS[editor.exam.scope]),
        back=_way_back(editor.exam),
        pinned=[urgent_list.banner_slot(tab, editor), panes.strip.control],
        body=[answered],
        actions=(
            low_actions(tab, editor, panes.go)
            if is_low
            else [more_button(tab, editor, panes.go, keys=keys)]
        ),
        progress=panes.strip.progress.control if is_low else None,
        on_key=partial(answer, tab, keys),
        on_shown=panes.show_current,
        on_resize=panes.resized,
        scrolls=False,
        is_dense=True,
        width=None,
        on_person=lambda: editor.change_people(tab.person, editor.scribe),
    )


async def build_vitals(tab: Tab, exam_id: str) -> Screen:
    """Build the list with the first open vital as the current place."""
    editor = await exam_sessions.open_exam(tab.session, exam_id)
    listed = sections(editor.exam, editor.protocol)
    places = next((one.places for one in listed if one.title == VITALS), ())
    if places:
        following = next_place(editor.exam, editor.protocol, places[-1])
        editor.view.current.place = following if following in places else places[0]
    return await build(tab, exam_id)


def _way_back(exam: Exam) -> str:
    """Return where an exam's arrow leads: a group and its animals to their round."""
    of_group = exam.exam_id if exam.animal.is_group else exam.group_exam
    return f"/round/{of_group}" if of_group else "/"


def _round(tab: Tab, exam: Exam) -> list[ft.Control]:
    """Lead from a group's exam, or an animal of it, to the round sheet."""
    route = _way_back(exam)
    if route == "/":
        return []
    return [button("round-sheet", tr("Round sheet"), tab.way(route), kind="main tile")]


def begun_line(editor: ExamEditor) -> ft.Control:
    """Say who began the exam, where another person or another day goes on with it."""

    def draw() -> ft.Control:
        today = editor.now().local().date()
        words = begun_words(editor.exam, editor.examiner, today)
        return banner("exam-begun", words) if words else ft.Container()

    return Slot(draw, editor.view.people, hides_empty=True).control


def writer_line(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Show who writes, and offer to change it."""

    def ask() -> None:
        _ask(tab, editor)

    def draw() -> ft.Control:
        writer = editor.view.people.scribe
        label = (
            tr("{writer} writes", writer=writer)
            if writer
            else tr("Somebody else writes …")
        )
        return across(
            button("exam-writer", label, ask, icon=ft.Icons.EDIT, kind="tile")
        )

    return Slot(draw, editor.view.people).control


def _ask(tab: Tab, editor: ExamEditor) -> None:
    others = [p for p in tab.vault.people.all() if p.person_id != tab.person.person_id]
    tab.open_sheet(
        tr("Who writes this exam down?"),
        quiet(tr("Each entry names who examined and who wrote.")),
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
    label = person.name if person else tr("The examiner")
    icon = ft.Icons.CHECK if is_now else None
    return across(button(name, label, chosen, icon=icon, kind="tile"))

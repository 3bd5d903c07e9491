"""Read an urgent case on the telephone, and record who heard it and when.

In an open exam that answers its signs; a closed record keeps it as a signed note
beside it, since what was signed is never changed.
"""

from collections.abc import Callable

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.clinic.notes import keep_note, write_note
from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.forms.form import Form
from exam_app.app.queries.kept_records import KeptRecord, open_kept
from exam_app.app.typed_entries import Typed
from exam_app.app.view.urgent_presenter import (
    HEARD,
    clinic_line,
    heard_note,
    told_by_telephone,
)
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.spoken import spoken_lines
from exam_app.language.catalogue import in_english, to_translate, tr
from exam_app.record.notes import NoteKind
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.pin import pin_part
from exam_app.ui.widgets.texts import paragraph, quiet, stack, strong

_TITLE = to_translate("Read this on the telephone")


def telephone_button(identifier: str, tapped: Callable[[], object]) -> ft.Control:
    """Lead to what is read on the telephone."""
    icon = ft.Icons.PHONE_IN_TALK
    return button(identifier, tr(_TITLE), tapped, icon=icon, kind="tile", size="hands")


def open_telephone(tab: Tab, editor: ExamEditor) -> None:
    """Open it for an exam that is open: who heard it is told of every open sign."""
    typed = exam_sessions.typed_in(tab.session, editor, "telephone", tr(_TITLE))
    view, own = FormView(Form((HEARD,), "telephone", typed=typed)), OwnSheet(tab)

    async def told() -> None:
        if not view.is_complete():
            return
        whom = view.form[HEARD.name]

        def made(exam: Exam, edit: Edit) -> Exam:
            return told_by_telephone(exam, whom, edit.by)

        name = tr("urgent: told on the telephone")
        if await exam_sessions.change(tab.session, editor, made, name):
            typed.drop()
            await own.show_anew()
            tab.tell(tr("Recorded: {whom} was told on the telephone.", whom=whom))

    save = button(
        "telephone-told", tr("They heard it"), told, kind="main", size="hands"
    )
    _open(own, editor.exam, editor.protocol, view, save)


async def open_telephone_of(tab: Tab, exam_id: str) -> None:
    """Open it for a closed record."""
    kept = await open_kept(tab.session, exam_id)
    if kept is None:
        return
    typed = tab.typed(f"telephone/{exam_id}", tr(_TITLE))
    view, own = FormView(Form((HEARD,), "telephone", typed=typed)), OwnSheet(tab)

    async def told() -> None:
        if view.is_complete():
            await _note(own, kept, view.form[HEARD.name], typed)

    label = tr("They heard it: sign that")
    _open(own, kept.exam, kept.loaded.protocol, view, pin_part(tab, label, told))


async def _note(own: OwnSheet, kept: KeptRecord, whom: str, typed: Typed) -> None:
    tab, now = own.tab, exam_sessions.now()
    with in_english():
        text = heard_note(whom, now)
    note = write_note(
        NoteKind.ADDENDUM,
        kept,
        tab.person,
        now,
        exam_sessions.new_id(),
        text=text,
    )
    await tab.save(lambda: keep_note(tab.vault, note))
    typed.drop()
    await own.show_anew()
    tab.tell(
        tr("Recorded beside the record: {whom} was told on the telephone.", whom=whom)
    )


def _open(
    own: OwnSheet,
    exam: Exam,
    protocol: SpeciesProtocol,
    view: FormView,
    end: ft.Control,
) -> None:
    settings = own.tab.vault.settings
    phone = clinic_line(settings.get("practice", ""), settings.get("clinic_phone", ""))
    lines = spoken_lines(exam, protocol, own.tab.person)
    own.open(
        tr(_TITLE),
        identified("telephone-number", strong(phone)),
        *(
            identified(
                for_choice("telephone-line", str(number)),
                stack(quiet(tr(heading)), paragraph(words), spacing=0),
            )
            for number, (heading, words) in enumerate(lines)
        ),
        *view.controls(),
        end,
        typed=view.form.typed,
        grows=True,
    )

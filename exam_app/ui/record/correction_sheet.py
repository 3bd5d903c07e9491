"""Correct a closed record: change its answers and sign anew, or say it in a note.

Whoever has the role of the closer changes the answers of a record made here; a revision
then stands with what it changed. Anybody else, and everybody at another computer, says
in a signed note what should read otherwise. The record itself stays as it was signed.
"""

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.clinic.notes import keep_note, write_note
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.form import Ask, Form
from exam_app.app.photographs import let_go
from exam_app.app.queries.kept_records import KeptRecord
from exam_app.app.typed_entries import Typed
from exam_app.domain.exam.corrections import (
    begin_correction,
    may_revise,
    said_of,
    statements,
)
from exam_app.domain.exam.exam import Correction
from exam_app.domain.exam.people import Attribution
from exam_app.domain.wording.correction_wording import item_names, item_shown
from exam_app.exchange.signed_notes import is_own_key
from exam_app.language.catalogue import in_english, to_translate, tr
from exam_app.record.notes import NoteKind
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.pin import pin_part
from exam_app.ui.widgets.texts import paragraph, quiet, stack, strong

STAYS = to_translate(
    "The signed record stays as it is; the correction stands beside what it says."
)

_NOT_YOURS = to_translate(
    "The answers of a record are changed on the device that closed it, by the role "
    "that closed it. You can say what should read otherwise."
)

_WRONG = Ask(
    "why",
    to_translate("What is wrong, and why"),
    lines=2,
    required=to_translate("Write what is wrong. It stands beside the correction."),
)
_OTHERWISE = (
    Ask(
        "now",
        to_translate("Should read"),
        lines=2,
        required=to_translate("Write what should stand there."),
    ),
    Ask("why", to_translate("Why")),
)


def correct_button(tab: Tab, kept: KeptRecord) -> ft.Control:
    """Make the way to a correction that every closed record offers."""
    exam_id = kept.exam.exam_id
    is_begun = tab.vault.drafts.get(exam_id) is not None

    async def tapped() -> None:
        if is_begun:
            await tab.go(f"/exam/{exam_id}")
        else:
            open_correction(tab, kept)

    label = tr("Go on with the correction") if is_begun else tr("Add a correction")
    return button("record-correct", label, tapped, icon=ft.Icons.EDIT_NOTE)


def open_correction(tab: Tab, kept: KeptRecord) -> None:
    """Ask how a record is to be corrected."""
    person, label = tab.person, tr("Say it in a signed note")
    in_words = button(
        "correct-words", label, lambda: _open_items(tab, kept), size="exam"
    )
    if not (is_own_key(tab.vault, kept.key_id) and may_revise(kept.exam, person)):
        tab.open_sheet(
            tr("Add a correction"),
            paragraph(tr(STAYS)),
            quiet(tr(_NOT_YOURS)),
            in_words,
        )
        return
    typed = tab.typed(f"correct/{kept.exam.exam_id}", "Correction")
    view, sheet = FormView(Form((_WRONG,), "correct", typed=typed)), OwnSheet(tab)

    async def change() -> None:
        if not view.is_complete():
            return
        now, who = exam_sessions.now(), person.person_id
        by, reason = Attribution(who, who, now, now), view.form["why"]
        draft = begin_correction(kept.exam, kept.exam_hash, reason, by)
        await exam_sessions.keep_new(tab.session, draft, kept.loaded)
        typed.drop()
        await sheet.go(f"/exam/{draft.exam_id}")

    sheet.open(
        tr("Add a correction"),
        paragraph(tr(STAYS)),
        *view.controls(),
        button("correct-answers", tr("Change the answers"), change, kind="lead"),
        in_words,
        typed=typed,
    )


def _open_items(tab: Tab, kept: KeptRecord) -> None:
    # A correction names the item and the words as they are signed.
    said = statements(kept.exam, kept.loaded.protocol)
    names = item_names(kept.loaded.protocol)

    def line(number: int, item: str, words: str) -> ft.Control:
        def chosen() -> None:
            _open_words(tab, kept, number, item, words)

        name = for_choice("correct-item", str(number))
        label = f"{item_shown(item, names)}: {_words_of(kept, words)}"
        return pick(name, label, chosen, is_chosen=False, is_row=True)

    rows = (line(number, *one) for number, one in enumerate(said))
    tab.open_sheet(tr("What should read otherwise?"), stack(*rows, spacing=8))


def _words_of(kept: KeptRecord, words: str) -> str:
    with in_english():
        return said_of(words, kept.exam, kept.loaded.protocol)


def _open_words(tab: Tab, kept: KeptRecord, number: int, item: str, words: str) -> None:
    place = f"correct/{kept.exam.exam_id}/{kept.exam.revision}-{number}"
    typed = tab.typed(place, f"Correction: {item}")
    view, sheet = FormView(Form(_OTHERWISE, "correct", typed=typed)), OwnSheet(tab)

    async def signed() -> None:
        if view.is_complete():
            now, why = view.form["now"], view.form["why"]
            await _sign(sheet, kept, Correction(item, words, now, why), typed)

    sheet.open(
        item_shown(item, item_names(kept.loaded.protocol)),
        strong(tr("Recorded: {words}", words=_words_of(kept, words))),
        *view.controls(),
        pin_part(tab, tr("Sign the correction"), signed),
        typed=typed,
    )


async def _sign(
    sheet: OwnSheet, kept: KeptRecord, correction: Correction, typed: Typed
) -> None:
    tab = sheet.tab
    why = f" {correction.reason}" if correction.reason else ""
    text = (
        f"Correction of {correction.item}. Recorded: {correction.was}. "
        f"Should read: {correction.now}.{why}"
    )
    note = write_note(
        NoteKind.ADDENDUM,
        kept,
        tab.person,
        exam_sessions.now(),
        exam_sessions.new_id(),
        text=text,
        corrections=(correction,),
    )
    await tab.save(lambda: keep_note(tab.vault, note))
    typed.drop()
    await sheet.show_anew()
    tab.tell(tr("The correction is signed. It stands beside the record."))


def drop_part(tab: Tab, editor: ExamEditor) -> list[ft.Control]:
    """Offer to drop a correction that is not signed; the record is as it was."""
    exam = editor.exam
    if not exam.revision:
        return []

    sheet = OwnSheet(tab)

    async def dropped() -> None:
        def put_away() -> None:
            tab.vault.drafts.remove(exam.exam_id)
            let_go(tab.vault, exam.exam_id)

        await tab.save(put_away)
        tab.session.typed.forget_exam(exam.exam_id)
        tab.session.editors.pop(exam.exam_id, None)
        await sheet.go(f"/record/{exam.exam_id}")
        tab.tell(tr("The correction is dropped. The record is as it was."))

    def ask() -> None:
        sheet.open(
            tr("Drop the correction?"),
            paragraph(
                tr("What was changed since it was begun is lost. The record stays.")
            ),
            button("correct-drop", tr("Drop it"), dropped, kind="lead"),
        )

    name, label = for_choice("correct-drop", "ask"), tr("Drop this correction")
    return [button(name, label, ask, icon=ft.Icons.DELETE, kind="quiet")]

"""Acknowledge a record, ask for a re-check, or add a note: each signed by name."""

from exam_app.app.clinic.notes import (
    EmptyNoteError,
    keep_note,
    parts_to_ask_for,
    write_note,
)
from exam_app.app.exam_sessions import new_id, now, person_now
from exam_app.app.queries.kept_records import KeptRecord
from exam_app.record.notes import NoteKind
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.choices import ToggleRow
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.pin import pin_part
from exam_app.ui.widgets.texts import paragraph, strong

_TITLES = {
    NoteKind.ACKNOWLEDGEMENT: "Acknowledge this record",
    NoteKind.RECHECK_REQUEST: "Ask for a re-check",
    NoteKind.ADDENDUM: "Add a note",
}
_MEANING = {
    NoteKind.ACKNOWLEDGEMENT: (
        "It says that you have read exactly this record. It changes nothing in it, "
        "and travels back to the device with the next day pack."
    ),
    NoteKind.RECHECK_REQUEST: (
        "Choose what is to be looked at again, and say why. The device shows it at "
        "this animal's next exam, once it has the day pack."
    ),
    NoteKind.ADDENDUM: (
        "The record itself is never edited. Your words stand beside it, with your "
        "name, and travel back to the device."
    ),
}
_BUTTONS = {
    NoteKind.ACKNOWLEDGEMENT: "Sign: I have read it",
    NoteKind.RECHECK_REQUEST: "Sign and ask",
    NoteKind.ADDENDUM: "Sign the note",
}
_TOLD = {
    NoteKind.ACKNOWLEDGEMENT: "Acknowledged. It goes back with the next day pack.",
    NoteKind.RECHECK_REQUEST: "Re-check asked for. It goes back with the day pack.",
    NoteKind.ADDENDUM: "Note signed. It goes back with the day pack.",
}


def open_note(tab: Tab, kept: KeptRecord, kind: NoteKind) -> None:
    """Open the sheet on which such a note is written and signed."""
    author_id = person_now(tab.session).person_id
    place = f"note/{kept.exam.exam_id}/{kind.name.lower()}-{author_id}"
    typed = tab.typed(place, _TITLES[kind])
    words = text_field(
        "clinic-note-words",
        "Words (may stay empty)" if kind is NoteKind.ACKNOWLEDGEMENT else "Words",
        lines=2,
        typed=typed,
    )
    parts = ToggleRow(
        "clinic-note-parts", parts_to_ask_for(kept.exam, kept.loaded.protocol)
    )
    asks_for = kind is NoteKind.RECHECK_REQUEST
    problem = ProblemNotice("clinic-note-problem")

    async def signed() -> None:
        author, at = person_now(tab.session), now()
        try:
            note = write_note(
                kind,
                kept,
                author,
                at,
                new_id(),
                text=words.value,
                asks_for=parts.chosen,
            )
        except EmptyNoteError as error:
            problem.say(error.advice)
            return
        await tab.save(lambda: keep_note(tab.vault, note))
        typed.drop()
        tab.close_sheet()
        await tab.redraw()
        tab.tell(_TOLD[kind])

    chosen = [strong("To look at again"), parts.control] if asks_for else []
    tab.open_sheet(
        _TITLES[kind],
        paragraph(_MEANING[kind]),
        *chosen,
        words.control,
        problem.control,
        pin_part(tab, _BUTTONS[kind], signed),
        typed=typed,
    )

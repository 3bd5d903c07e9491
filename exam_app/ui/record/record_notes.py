"""Notes beside a record, and requests at the exam of the same animal."""

import flet as ft

from exam_app.app.clinic.notes import OTHER_VERSION, show_note
from exam_app.app.queries.kept_records import KeptRecord
from exam_app.app.queries.record_chain import open_requests
from exam_app.domain.exam.exam import words_for
from exam_app.exchange.signed_notes import notes_of
from exam_app.language.catalogue import to_translate, tr
from exam_app.record.notes import NoteKind
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import Tone, banner

_UNREAD = to_translate(
    "A note beside this record cannot be verified with the keys known here. "
    "It is kept; look for a new day pack from the clinic."
)


def note_lines(tab: Tab, kept: KeptRecord) -> list[ft.Control]:
    """Show every note about a record, oldest first; each is verified before."""
    vault, exam = tab.vault, kept.exam
    notes, unread = notes_of(vault, exam.exam_id)
    lines: list[ft.Control] = []
    for one in notes:
        shown = show_note(one, kept.loaded.protocol, kept.exam_hash, words_for(exam))
        asks = one.note.kind is NoteKind.RECHECK_REQUEST
        text = "\n".join(part for part in (shown.title, shown.text) if part)
        lines.append(
            banner(
                for_choice("note-line", one.note.note_id),
                text if shown.is_about_this else f"{tr(OTHER_VERSION)}{text}",
                Tone.NOTICE if asks else Tone.PLAIN,
            )
        )
    if unread:
        lines.append(
            banner(for_choice("note-line", "unread"), tr(_UNREAD), Tone.NOTICE)
        )
    return lines


def request_lines(tab: Tab, animal_id: str) -> list[ft.Control]:
    """Show what the veterinarian asked to be looked at again of an animal."""
    lines: list[ft.Control] = []
    reader = tab.person.role
    for number, request in enumerate(open_requests(tab.vault, animal_id, reader)):
        name = for_choice("note-recheck", str(number))
        read = tab.way(f"/record/{request.exam_id}")
        lines.append(
            banner(
                name,
                tr(
                    "Re-check asked for by {asked}. {words}",
                    asked=request.asked,
                    words=request.words,
                ),
                Tone.NOTICE,
                button(f"{name}-record", tr("That record"), read),
            )
        )
    return lines

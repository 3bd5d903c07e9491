"""One record as the veterinarian reads it: itself, its notes, and the animal's past."""

from functools import partial

import flet as ft

from exam_app.app.clinic.export import FHIR_UNSEALED, fhir_of, file_name
from exam_app.app.clinic.notes import (
    EmptyNoteError,
    ShownNote,
    corrections_beside,
    keep_note,
    notes_beside,
    parts_to_ask_for,
    show_note,
    write_note,
)
from exam_app.app.exam_sessions import ExamNotHereError, new_id, now, person_now
from exam_app.app.queries import clinic_history, clinic_records
from exam_app.app.queries.clinic_records import RecordPage
from exam_app.app.queries.kept_records import KeptRecord, read_kept
from exam_app.app.queries.record_chain import chain_of
from exam_app.app.view.clinic_review_presenter import next_to_read
from exam_app.app.view.clinic_version_lines import differences
from exam_app.domain.wording.written_record import WrittenRecord, write_record
from exam_app.exchange.signed_notes import acknowledgements
from exam_app.record.notes import NoteKind
from exam_app.store.repositories.rows import ClosedExam
from exam_app.ui.record.correction_sheet import correct_button
from exam_app.ui.record.record import twice_notice, written_screen
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets import files as clinic_files
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ToggleRow
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button, plain_table
from exam_app.ui.widgets.notices import ProblemNotice, Tone, banner
from exam_app.ui.widgets.pin import pin_part
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, strong

# The sheet's title, what the note means, the button, and what is told afterwards.
_NOTES = {
    NoteKind.ACKNOWLEDGEMENT: (
        "Acknowledge this record",
        "It says that you have read exactly this record. It changes nothing in it, "
        "and travels back to the device with the next day pack.",
        "Sign: I have read it",
        "Acknowledged. It goes back with the next day pack.",
    ),
    NoteKind.RECHECK_REQUEST: (
        "Ask for a re-check",
        "Choose what is to be looked at again, and say why. The device shows it at "
        "this animal's next exam, once it has the day pack.",
        "Sign and ask",
        "Re-check asked for. It goes back with the day pack.",
    ),
    NoteKind.ADDENDUM: (
        "Add a note",
        "The record itself is never edited. Your words stand beside it, with your "
        "name, and travel back to the device.",
        "Sign the note",
        "Note signed. It goes back with the day pack.",
    ),
}


async def build(tab: Tab, exam_id: str, record_hash: str = "") -> Screen:
    """Build the record with everything that stands beside it.

    Args:
        tab: The tab.
        exam_id: The exam's own id.
        record_hash: Of one version, where there are several.

    Raises:
        ExamNotHereError: No such record is here.
        RecordError: It does not verify or cannot be read.
    """
    vault = tab.vault
    read = await tab.session.read(
        lambda: clinic_records.read_record(vault, exam_id, record_hash or None)
    )
    if read is None:
        raise ExamNotHereError
    rows = await tab.session.read(lambda: clinic_records.received_rows(vault))
    names = await tab.session.read(lambda: clinic_records.device_names(vault))
    kept = read.kept
    beside = corrections_beside(vault, kept)
    written = write_record(kept.exam, kept.loaded.protocol, beside=beside)
    notes = notes_beside(vault, kept)
    back = "/clinic/review"
    screen = written_screen(
        tab,
        written,
        kept.exam,
        back=back,
        notes=notes,
        lacks_private=kept.lacks_private,
    )
    before = [
        *_versions(tab, read),
        *twice_notice(chain_of(tab.vault, exam_id)),
        _where_from(read, names),
        *_acknowledged(read),
        *_notes(read),
    ]
    screen.body = [*before, *screen.body, *_beside(tab, read, written)]
    screen.bottom = _bottom(tab, read, next_to_read(rows, after=exam_id))
    return screen


def _where_from(read: RecordPage, names: dict[str, str]) -> ft.Control:
    name = names.get(str(read.row.device_id), "")
    device = f"the paired device “{name}”" if name else "this computer"
    return banner(
        "record-signed",
        f"Signed by {device}; the signature fits. It proves the device, not the "
        "person.",
    )


def _acknowledged(read: RecordPage) -> list[ft.Control]:
    done = acknowledgements(read.notes, read.kept.exam_hash)
    return [
        banner(
            for_choice("clinic-acknowledge", "done"),
            f"Acknowledged by {note.author.name}, {note.author.role.value}, "
            f"{note.written.date_and_time()}.",
        )
        for note in (one.note for one in done[:1])
    ]


def _versions(tab: Tab, read: RecordPage) -> list[ft.Control]:
    """Lay the ends of a fork side by side; nobody's version is dropped."""
    if len(read.versions) < 2:
        return []
    exam_id, shown = read.kept.exam.exam_id, read.kept.exam_hash
    ways = []
    for place, row in enumerate(read.versions, 1):
        here = " (shown)" if row.record_hash == shown else ""
        name = for_choice("clinic-fork", str(place))
        go = tab.way(f"/clinic/record/{exam_id}/{row.record_hash}")
        ways.append(button(name, f"Version {place}{here}", go))
    both = tab.way(f"/clinic/versions/{exam_id}")
    beside = button("clinic-fork", "Side by side", both)
    return [
        banner(
            for_choice("clinic-fork", "notice"),
            f"{len(read.versions)} versions of this record exist, and none revises "
            "the other. All are kept. Read all of them.",
            Tone.NOTICE,
        ),
        side_by_side(*ways, beside),
    ]


def _beside(tab: Tab, read: RecordPage, written: WrittenRecord) -> list[ft.Control]:
    kept = read.kept
    recheck = partial(_open_note, tab, kept, NoteKind.RECHECK_REQUEST)
    note = partial(_open_note, tab, kept, NoteKind.ADDENDUM)

    async def save() -> None:
        said = written.with_notes(notes_beside(tab.vault, kept)).as_text()
        await clinic_files.offer_file(tab, file_name(kept, "txt"), said.encode())
        tab.tell("The text file holds the record unsealed. Keep it as you keep paper.")

    async def save_fhir() -> None:
        name = file_name(kept, "fhir.json")
        await clinic_files.offer_file(tab, name, fhir_of(tab.vault, kept))
        tab.tell(FHIR_UNSEALED)

    text, data = ft.Icons.SAVE_ALT, ft.Icons.DATA_OBJECT
    fhir = "Save for another program (FHIR R4)"
    buttons = side_by_side(
        correct_button(tab, kept),
        button("clinic-recheck", "Ask for a re-check", recheck),
        button("clinic-add-note", "Add a note", note),
        button("clinic-save-text", "Save as a text file", save, icon=text),
        button("clinic-save-fhir", fhir, save_fhir, icon=data),
    )
    return [
        section("What the clinic says of it", buttons),
        *_history(tab, read),
        quiet(f"SHA-256 of the signed record: {kept.exam_hash}"),
    ]


def _notes(read: RecordPage) -> list[ft.Control]:
    kept = read.kept
    shown = [
        show_note(note, kept.loaded.protocol, kept.exam_hash) for note in read.notes
    ]
    lines = [_note(place, note) for place, note in enumerate(shown)]
    if read.unread_notes:
        said = f"{read.unread_notes} more cannot be verified here and are not shown."
        lines.append(quiet(said))
    return [section("Notes beside it", *lines)] if lines else []


def _note(place: int, note: ShownNote) -> ft.Control:
    texts: list[ft.Control] = [strong(note.title)]
    if note.text:
        texts.append(paragraph(note.text))
    if not note.is_about_this:
        texts.append(quiet("Written about another version of this record."))
    column = ft.Column(texts, spacing=2)
    return identified(for_choice("clinic-note-line", str(place)), column)


def _history(tab: Tab, read: RecordPage) -> list[ft.Control]:
    tables = (clinic_history.weights(read.history), clinic_history.lumps(read.history))
    drawn: list[ft.Control] = [
        section(
            table.heading,
            plain_table(
                for_choice("clinic-table", table.heading.lower()),
                table.columns,
                table.rows,
            ),
        )
        for table in tables
        if table.rows
    ]
    exam = read.kept.exam
    earlier = clinic_history.earlier_exams(read.rows, exam)
    if earlier:
        lines = [
            _earlier(tab, row, clinic_history.relation(row, exam)) for row in earlier
        ]
        drawn.append(section("Other exams of this animal", *lines))
    return drawn


def _earlier(tab: Tab, row: ClosedExam, relation: str) -> ft.Control:
    go = tab.way(f"/clinic/record/{row.exam_id}")
    words = " · ".join(part for part in (relation, "; ".join(row.headline)) if part)
    name = for_choice("clinic-earlier", row.exam_id)
    title = row.title or row.name or "Exam"
    return line_button(name, title, words, go, icon=ft.Icons.HISTORY)


def _bottom(tab: Tab, read: RecordPage, next_id: str) -> list[ft.Control]:
    acknowledge = partial(_open_note, tab, read.kept, NoteKind.ACKNOWLEDGEMENT)
    go_on = tab.way(f"/clinic/record/{next_id}")
    is_done = bool(_acknowledged(read))
    bottom: list[ft.Control] = [
        button(
            "clinic-acknowledge",
            "Acknowledge again" if is_done else "Acknowledge",
            acknowledge,
            kind="other" if is_done else "main",
            icon=ft.Icons.DONE_ALL,
        )
    ]
    if next_id:
        icon = ft.Icons.ARROW_FORWARD
        bottom.append(button("clinic-read-next", "Next to read", go_on, icon=icon))
    return bottom


def _open_note(tab: Tab, kept: KeptRecord, kind: NoteKind) -> None:
    """Open the sheet on which such a note is written and signed."""
    title, meaning, signing, told = _NOTES[kind]
    place = f"{kept.exam.exam_id}/{kind.name.lower()}"
    typed = tab.typed(f"note/{place}-{person_now(tab.session).person_id}", title)
    may_be_empty = kind is NoteKind.ACKNOWLEDGEMENT
    label = "Words (may stay empty)" if may_be_empty else "Words"
    words = text_field("clinic-note-words", label, lines=2, typed=typed)
    asked = parts_to_ask_for(kept.exam, kept.loaded.protocol)
    parts = ToggleRow("clinic-note-parts", asked)
    problem = ProblemNotice("clinic-note-problem")

    async def signed() -> None:
        author, text, chosen = person_now(tab.session), words.value, parts.chosen
        try:
            note = write_note(
                kind, kept, author, now(), new_id(), text=text, asks_for=chosen
            )
        except EmptyNoteError as error:
            problem.say(error.advice)
            return
        await tab.save(lambda: keep_note(tab.vault, note))
        typed.drop()
        tab.close_sheet()
        await tab.redraw()
        tab.tell(told)

    asks_for = kind is NoteKind.RECHECK_REQUEST
    tab.open_sheet(
        title,
        paragraph(meaning),
        *([strong("To look at again"), parts.control] if asks_for else []),
        words.control,
        problem.control,
        pin_part(tab, signing, signed),
        typed=typed,
    )


async def build_versions(tab: Tab, exam_id: str) -> Screen:
    """Build the comparison of every version that nothing revises.

    Raises:
        ExamNotHereError: No such record is here.
        RecordError: One does not verify or cannot be read.
    """
    kept = await tab.session.read(lambda: _tips(tab, exam_id))
    if not kept:
        raise ExamNotHereError
    texts = [write_record(k.exam, k.loaded.protocol).as_text() for k in kept]
    sides = range(1, len(kept) + 1), kept, differences(texts)
    return Screen(
        title="Versions side by side",
        subtitle=kept[0].exam.animal.name,
        back=f"/clinic/record/{exam_id}",
        body=[
            banner(
                for_choice("clinic-fork", "notice"),
                "These signed versions do not follow from one another. Neither is "
                "dropped. Only the lines that differ are shown here.",
                Tone.NOTICE,
            ),
            ft.ResponsiveRow(
                [_side(*one) for one in zip(*sides, strict=True)],
                vertical_alignment=ft.CrossAxisAlignment.START,
            ),
        ],
        width=None,
    )


def _tips(tab: Tab, exam_id: str) -> list[KeptRecord]:
    hashes = [row.record_hash for row in tab.vault.closed.tips(exam_id)]
    found = (read_kept(tab.vault, exam_id, version) for version in hashes)
    return [record for record in found if record is not None]


def _side(number: int, kept: KeptRecord, lines: tuple[str, ...]) -> ft.Control:
    closing = kept.exam.closing
    closer = kept.exam.person(closing.closed_by) if closing else None
    when = closing.at.date_and_time() if closing else ""
    box = section(
        f"Version {number}",
        strong(f"Closed by {closer.name if closer else 'somebody'}, {when}"),
        *(paragraph(line) for line in lines),
        *([] if lines else [quiet("Nothing that the others do not say.")]),
        quiet(f"SHA-256 {kept.exam_hash}"),
    )
    name = for_choice("clinic-fork", f"side-{number}")
    return ft.Container(identified(name, box), col={"xs": 12, "md": 6})

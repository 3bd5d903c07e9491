"""One record as the veterinarian reads it: itself, its notes, and the animal's past."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

import flet as ft

from exam_app.app.clinic.export import FHIR_UNSEALED, fhir_of, file_name
from exam_app.app.clinic.notes import (
    ShownNote,
    corrections_beside,
    notes_beside,
    show_note,
)
from exam_app.app.exam_sessions import ExamNotHereError
from exam_app.app.queries import clinic_history, clinic_records
from exam_app.app.queries.clinic_records import RecordPage
from exam_app.app.queries.kept_records import KeptRecord
from exam_app.app.queries.record_chain import chain_of
from exam_app.app.view.clinic_review_presenter import next_to_read
from exam_app.app.view.kept_rows import lines_shown
from exam_app.domain.exam.closing import gaps
from exam_app.domain.exam.exam import words_for
from exam_app.domain.wording.headline import headline
from exam_app.domain.wording.written_record import WrittenRecord, write_record
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.signed_notes import acknowledgements, notes_of
from exam_app.language.catalogue import in_english, tr
from exam_app.record.notes import Note, NoteKind
from exam_app.store.repositories.rows import ClosedExam
from exam_app.ui.animal.history import history_way
from exam_app.ui.clinic import note_signing
from exam_app.ui.paper.print_sheet import print_button, record_sheets
from exam_app.ui.record.correction_sheet import correct_button
from exam_app.ui.record.record import twice_notice, written_screen
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets import files as clinic_files
from exam_app.ui.widgets.buttons import bar_button, button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    paragraph,
    quiet,
    section,
    side_by_side,
    stack,
    strong,
)

_BACK = "/clinic/review"
_GAPS_NAMED = 4
# Of a phone's foot, so that the words of four buttons stand in one row.
_SHARES = (15, 7, 5, 5)


class RecordView:
    """One record as it is read: itself, its notes, and the animal's past.

    Attributes:
        body: The record with everything that belongs to it, from above to below.
        earlier: The same animal before, and what a later version changed.
        on_person: Called when somebody else examines.
    """

    def __init__(self, tab: Tab, read: RecordPage, names: Mapping[str, str]) -> None:
        """Draw it; ``names`` are those of the devices known here, by id."""
        self.tab, self.read = tab, read
        kept, vault = read.kept, tab.vault
        beside = corrections_beside(vault, kept)
        written = write_record(kept.exam, kept.loaded.protocol, beside=beside)
        shown = replace(written, headline=headline_in_short(written.headline, kept))
        screen = written_screen(
            tab,
            shown,
            kept.exam,
            kept.loaded.protocol,
            back=_BACK,
            lacks_private=kept.lacks_private,
        )
        self.on_person = screen.on_person
        self._acknowledged = Slot(self._draw_acknowledged, hides_empty=True)
        self._notes = Slot(self._draw_notes, hides_empty=True)
        chain = chain_of(vault, kept.exam.exam_id)
        self.body: list[ft.Control] = [
            *_versions(tab, read),
            *twice_notice(chain),
            self._acknowledged.control,
            *map(quiet, read.elsewhere_words),
            _where_from(read, names),
            self._notes.control,
            *screen.body,
            _ways(tab, kept, written),
            quiet(tr("SHA-256 of the signed record: {hash}", hash=kept.exam_hash)),
        ]
        self.earlier = [*_changed(tab, kept, len(chain)), *_history(tab, read)]

    @property
    def acknowledged_by(self) -> str:
        """Who acknowledged exactly this record; empty while nobody has."""
        done = acknowledgements(self.read.notes, self.read.kept.exam_hash)
        return done[0].note.author.name if done else ""

    async def update_notes(self) -> None:
        """Show a note that was signed just now."""
        vault, exam_id = self.tab.vault, self.read.kept.exam.exam_id
        notes, unread = await self.tab.session.read(lambda: notes_of(vault, exam_id))
        self.read = replace(self.read, notes=notes, unread_notes=unread)
        self._acknowledged.refresh()
        self._notes.refresh()

    def _draw_acknowledged(self) -> ft.Control:
        return stack(*_acknowledged(self.read)) if self.acknowledged_by else _nothing()

    def _draw_notes(self) -> ft.Control:
        drawn = _notes(self.read)
        return stack(*drawn) if drawn else _nothing()


def headline_in_short(lines: Sequence[str], kept: KeptRecord) -> tuple[str, ...]:
    """Count what was not done where it would fill the screen before what was found.

    The record names every gap again, in a section of its own.
    """
    exam, protocol = kept.exam, kept.loaded.protocol
    count = len(gaps(exam, protocol))
    short = tr(
        "Not done: {count} parts and values, each named further below", count=count
    )
    with in_english():
        plain = headline(exam, protocol)
    return tuple(
        short if said.startswith("Not done:") and count > _GAPS_NAMED else line
        for line, said in zip(lines, plain, strict=True)
    )


def _nothing() -> ft.Control:
    return ft.Container()


async def read_page(tab: Tab, exam_id: str, record_hash: str = "") -> RecordPage:
    """Read a record with everything that stands beside it.

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
    name = tab.session.person.name if tab.session.person else ""
    await tab.session.write(lambda: vault.begin_reading(exam_id, name))
    return read


async def build_alone(tab: Tab, exam_id: str, record_hash: str) -> Screen:
    """Build the record as a screen of its own, for a window as wide as a phone.

    Raises:
        ExamNotHereError: No such record is here.
        RecordError: It does not verify or cannot be read.
    """
    vault = tab.vault
    read = await read_page(tab, exam_id, record_hash)
    rows = await tab.session.read(lambda: clinic_records.received_rows(vault))
    names = await tab.session.read(Exchange(vault).pairing.names)
    view = RecordView(tab, read, names)
    reviewer = note_signing.reviewer_line(tab)

    async def signed(_: Note) -> None:
        await tab.show_route()

    async def acknowledge() -> None:
        if view.acknowledged_by:
            who = view.acknowledged_by
            tab.tell(tr("Already acknowledged by {name}.", name=who))
        else:
            await note_signing.acknowledge(tab, read.kept, signed)

    def person_changed() -> None:
        reviewer.refresh()
        if view.on_person is not None:
            view.on_person()

    open_note = partial(note_signing.open_note, tab, read.kept)
    recheck = partial(open_note, NoteKind.RECHECK_REQUEST, signed)
    note = partial(open_note, NoteKind.ADDENDUM, signed)
    next_id = next_to_read(rows, after=exam_id)
    go_on, is_done = tab.way(f"/clinic/record/{next_id}"), bool(view.acknowledged_by)
    bottom: list[ft.Control] = [
        button(
            "clinic-acknowledge",
            tr("Acknowledged") if is_done else tr("Acknowledge"),
            acknowledge,
            kind="other" if is_done else "main",
        ),
        bar_button("clinic-recheck", tr("Re-check"), ft.Icons.REPLAY, recheck),
        bar_button("clinic-add-note", tr("Note"), ft.Icons.EDIT_NOTE, note),
    ]
    if next_id:
        icon = ft.Icons.ARROW_FORWARD
        bottom.append(bar_button("clinic-read-next", tr("Next"), icon, go_on))
    for one, share in zip(bottom, _SHARES, strict=False):
        one.expand = share
    return Screen(
        title=tr("Written record"),
        subtitle=read.kept.exam.animal.name,
        back=_BACK,
        pinned=[reviewer.control],
        body=[*view.body, *view.earlier],
        bottom=[ft.Row(bottom, spacing=4)],
        on_person=person_changed,
        on_leave=partial(note_signing.leave_review, tab),
    )


def _where_from(read: RecordPage, names: Mapping[str, str]) -> ft.Control:
    name = names.get(str(read.row.device_id), "")
    said = (
        tr(
            "Signed by the paired device “{name}”; the signature fits. It proves the "
            "device, not the person.",
            name=name,
        )
        if name
        else tr(
            "Signed by this computer; the signature fits. It proves the device, not "
            "the person."
        )
    )
    return banner("record-signed", said)


def _acknowledged(read: RecordPage) -> list[ft.Control]:
    done = acknowledgements(read.notes, read.kept.exam_hash)
    return [
        banner(
            for_choice("clinic-acknowledge", "done"),
            tr(
                "Acknowledged by {name}, {role}, {when}.",
                name=note.author.name,
                role=tr(note.author.role.value),
                when=note.written.date_and_time(),
            ),
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
        label = (
            tr("Version {number} (shown)", number=place)
            if row.record_hash == shown
            else tr("Version {number}", number=place)
        )
        name = for_choice("clinic-fork", str(place))
        go = tab.way(f"/clinic/record/{exam_id}/{row.record_hash}")
        ways.append(button(name, label, go))
    both = tab.way(f"/clinic/versions/{exam_id}")
    beside = button("clinic-fork", tr("Side by side"), both)
    return [
        banner(
            for_choice("clinic-fork", "notice"),
            tr(
                "{count} versions of this record exist, and none revises the other. "
                "All are kept. Read all of them.",
                count=len(read.versions),
            ),
            Tone.NOTICE,
        ),
        side_by_side(*ways, beside),
    ]


def _ways(tab: Tab, kept: KeptRecord, written: WrittenRecord) -> ft.Control:
    def noted() -> str:
        return written.with_notes(notes_beside(tab.vault, kept)).as_text()

    async def save() -> None:
        await clinic_files.offer_file(tab, file_name(kept, "txt"), noted().encode())
        tab.tell(
            tr("The text file holds the record unsealed. Keep it as you keep paper.")
        )

    async def save_fhir() -> None:
        name = file_name(kept, "fhir.json")
        await clinic_files.offer_file(tab, name, fhir_of(tab.vault, kept))
        tab.tell(tr(FHIR_UNSEALED))

    text, data = ft.Icons.SAVE_ALT, ft.Icons.DATA_OBJECT
    fhir = tr("Save for another program (FHIR R4)")
    buttons = side_by_side(
        correct_button(tab, kept),
        print_button(tab, *record_sheets(tab, kept)),
        button("clinic-save-text", tr("Save as a text file"), save, icon=text),
        button("clinic-save-fhir", fhir, save_fhir, icon=data),
    )
    return section(tr("Corrections and copies"), buttons)


def _changed(tab: Tab, kept: KeptRecord, count: int) -> list[ft.Control]:
    """Lay the newest version beside what stood there before."""
    changes = [
        stack(
            strong(item),
            paragraph(tr("Now: {new}", new=new)),
            quiet(tr("Before: {old}", old=old)),
        )
        for item, new, old in clinic_history.amended(kept.exam)
    ]
    drawn: list[ft.Control] = []
    if changes:
        box = section(tr("Changed after closing, the newest first"), *changes)
        drawn.append(identified("clinic-changed", box))
    if count > 1:
        together = tab.way(f"/record/{kept.exam.exam_id}/together")
        label = tr("Read together with its continuations ({count})", count=count)
        name = for_choice("record-together", "open")
        drawn.append(button(name, label, together, icon=ft.Icons.MERGE))
    return drawn


def _notes(read: RecordPage) -> list[ft.Control]:
    kept = read.kept
    shown = [
        show_note(note, kept.loaded.protocol, kept.exam_hash, words_for(kept.exam))
        for note in read.notes
    ]
    lines = [_note(place, note) for place, note in enumerate(shown)]
    if read.unread_notes:
        said = tr(
            "{count} more cannot be verified here and are not shown.",
            count=read.unread_notes,
        )
        lines.append(quiet(said))
    return [section(tr("Notes beside it"), *lines)] if lines else []


def _note(place: int, note: ShownNote) -> ft.Control:
    texts: list[ft.Control] = [strong(note.title)]
    if note.text:
        texts.append(paragraph(note.text))
    if not note.is_about_this:
        texts.append(quiet(tr("Written about another version of this record.")))
    column = ft.Column(texts, spacing=2)
    return identified(for_choice("clinic-note-line", str(place)), column)


def _history(tab: Tab, read: RecordPage) -> list[ft.Control]:
    exam, history = read.kept.exam, read.history
    since = clinic_history.weight_since(history, exam)
    values = clinic_history.earlier_values(history, exam)
    drawn: list[ft.Control] = []
    if len(read.rows) > 1:
        drawn.append(history_way(tab, exam.animal.animal_id, exam.exam_id))
    if since:
        box = section(tr("Weight since the one before"), paragraph(since))
        drawn.append(identified("clinic-weight", box))
    if lumps := clinic_history.lumps(history, exam):
        box = section(tr("Lumps"), *map(paragraph, lumps))
        drawn.append(identified("clinic-lumps", box))
    if wounds := clinic_history.wounds(history, exam):
        box = section(tr("Wounds"), *map(paragraph, wounds))
        drawn.append(identified("clinic-wounds", box))
    if values:
        lines = [
            stack(strong(label), *map(paragraph, said), spacing=2)
            for label, said in values
        ]
        box = section(tr("Earlier values of this animal"), *lines)
        drawn.append(identified("clinic-values", box))
    earlier = clinic_history.earlier_exams(read.rows, exam)
    if earlier:
        ways = [
            _earlier(tab, row, clinic_history.relation(row, exam)) for row in earlier
        ]
        drawn.append(section(tr("Other exams of this animal"), *ways))
    return drawn


def _earlier(tab: Tab, row: ClosedExam, relation: str) -> ft.Control:
    go = tab.way(f"/clinic/record/{row.exam_id}")
    said = lines_shown(row.species, row.pressing or row.headline)
    words = " · ".join(part for part in (relation, "; ".join(said)) if part)
    name = for_choice("clinic-earlier", row.exam_id)
    title = row.title or row.name or tr("Exam")
    return line_button(name, title, words, go, icon=ft.Icons.HISTORY)

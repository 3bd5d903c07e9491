"""The written record: what matters first, in plain clinical language.

Also a record and its continuations read as one: not signed, each part signed alone.
"""

import re
from collections.abc import Sequence

import flet as ft

from exam_app.app.clinic.notes import corrections_beside, notes_beside
from exam_app.app.exam_sessions import (
    ExamNotHereError,
    keep_new,
    new_id,
    now,
    open_exam,
)
from exam_app.app.exam_words import signature_lines, signed_line
from exam_app.app.queries.kept_records import KeptRecord, open_kept
from exam_app.app.queries.record_chain import (
    chain_of,
    left_open,
    open_continuation,
    read_together,
    twice_words,
)
from exam_app.app.view.visit_presenter import is_taken_in, notes_for_reader
from exam_app.domain.exam.closing import continuation
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.headline import GAPS_NAMED, headline
from exam_app.domain.wording.photo_wording import PHOTOGRAPHS
from exam_app.domain.wording.region_wording import MARKS, NOT_DONE, NOT_TAKEN
from exam_app.domain.wording.written_record import (
    Section,
    WrittenRecord,
    plain_sections,
    write_record,
)
from exam_app.exchange.signed_notes import signer_of
from exam_app.language.catalogue import ENGLISH, chosen, in_english, tr
from exam_app.ui.handover.day_part import record_ways
from exam_app.ui.paper.print_sheet import draft_sheet, print_button, record_sheets
from exam_app.ui.photographs.record_part import record_photographs
from exam_app.ui.record.correction_sheet import correct_button
from exam_app.ui.record.mark_pictures import mark_pictures
from exam_app.ui.record.record_notes import note_lines
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.files import copy_text
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, paragraph, quiet, section, stack


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the record of a closed exam, or of a draft as it stands."""
    kept = await open_kept(tab.session, exam_id)
    if kept is not None:
        return _closed(tab, kept)
    return await build_draft(tab, exam_id)


async def build_draft(tab: Tab, exam_id: str) -> Screen:
    """Build the record of a draft as it stands, also of one that corrects a record."""
    editor = await open_exam(tab.session, exam_id)
    written = write_record(editor.exam, editor.protocol)
    back = f"/exam/{exam_id}/review"
    screen = written_screen(tab, written, editor.exam, editor.protocol, back=back)
    printed = print_button(tab, draft_sheet(tab, editor.exam, editor.protocol))
    screen.bottom = _foot(tab, [*screen.bottom, printed])
    return screen


def _closed(tab: Tab, kept: KeptRecord) -> Screen:
    beside = corrections_beside(tab.vault, kept)
    written = write_record(kept.exam, kept.loaded.protocol, beside=beside)
    notes = notes_beside(tab.vault, kept)
    screen = written_screen(
        tab,
        written,
        kept.exam,
        kept.loaded.protocol,
        back="/",
        notes=notes,
        lacks_private=kept.lacks_private,
    )
    chain = chain_of(tab.vault, kept.exam.exam_id)
    above = [_signed(tab, kept), *note_lines(tab, kept)]
    screen.body[:0] = [*twice_notice(chain), *above]
    lines = signature_lines(kept.exam_hash, kept.key_id)
    screen.body.append(stack(*map(quiet, lines), spacing=2))
    left = left_open(chain)
    go_on = [_continue(tab, chain, len(left))] if left else []
    handed = record_ways(tab, kept)
    first = [*handed, *go_on] if kept.exam.urgent else [*go_on, *handed]
    printed = print_button(tab, *record_sheets(tab, kept))
    beside_it = [*_ways_on(tab, kept, len(chain)), correct_button(tab, kept), printed]
    screen.bottom = _foot(tab, [*first, *screen.bottom, *beside_it])
    return screen


def _foot(tab: Tab, ways: list[ft.Control]) -> list[ft.Control]:
    """Keep a phone's foot to one row: what is done next, and all else behind more."""
    if tab.is_wide or len(ways) < 2:
        return ways

    def opened() -> None:
        tab.open_sheet(tr("This record"), *map(across, ways[1:]))

    more = button(
        "record-more", tr("More"), opened, kind="icon", icon=ft.Icons.MORE_VERT
    )
    ways[0].expand = 1
    return [ft.Row([ways[0], more], spacing=6)]


def twice_notice(chain: Sequence[KeptRecord]) -> list[ft.Control]:
    """Say what two records of a chain both answered; nothing where none did."""
    words = twice_words(chain)
    name = for_choice("record-together", "twice")
    return [banner(name, words, Tone.NOTICE)] if words else []


def _signed(tab: Tab, kept: KeptRecord) -> ft.Control:
    signer = signer_of(tab.vault, kept.key_id)
    return banner("record-signed", signed_line(kept.exam, signer.name))


def _ways_on(tab: Tab, kept: KeptRecord, count: int) -> list[ft.Control]:
    """Lead to the chain this record belongs to, and to the kennel card."""
    ways: list[ft.Control] = []
    if count > 1:
        name = for_choice("record-together", "open")
        together = tab.way(f"/record/{kept.exam.exam_id}/together")
        ways.append(button(name, tr("Read together"), together, icon=ft.Icons.MERGE))
    if is_taken_in(kept.exam):
        card = tab.way(f"/kennel/{kept.exam.animal.animal_id}")
        ways.append(button("record-kennel", tr("Kennel card"), card))
    return ways


def written_screen(
    tab: Tab,
    written: WrittenRecord,
    exam: Exam,
    protocol: SpeciesProtocol,
    *,
    back: str,
    notes: Sequence[Section] = (),
    lacks_private: bool = False,
) -> Screen:
    """Build a written record; private notes stand in a place of their own.

    Args:
        written: Without private notes; it is what a copy holds.
        exam: The exam it was written from.
        protocol: The one it names; its species' drawings show the marks.
        back: Route of the arrow.
        notes: Beside the record; a copy holds them too.
        lacks_private: Whether a private note was signed with it that is not here.
    """
    with in_english():
        plain = headline(exam, protocol)
    pairs = zip(written.headline, plain, strict=True)
    notices = [_headline(*pair) for pair in pairs]
    noted = written.with_notes(notes).as_text()

    def draw_private() -> ft.Control:
        reader = tab.person
        told = notes_for_reader(exam, reader, lacks_private=lacks_private)
        if not told:
            return ft.Container(height=0)
        lines = (*map(paragraph, told), quiet(tr("In no copy of this record.")))
        shown = section(tr("Private, for the veterinarian only"), *lines)
        return identified("record-private", shown)

    async def copied() -> None:
        tab.close_sheet()
        await copy_text(tab, noted)
        tab.tell(tr("Copied as text."))

    private, icon = Slot(draw_private), ft.Icons.CONTENT_COPY
    return Screen(
        title=tr("Written record"),
        subtitle=exam.animal.name,
        back=back,
        on_person=private.refresh,
        body=[
            identified("record-text", stack(paragraph(written.title), *notices)),
            private.control,
            *(_section(tab, part, exam, protocol) for part in written.sections),
        ],
        bottom=[
            button("record-copy", tr("Copy as text"), copied, icon=icon, kind="main")
        ],
    )


def _section(
    tab: Tab, part: Section, exam: Exam, protocol: SpeciesProtocol
) -> ft.Control:
    """Draw a section; a long list of what nobody came to lies one tap away.

    What was left for a reason of its own is never folded. Marks and photographs stand
    above their words.
    """
    heading = tr(part.heading)
    drawn: list[ft.Control] = []
    if part.heading == MARKS:
        drawn = mark_pictures(exam, protocol)
    if part.heading == PHOTOGRAPHS:
        drawn = record_photographs(tab, exam, protocol)
    is_undone = part.heading == NOT_DONE
    folded = _nobody_came(part.lines, exam, protocol) if is_undone else []
    if len(folded) <= GAPS_NAMED:
        return section(heading, *drawn, *map(paragraph, part.lines))
    own = [paragraph(line) for line in part.lines if line not in folded]
    is_open = [False]

    def draw() -> ft.Control:
        if is_open[0]:
            return stack(*map(paragraph, folded))
        label = tr("Show {count} lines of what nobody came to", count=len(folded))
        return button("record-not-done", label, opened, icon=ft.Icons.EXPAND_MORE)

    def opened() -> None:
        is_open[0] = True
        slot.refresh()

    slot = Slot(draw)
    return section(heading, *own, slot.control)


def _nobody_came(
    lines: Sequence[str], exam: Exam, protocol: SpeciesProtocol
) -> list[str]:
    """Return those of what was not done that nobody came to, told by their English."""
    plain = lines
    if chosen() != ENGLISH:
        with in_english():
            sections = plain_sections(exam, protocol)
        plain = next(one.lines for one in sections if one.heading == NOT_DONE)
    pairs = zip(lines, plain, strict=True)
    return [line for line, said in pairs if _NOBODY_CAME.search(said)]


_NOBODY_CAME = re.compile(
    rf"^{NOT_TAKEN}: |: (?:not examined: )?stopped early: |: UNEXAMINED$"
)


def _headline(line: str, plain: str) -> ft.Control:
    """Draw a line of the headline, in the tone of the ``plain`` one in English."""
    is_urgent = plain.startswith("URGENT")
    is_calm = plain.startswith("Everything")
    tone = Tone.URGENT if is_urgent else Tone.PLAIN if is_calm else Tone.NOTICE
    return banner(for_choice("record-text", "head"), line, tone)


def _continue(tab: Tab, chain: Sequence[KeptRecord], count: int) -> ft.Control:
    """Lead to the one open continuation of a chain, or begin it."""
    view, loaded = read_together(chain), chain[0].loaded
    begun = open_continuation(tab.vault, view.exam_id)

    async def go_on() -> None:
        # Asked again: another one may have been begun since the screen was drawn.
        known = open_continuation(tab.vault, view.exam_id)
        if not known:
            starter = tab.person
            exam = continuation(view, loaded.protocol, new_id(), starter, now())
            await keep_new(tab.session, exam, loaded)
            known = exam.exam_id
        await tab.go(f"/exam/{known}")

    what = (
        tr("Go on with the continuation")
        if begun
        else tr("Continue what was left open")
    )
    label, icon = f"{what} ({count})", ft.Icons.PLAYLIST_ADD
    return button("record-continue", label, go_on, icon=icon)


async def build_together(tab: Tab, exam_id: str) -> Screen:
    """Build the view of a record with everything its continuations closed.

    Raises:
        ExamNotHereError: No such record is here.
    """
    chain = await tab.session.read(lambda: chain_of(tab.vault, exam_id))
    if not chain:
        raise ExamNotHereError
    exam, protocol = read_together(chain), chain[0].loaded.protocol
    beside = [c for kept in chain for c in corrections_beside(tab.vault, kept)]
    written = write_record(exam, protocol, beside=beside)
    notes = [note for kept in chain for note in notes_beside(tab.vault, kept)]
    back = f"/record/{exam_id}"
    screen = written_screen(tab, written, exam, protocol, back=back, notes=notes)
    screen.title = tr("Read together")
    what_it_is = banner(
        "record-together",
        tr(
            "One view of {count} signed records. The view itself is not signed: what "
            "counts stands in the records below.",
            count=len(chain),
        ),
    )
    screen.body[:0] = [*twice_notice(chain), what_it_is]
    screen.body.append(section(tr("Signed records"), *(_part(tab, k) for k in chain)))
    return screen


def _part(tab: Tab, kept: KeptRecord) -> ft.Control:
    what = tr("Continuation") if kept.exam.continues else tr("First record")
    label = f"{what}, {kept.exam.started.date_and_time()}"
    name = for_choice("record-part", kept.exam.exam_id)
    go = tab.way(f"/record/{kept.exam.exam_id}")
    return button(name, label, go, icon=ft.Icons.ARTICLE_OUTLINED)

"""A record and its continuations read as one; not signed, each part signed alone."""

import flet as ft

from exam_app.app.clinic.notes import corrections_beside, notes_beside
from exam_app.app.exam_sessions import ExamNotHereError
from exam_app.app.queries.kept_records import KeptRecord
from exam_app.app.queries.record_chain import chain_of, read_together
from exam_app.domain.wording.written_record import write_record
from exam_app.ui.record.record import twice_notice, written_screen
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import banner
from exam_app.ui.widgets.texts import section


async def build(tab: Tab, exam_id: str) -> Screen:
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
    screen = written_screen(tab, written, exam, back=back, notes=notes)
    screen.title = "Read together"
    what_it_is = banner(
        "record-together",
        f"One view of {len(chain)} signed records. The view itself is not signed: "
        "what counts stands in the records below.",
    )
    screen.body[:0] = [*twice_notice(chain), what_it_is]
    screen.body.append(section("Signed records", *(_part(tab, k) for k in chain)))
    return screen


def _part(tab: Tab, kept: KeptRecord) -> ft.Control:
    what = "Continuation" if kept.exam.continues else "First record"
    label = f"{what}, {kept.exam.started.date_and_time()}"
    name = for_choice("record-part", kept.exam.exam_id)
    go = tab.way(f"/record/{kept.exam.exam_id}")
    return button(name, label, go, icon=ft.Icons.ARTICLE_OUTLINED)

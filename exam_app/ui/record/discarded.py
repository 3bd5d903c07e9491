"""Discard an exam that was begun by mistake, and put one back."""

import flet as ft

from exam_app.app.discarding import discard, held_words, put_back, why_not
from exam_app.app.exam_sessions import open_exam
from exam_app.app.exam_words import draft_line
from exam_app.app.queries.record_chain import open_continuation
from exam_app.app.view.round_presenter import address_of, without_rows
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.texts import paragraph, quiet, stack

_KEPT = to_translate("It is kept, and can be put back: All records, Discarded exams.")


async def open_discarding(tab: Tab, exam_id: str) -> None:
    """Ask once, and say what the exam holds."""
    session, sheet = tab.session, OwnSheet(tab)
    editor = await open_exam(session, exam_id)
    exam, name = editor.exam, editor.exam.animal.name
    reason = why_not(exam)
    if reason:
        tab.open_sheet(tr("This exam is not discarded"), paragraph(reason))
        return

    async def discarded() -> None:
        await discard(session, exam_id)
        await sheet.go("/")
        told = tr("The exam of {name} is discarded.", name=name)
        tab.tell(f"{told} {tr(_KEPT)}", undone)

    async def undone() -> None:
        await put_back(session, exam_id)
        await tab.show_route()

    held = held_words(exam, editor.protocol, session.typed.of_exam(exam_id))
    sheet.open(
        tr("Discard the exam of {name}?", name=name),
        identified("discard-held", paragraph(held)),
        quiet(tr(_KEPT)),
        button("discard-confirm", tr("Discard this exam"), discarded, size="exam"),
        button("discard-keep", tr("Keep it open"), tab.close_sheet, kind="lead"),
    )


def discarded_way(tab: Tab) -> list[ft.Control]:
    """Lead to the exams that were discarded; nothing where there are none."""
    count = len(without_rows(tab.vault.drafts.discarded()))

    def opened() -> None:
        rows = without_rows(tab.vault.drafts.discarded())
        lines = (_line(tab, row.exam_id) for row in rows)
        told = quiet(tr("A tap puts one back among the open exams, as it was."))
        tab.open_sheet(tr("Discarded exams"), told, stack(*lines, spacing=8))

    label = tr("Discarded exams ({count})", count=count)
    return [button("discarded-open", label, opened)] if count else []


def _line(tab: Tab, exam_id: str) -> ft.Control:
    row = tab.vault.drafts.shown(exam_id)
    if row is None:
        return ft.Container()

    async def back() -> None:
        if row.continues and open_continuation(tab.vault, row.continues):
            tab.tell(tr("Another continuation of that record is open: go on with it."))
            return
        await put_back(tab.session, exam_id)
        tab.close_sheet()
        await tab.go(address_of(row))

    words = f"{draft_line(row)} · {tr('discarded {when}', when=row.discarded)}"
    name = for_choice("discarded", exam_id)
    return line_button(
        name, tr("Put back: {name}", name=row.name), words, back, icon=ft.Icons.UNDO
    )

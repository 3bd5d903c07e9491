"""Every record on this device, newest first; and those of one animal on its page."""

from collections.abc import Container

import flet as ft

from exam_app.app.exam_words import answered_line, draft_line
from exam_app.app.queries.bite_concerns import animals_with_concern, name_with_concern
from exam_app.app.view.round_presenter import address_of
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.ui.record.discarded import discarded_way, open_discarding
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import GAP
from exam_app.ui.widgets.buttons import bar_button, button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import GrowingList, line_button, nothing_yet
from exam_app.ui.widgets.texts import heading

PAGE = 50
_NOTHING_CLOSED = to_translate(
    "No record is closed here yet. Each exam that is closed will stand here, the "
    "newest first."
)


async def build(tab: Tab) -> Screen:
    """Build the list of every record, a page at a time."""

    def draw(count: int) -> tuple[list[ft.Control], str]:
        # One more than is shown tells whether there are more.
        rows = tab.vault.closed.latest(count + 1)
        bitten = animals_with_concern(tab.vault.drafts.open(), rows)
        listed: list[ft.Control] = [
            record_line(tab, "records-line", row, name_of(row, bitten))
            for row in rows[:count]
        ]
        more = tr("Show earlier records") if len(rows) > count else ""
        return listed or [_nothing_closed(tab)], more

    lines = GrowingList("records-more", PAGE, spacing=GAP).drawn(draw)
    body = [lines, *discarded_way(tab)]
    return Screen(title=tr("All records"), back="/", body=body)


def _nothing_closed(tab: Tab) -> ft.Control:
    choose = tab.way("/animals")
    return nothing_yet(
        tr(_NOTHING_CLOSED),
        button("records-begin", tr("Choose an animal"), choose, icon=ft.Icons.PETS),
    )


def name_of(row: ClosedExam, bitten: Container[str]) -> str:
    """Name the animal of a record, with what it has bitten."""
    return name_with_concern(row.name, row.animal_id in bitten)


def record_line(tab: Tab, group: str, row: ClosedExam, title: str) -> ft.Control:
    """Lead to one closed record from its projection."""
    title = f"{title} · {tr('urgent')}" if row.is_urgent else title
    icon = ft.Icons.PRIORITY_HIGH if row.is_urgent else ft.Icons.TASK_ALT
    name = for_choice(group, row.exam_id)
    go = tab.way(f"/record/{row.exam_id}")
    return line_button(name, title, answered_line(row), go, icon=icon)


def open_exams_of(tab: Tab, animal_id: str) -> list[ft.Control]:
    """Show the exams of an animal that are open, before another one is begun."""
    lines = [_open_exam(tab, row) for row in tab.vault.drafts.of_animal(animal_id)]
    which = (
        tr("An exam of this animal is open") if len(lines) == 1 else tr("Open exams")
    )
    return [heading(which), *lines] if lines else []


def _open_exam(tab: Tab, row: OpenExam) -> ft.Control:
    """Lead to an open exam, and beside it to its end if it was begun by mistake."""

    async def ask() -> None:
        await open_discarding(tab, row.exam_id)

    title = tr("Go on with it")
    line = draft_line_button(tab, "animal-draft", row, title, row.bite, draft_line(row))
    line.expand = True
    name, icon = for_choice("discard", row.exam_id), ft.Icons.DELETE_OUTLINE
    beside = bar_button(name, tr("Discard"), icon, ask)
    beside.expand = None
    return ft.Row([line, beside], spacing=8)


def records_of(tab: Tab, animal_id: str) -> list[ft.Control]:
    """Show every record of an animal, newest first."""
    lines = [
        record_line(tab, "animal-record", row, _day_title(row))
        for row in tab.vault.closed.for_animal(animal_id)
    ]
    return [heading(tr("Exams of this animal")), *lines] if lines else []


def _day_title(row: ClosedExam) -> str:
    return name_with_concern(row.started[:10], row.bite)


def draft_line_button(
    tab: Tab, group: str, row: OpenExam, title: str, bite: object, words: str
) -> ft.Semantics:
    """Lead to one open exam."""
    name, go = for_choice(group, row.exam_id), tab.way(address_of(row))
    title = name_with_concern(title, bite)
    return line_button(name, title, words, go, icon=ft.Icons.EDIT_NOTE)

"""Every record on this device, newest first; and those of one animal on its page."""

from collections.abc import Container

import flet as ft

from exam_app.app.exam_words import answered_line, draft_line
from exam_app.app.queries.bite_concerns import animals_with_concern, name_with_concern
from exam_app.app.view.round_presenter import address_of
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import heading, quiet, stack

PAGE = 50


async def build(tab: Tab) -> Screen:
    """Build the list of every record, a page at a time."""
    shown = [PAGE]

    def more() -> None:
        shown[0] += PAGE
        lines.refresh()

    def draw() -> ft.Control:
        # One more than is shown tells whether there are more.
        rows = tab.vault.closed.latest(shown[0] + 1)
        bitten = animals_with_concern(tab.vault.drafts.open(), rows)
        listed: list[ft.Control] = [
            record_line(tab, "records-line", row, name_of(row, bitten))
            for row in rows[: shown[0]]
        ]
        if len(rows) > shown[0]:
            listed.append(button("records-more", "Show earlier records", more))
        return stack(*listed) if listed else quiet("No record is closed here yet.")

    lines = Slot(draw)
    return Screen(title="All records", back="/", body=[lines.control])


def name_of(row: ClosedExam, bitten: Container[str]) -> str:
    """Name the animal of a record, with what it has bitten."""
    return name_with_concern(row.name, row.animal_id in bitten)


def record_line(tab: Tab, group: str, row: ClosedExam, title: str) -> ft.Control:
    """Lead to one closed record from its projection."""
    urgent = " · urgent" if row.is_urgent else ""
    icon = ft.Icons.PRIORITY_HIGH if urgent else ft.Icons.TASK_ALT
    name = for_choice(group, row.exam_id)
    go = tab.way(f"/record/{row.exam_id}")
    return line_button(name, f"{title}{urgent}", answered_line(row), go, icon=icon)


def records_of(tab: Tab, animal_id: str) -> list[ft.Control]:
    """Show an animal's open exams, then every record of it, newest first."""
    closed = tab.vault.closed.for_animal(animal_id)
    lines: list[ft.Control] = [
        draft_line_button(
            tab, "animal-draft", row, "Open exam", row.bite, draft_line(row)
        )
        for row in tab.vault.drafts.of_animal(animal_id)
    ]
    lines += [record_line(tab, "animal-record", row, _day_title(row)) for row in closed]
    return [heading("Exams of this animal"), *lines] if lines else []


def _day_title(row: ClosedExam) -> str:
    return name_with_concern(row.started[:10], row.bite)


def draft_line_button(
    tab: Tab, group: str, row: OpenExam, title: str, bite: object, words: str
) -> ft.Control:
    """Lead to one open exam."""
    name, go = for_choice(group, row.exam_id), tab.way(address_of(row))
    title = name_with_concern(title, bite)
    return line_button(name, title, words, go, icon=ft.Icons.EDIT_NOTE)

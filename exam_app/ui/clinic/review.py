"""The clinic's reading list: what presses first, what was read last."""

from collections.abc import Mapping

import flet as ft

from exam_app.app.clinic.export import table_of, told
from exam_app.app.queries import clinic_records
from exam_app.app.view.clinic_review_presenter import (
    ALL_DAYS,
    HEADINGS,
    Rank,
    days_of,
    next_to_read,
    reading_groups,
    review_lines,
    review_title,
    rows_of_day,
    summary,
)
from exam_app.store.repositories.rows import ClosedExam
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets import files as clinic_files
from exam_app.ui.widgets.buttons import OnClick, button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import heading, quiet, side_by_side, stack

_AT_ONCE = 60
_ICONS = {
    Rank.URGENT_NOT_TOLD: ft.Icons.PRIORITY_HIGH,
    Rank.URGENT: ft.Icons.PRIORITY_HIGH,
    Rank.TO_LOOK: ft.Icons.VISIBILITY_OUTLINED,
    Rank.OUTSIDE: ft.Icons.STRAIGHTEN,
    Rank.GAPS: ft.Icons.REMOVE_CIRCLE_OUTLINE,
    Rank.REST: ft.Icons.ARTICLE_OUTLINED,
    Rank.ACKNOWLEDGED: ft.Icons.TASK_ALT,
}


async def build(tab: Tab) -> Screen:
    """Build the reading list of everything that arrived here."""
    rows = await tab.session.read(lambda: clinic_records.received_rows(tab.vault))
    names = await tab.session.read(lambda: clinic_records.device_names(tab.vault))
    day, count = ALL_DAYS, _AT_ONCE

    def draw() -> ft.Control:
        return _lists(tab, rows_of_day(rows, day), names, count, more)

    def more() -> None:
        nonlocal count
        count += _AT_ONCE
        lists.refresh()

    async def choose(chosen: str) -> None:
        nonlocal day, count
        day, count = chosen, _AT_ONCE
        lists.refresh()

    async def save_table() -> None:
        vault, chosen, name = tab.vault, rows_of_day(rows, day), f"records-{day}.csv"
        content, unread = await tab.session.read(lambda: table_of(vault, chosen))
        await clinic_files.offer_file(tab, name, content)
        tab.tell(told(unread))

    lists = Slot(draw)
    days = [(ALL_DAYS, "All days"), *((day, day) for day in days_of(rows))]
    chooser = ChoiceRow("clinic-filter", days, choose, chosen=ALL_DAYS, size="usual")
    icon = ft.Icons.TABLE_CHART_OUTLINED
    table = button("clinic-save-table", "Save as a table", save_table, icon=icon)
    first = next_to_read(rows)
    read, page = tab.way(f"/clinic/record/{first}"), ft.Icons.ARTICLE_OUTLINED
    label = "Read the first one"
    reading = button("clinic-read-next", label, read, icon=page, kind="main")
    return Screen(
        title="Review",
        subtitle=summary(rows),
        back="/",
        body=[
            *([chooser.control] if len(days) > 1 else []),
            lists.control,
            *([side_by_side(table)] if rows else []),
        ],
        bottom=[reading] if first else [],
    )


def _lists(
    tab: Tab,
    rows: list[ClosedExam],
    names: Mapping[str, str],
    count: int,
    more: OnClick,
) -> ft.Control:
    if not rows:
        return quiet("No record has arrived yet. Receive a hand-over first.")
    drawn: list[ft.Control] = []
    left = count
    for rank, there in reading_groups(rows).items():
        if left > 0:
            drawn += _group(tab, rank, there, names, left)
            left -= len(there)
    if left < 0:
        label = f"Show more ({-left} further records)"
        drawn.append(button("clinic-more", label, more, kind="quiet"))
    return stack(*drawn)


def _group(
    tab: Tab, rank: Rank, rows: list[ClosedExam], names: Mapping[str, str], count: int
) -> list[ft.Control]:
    title = f"{HEADINGS[rank]} ({len(rows)})"
    first: ft.Control = heading(title)
    if rank in (Rank.URGENT_NOT_TOLD, Rank.URGENT):
        name = for_choice("clinic-summary", rank.name.lower())
        first = banner(name, title, Tone.URGENT)
    return [first, *(_row(tab, row, rank, names) for row in rows[:count])]


def _row(tab: Tab, row: ClosedExam, rank: Rank, names: Mapping[str, str]) -> ft.Control:
    exam_id = row.exam_id
    # The ends of a fork carry one exam id: each leads to its own bytes.
    version = f"/{row.record_hash}" if row.is_fork else ""
    go = tab.way(f"/clinic/record/{exam_id}{version}")
    lines = review_lines(row, names.get(row.device_id, ""))
    name = for_choice("clinic-row", f"{exam_id}{version[:9]}")
    return line_button(name, review_title(row), "\n".join(lines), go, icon=_ICONS[rank])

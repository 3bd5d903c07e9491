"""The clinic's reading list: what presses first, what was read last."""

from collections.abc import Awaitable, Callable, Mapping
from typing import Any

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
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets import files as clinic_files
from exam_app.ui.widgets.buttons import button
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
    shown = {"day": ALL_DAYS, "count": str(_AT_ONCE)}

    def draw() -> ft.Control:
        chosen = rows_of_day(rows, shown["day"])
        return _lists(tab, chosen, names, int(shown["count"]), more)

    def more() -> None:
        shown["count"] = str(int(shown["count"]) + _AT_ONCE)
        lists.refresh()

    async def choose(day: str) -> None:
        shown.update(day=day, count=str(_AT_ONCE))
        lists.refresh()

    async def save_table() -> None:
        chosen = rows_of_day(rows, shown["day"])
        vault = tab.vault
        content, unread = await tab.session.read(lambda: table_of(vault, chosen))
        await clinic_files.offer_file(tab, f"records-{shown['day']}.csv", content)
        tab.tell(told(unread))

    lists = Slot(draw)
    days = [(ALL_DAYS, "All days"), *((day, day) for day in days_of(rows))]
    chooser = ChoiceRow("clinic-filter", days, choose, chosen=ALL_DAYS, size="usual")
    return Screen(
        title="Review",
        subtitle=summary(rows),
        back="/",
        body=[
            *([chooser.control] if len(days) > 1 else []),
            lists.control,
            *([side_by_side(_table(save_table))] if rows else []),
        ],
        bottom=_next(tab, rows),
    )


def _table(save: Callable[[], Awaitable[None]]) -> ft.Control:
    return button(
        "clinic-save-table", "Save as a table", save, icon=ft.Icons.TABLE_CHART_OUTLINED
    )


def _next(tab: Tab, rows: list[Mapping[str, Any]]) -> list[ft.Control]:
    exam_id = next_to_read(rows)
    read = tab.way(f"/clinic/record/{exam_id}")
    if not exam_id:
        return []
    return [
        button(
            "clinic-read-next",
            "Read the first one",
            read,
            icon=ft.Icons.ARTICLE_OUTLINED,
            kind="main",
        )
    ]


def _lists(
    tab: Tab,
    rows: list[Mapping[str, Any]],
    names: Mapping[str, str],
    count: int,
    more: Any,  # noqa: ANN401
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
    tab: Tab,
    rank: Rank,
    rows: list[Mapping[str, Any]],
    names: Mapping[str, str],
    count: int,
) -> list[ft.Control]:
    title = f"{HEADINGS[rank]} ({len(rows)})"
    first: ft.Control = heading(title)
    if rank in (Rank.URGENT_NOT_TOLD, Rank.URGENT):
        name = for_choice("clinic-summary", rank.name.lower())
        first = banner(name, title, Tone.URGENT)
    return [first, *(_row(tab, row, rank, names) for row in rows[:count])]


def _row(
    tab: Tab, row: Mapping[str, Any], rank: Rank, names: Mapping[str, str]
) -> ft.Control:
    exam_id = str(row["exam_id"])
    # The ends of a fork carry one exam id: each leads to its own bytes.
    version = f"/{row['hash']}" if row.get("is_fork") else ""
    go = tab.way(f"/clinic/record/{exam_id}{version}")
    lines = review_lines(row, names.get(str(row.get("device_id")), ""))
    icon = _ICONS[rank]
    name = for_choice("clinic-row", f"{exam_id}{version[:9]}")
    return line_button(name, review_title(row), "\n".join(lines), go, icon=icon)

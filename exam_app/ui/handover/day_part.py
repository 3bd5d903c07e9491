"""What the day list and a record say of the hand-over, and the ways to it."""

from collections.abc import Sequence
from functools import partial

import flet as ft

from exam_app.app.maintenance.phone_words import day_words, room_of
from exam_app.app.queries.kept_records import KeptRecord
from exam_app.app.view import hand_over_presenter as words
from exam_app.exchange.exchange import Exchange
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.ui.handover.hand_over import at_once, show_at_once
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.texts import quiet

HAND_OVER = "/hand-over"


def is_field(tab: Tab) -> bool:
    """Whether exams are handed over from here, and do not arrive."""
    return bool(tab.vault.settings.get("role", "field") == "field")


async def day_lines(tab: Tab, drafts: Sequence[OpenExam]) -> list[ft.Control]:
    """Say on the day list what has not reached the clinic, urgent records first."""
    if not is_field(tab):
        return []
    rows = [
        row
        for row, state in Exchange(tab.vault).not_handed_over()
        if words.is_not_there(state)
    ]
    at_risk = day_words(await room_of(tab.session.opener), len(rows) + len(drafts))
    warned = [identified("day-room", quiet(at_risk))] if at_risk else []
    return [*_urgent(tab, rows), *_count(tab, rows), *warned]


def _urgent(tab: Tab, rows: Sequence[ClosedExam]) -> list[ft.Control]:
    text = words.urgent_words(rows)
    if not text:
        return []
    # One button: a row of them would push the open exams off a phone's screen.
    first = at_once(tab, words.urgent_first(rows)[0])
    return [banner("day-urgent-waits", text, Tone.NOTICE, first)]


def _count(tab: Tab, rows: Sequence[ClosedExam]) -> list[ft.Control]:
    go = tab.way(HAND_OVER)
    count, _, since = words.standing_count(rows).rstrip(".").partition("; ")
    if not count:
        return []
    # The count is the strong line: it is what a glance in the sun has to find.
    more = " · ".join(filter(None, ("Hand over", since)))
    return [line_button("day-waits", count, more, go, icon=ft.Icons.OUTBOX_OUTLINED)]


def day_way(tab: Tab) -> list[ft.Control]:
    """Lead to the hand-over from the foot of the day list."""
    if not is_field(tab):
        return []
    go, icon = tab.way(HAND_OVER), ft.Icons.OUTBOX_OUTLINED
    return [button("day-hand-over", "Hand over", go, icon=icon, size="exam")]


def record_ways(tab: Tab, kept: KeptRecord) -> list[ft.Control]:
    """Offer the codes of one record that the clinic has not confirmed."""
    exam_id = kept.exam.exam_id
    state = Exchange(tab.vault).state_of(exam_id)
    if not is_field(tab) or not words.is_not_there(state):
        return []
    show = partial(show_at_once, tab, exam_id)
    name, icon = "record-hand-over", ft.Icons.QR_CODE_2
    if not kept.exam.urgent:
        return [button(name, "Show codes of this record", show, icon=icon)]
    return [button(name, "Show to the clinic at once", show, icon=icon, kind="urgent")]

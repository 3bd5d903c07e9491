"""What the day list and a record say of the hand-over, and the ways to it."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import flet as ft

from exam_app.app.handover.outbox import is_paired
from exam_app.app.maintenance.phone_words import day_words, room_of
from exam_app.app.queries.day_list import urgent_lines
from exam_app.app.queries.kept_records import KeptRecord
from exam_app.app.view import hand_over_presenter as words
from exam_app.app.view.urgent_presenter import heard_words
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.signed_notes import notes_of
from exam_app.language.catalogue import tr
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.ui.handover.hand_over import at_once, show_at_once
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.urgent.telephone import open_telephone_of, telephone_button
from exam_app.ui.widgets.buttons import bar_button, button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.texts import quiet

HAND_OVER = "/hand-over"


def is_field(tab: Tab) -> bool:
    """Whether exams are handed over from here, and do not arrive."""
    return bool(tab.vault.settings.get("role", "field") == "field")


@dataclass(frozen=True, slots=True, repr=False)
class DayPart:
    """What the day list says of the hand-over: nothing at a clinic.

    Attributes:
        urgent: Urgent records that have not reached the clinic, the newest first.
        rest: How much waits, and what the browser may clear.
    """

    urgent: Sequence[ft.Control] = ()
    rest: Sequence[ft.Control] = ()


async def day_part(tab: Tab, drafts: Sequence[OpenExam]) -> DayPart:
    """Say on the day list what has not reached the clinic."""
    if not is_field(tab):
        return DayPart()
    rows = [
        row
        for row, state in Exchange(tab.vault).not_handed_over()
        if words.is_not_there(state)
    ]
    at_risk = day_words(await room_of(tab.session.opener), len(rows) + len(drafts))
    warned = [identified("day-room", quiet(at_risk))] if at_risk else []
    return DayPart(_urgent(tab, rows), [*_count(tab, rows), *warned])


def _urgent(tab: Tab, rows: Sequence[ClosedExam]) -> list[ft.Control]:
    named, icon = {row.exam_id: row for row in rows}, ft.Icons.PRIORITY_HIGH
    lines: list[ft.Control] = []
    for one in urgent_lines(rows):
        notes, _ = notes_of(tab.vault, one.key)
        heard = heard_words(signed.note.text for signed in notes)
        words_of = "\n".join(filter(None, (one.words, heard)))
        name, go = for_choice("day-urgent", one.key), tab.way(one.address)
        lines.append(line_button(name, one.title, words_of, go, icon=icon))
        if len(lines) == 1:
            # One button: a row of them would push the open exams off the screen.
            lines.append(at_once(tab, named[one.key]))
    return lines


def _count(tab: Tab, rows: Sequence[ClosedExam]) -> list[ft.Control]:
    go = tab.way(HAND_OVER)
    count, _, since = words.standing_count(rows).rstrip(".").partition("; ")
    if not count:
        return []
    # The count is the strong line: it is what a glance in the sun has to find.
    more = " · ".join(filter(None, (tr("Hand over"), since)))
    return [line_button("day-waits", count, more, go, icon=ft.Icons.OUTBOX_OUTLINED)]


def day_way(tab: Tab) -> list[ft.Control]:
    """Lead to the hand-over from the foot of the day list."""
    if not is_field(tab):
        return []
    go, icon = tab.way(HAND_OVER), ft.Icons.OUTBOX_OUTLINED
    return [bar_button("day-hand-over", tr("Hand over"), icon, go)]


def record_ways(tab: Tab, kept: KeptRecord) -> list[ft.Control]:
    """Offer the codes of one record that the clinic has not confirmed."""
    exam_id = kept.exam.exam_id
    state = Exchange(tab.vault).state_of(exam_id)
    if not is_field(tab) or not words.is_not_there(state):
        return []
    show = partial(show_at_once, tab, exam_id)
    name, icon = "record-hand-over", ft.Icons.QR_CODE_2
    if not kept.exam.urgent:
        return [button(name, tr("Show codes of this record"), show, icon=icon)]
    by_voice = telephone_button(
        "record-telephone", partial(open_telephone_of, tab, exam_id)
    )
    if not is_paired(tab.vault):
        return [by_voice]
    label = tr("Show to the clinic at once")
    return [button(name, label, show, icon=icon, kind="urgent"), by_voice]

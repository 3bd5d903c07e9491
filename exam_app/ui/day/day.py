"""The first screen after unlocking: what must be done first, then what was closed.

Beside it the plan of the day, place by place.
"""

from collections.abc import Container, Sequence
from datetime import datetime

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_sessions import ExamNotHereError, open_exam
from exam_app.app.maintenance.phone_words import newer_words, release_of
from exam_app.app.queries import day_plan
from exam_app.app.queries.bite_concerns import (
    animals_with_concern,
    name_with_concern,
    those_with_concern,
)
from exam_app.app.queries.clinic_records import is_clinic
from exam_app.app.queries.day_list import DayLine, open_lines, recheck_lines
from exam_app.app.queries.day_plan import Stop, left_words, places_today
from exam_app.app.queries.kennel_cards import housed_animals
from exam_app.domain.animal.signalment import species_shown
from exam_app.language.catalogue import to_translate, tr, tr_context
from exam_app.paper.fonts import Font
from exam_app.paper.printing import print_day_list
from exam_app.paper.sheet import PageSize
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.ui.animal.animals import open_adding
from exam_app.ui.clinic import home as clinic_home
from exam_app.ui.handover.day_part import day_part, day_way
from exam_app.ui.paper.print_sheet import Printable, print_button
from exam_app.ui.record.records import name_of, record_line
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import bar_button, button
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import heading, quiet, side_by_side, stack

_ICONS = {
    "to do": ft.Icons.RADIO_BUTTON_UNCHECKED,
    "open": ft.Icons.EDIT_NOTE,
    "closed": ft.Icons.TASK_ALT,
}
_MOST_PLACES = 12


async def build_plan(tab: Tab) -> Screen:
    """Build the plan."""
    places = day_plan.places_today(tab.session)
    stops = [stop.animal_id for _, found in places for stop in found]
    bitten = those_with_concern(tab.vault, stops)

    return Screen(
        title=tr("Plan for today"),
        subtitle=day_plan.left_words(places),
        back="/",
        body=[
            *([] if places else [quiet(tr(_EMPTY))]),
            *(_place(tab, place, stops, bitten) for place, stops in places),
            *_whole_places(tab),
        ],
        bottom=[
            button("plan-add", tr("Choose an animal"), tab.way("/animals"), kind="lead")
        ],
    )


_EMPTY = to_translate(
    "Nothing is planned. Choose an animal and tap “Plan”, or take every "
    "animal of a place."
)


def _place(
    tab: Tab, place: str, stops: tuple[Stop, ...], bitten: frozenset[str]
) -> ft.Control:
    lines = (_line(tab, stop, stop.animal_id in bitten) for stop in stops)
    return stack(heading(_place_words(place)), *lines, spacing=8)


def _place_words(place: str) -> str:
    """Return a place as it was written; of none the words for it."""
    return tr(place) if place == day_plan.NO_PLACE else place


def _state_words(state: str) -> str:
    words = {
        "to do": tr_context("exam", "to do"),
        "open": tr_context("exam", "open"),
        "closed": tr_context("exam", "closed"),
    }
    return words[state]


def _line(tab: Tab, stop: Stop, has_bitten: object) -> ft.Control:
    state = {"to do": "start", "open": "exam", "closed": "record"}[stop.state]

    async def drop() -> None:
        await day_plan.drop(tab.session, stop.animal_id)
        await tab.show_route()

    line = line_button(
        for_choice("plan-line", stop.animal_id),
        name_with_concern(stop.name, has_bitten),
        f"{species_shown(stop.species)} · {_state_words(stop.state)}",
        tab.way(f"/{state}/{stop.exam_id or stop.animal_id}"),
        icon=_ICONS[stop.state],
    )
    line.expand = True
    name, label = (
        for_choice("plan-drop", stop.animal_id),
        tr("Take {name} off the plan", name=stop.name),
    )
    off = button(name, label, drop, kind="icon", icon=ft.Icons.CLOSE)
    return ft.Row([line, off], spacing=8)


def _whole_places(tab: Tab) -> list[ft.Control]:
    """Offer every place that animals of this device stand at."""
    at: dict[str, list[str]] = {}
    for animal in tab.vault.animals.all():
        if animal.place:
            at.setdefault(animal.place, []).append(animal.animal_id)
    if not at:
        return []

    def whole(number: int, place: str) -> ft.Control:
        async def take() -> None:
            await day_plan.add(tab.session, at[place])
            await tab.show_route()

        name, label = (
            for_choice("plan-place", str(number)),
            f"{place} ({len(at[place])})",
        )
        return button(name, label, take, size="exam")

    shown = list(at)[:_MOST_PLACES]
    buttons = [whole(*one) for one in enumerate(shown)]
    return [heading(tr("Plan every animal of a place")), evenly(buttons)]


async def build(tab: Tab) -> Screen:
    """Build the clinic's overview, or a field device's day."""
    if is_clinic(tab.vault):
        return await clinic_home.build(tab)
    return await build_day(tab)


_LOOKED_THROUGH = 200
_SHOWN_BEFORE_TODAY = 10


async def exam_or_day(tab: Tab, exam_id: str) -> ExamEditor | Screen:
    """Open an exam; where there is no such open exam, say why and build the day.

    An old address names one that was closed since, or it was typed by hand.
    """
    try:
        return await open_exam(tab.session, exam_id)
    except ExamNotHereError as refusal:
        tab.tell(tr(refusal.advice))
        return await build(tab)


async def build_day(tab: Tab) -> Screen:
    """Build the day list."""
    drafts = tab.vault.drafts.open()
    closed = tab.vault.closed.latest(_LOOKED_THROUGH)
    today = f"{datetime.now().astimezone():%Y-%m-%d}"
    todays = [row for row in closed if row.closed[:10] == today]
    before = [row for row in closed if row not in todays][:_SHOWN_BEFORE_TODAY]
    bitten = animals_with_concern(drafts, closed)

    def record(row: ClosedExam) -> ft.Control:
        return record_line(tab, "day-closed", row, name_of(row, bitten))

    def closed_at(exam_id: str) -> str:
        return next((row.closed for row in tab.vault.closed.revisions(exam_id)), "")

    def draw() -> ft.Control:
        lines = open_lines(drafts, closed_at, lambda row: _starter(tab, row), today)
        return stack(
            *(_day_line(tab, "day-draft", one, bitten, _OPEN) for one in lines)
        )

    # A line names who began the exam, unless it is the one who examines now.
    open_exams = Slot(draw, hides_empty=True)
    part = await day_part(tab, drafts)
    asked = await tab.session.read(lambda: recheck_lines(tab.vault))
    first = [
        *part.urgent,
        *(_day_line(tab, "day-recheck", one, bitten, _ASKED) for one in asked),
        *([open_exams.control] if drafts else []),
        *_planned(tab),
        *part.rest,
    ]
    kennel = button("kennel-open", tr("Kennel cards"), tab.way("/kennel"), size="exam")
    newer = newer_words(await release_of(tab.session.opener))
    # Those of earlier days stay in reach, and what was discarded.
    is_any = closed or tab.vault.drafts.discarded()
    records = button("records", tr("All records"), tab.way("/records"), size="exam")
    ways = [
        *([records] if is_any else []),
        # Where animals are taken in.
        *([kennel] if housed_animals(drafts, closed) else []),
        *([print_button(tab, _day_list(tab, todays))] if todays else []),
    ]
    return Screen(
        title=tr("Today"),
        subtitle=tab.vault.settings.get("practice", ""),
        body=[
            *_group(tr("To do first"), first),
            *_group(tr("Closed today"), [record(row) for row in todays]),
            *_group(tr("Closed before"), [record(row) for row in before]),
            *([side_by_side(*ways)] if ways else []),
            *([] if drafts or closed else [quiet(tr(_FIRST))]),
            *([identified("day-release", quiet(newer))] if newer else []),
        ],
        bottom=[_bar(tab)],
        on_person=open_exams.refresh,
    )


def _day_list(tab: Tab, rows: Sequence[ClosedExam]) -> Printable:
    """Return the list of what was closed today, for the veterinarian."""

    def made(size: PageSize, font: Font) -> bytes:
        title = "Closed today, for the veterinarian"
        return print_day_list(tab.vault, rows, title, size, font)

    return Printable("day-list", tr("Day list for the veterinarian"), made)


def _bar(tab: Tab) -> ft.Control:
    """Lead on from the foot: icons with words, in one row."""
    find, plan = tab.way("/animals"), tab.way("/plan")
    buttons = [
        bar_button("day-new", tr("Animals"), ft.Icons.PETS, find),
        bar_button("day-add", tr("New"), ft.Icons.ADD_CIRCLE, lambda: open_adding(tab)),
        bar_button("plan-open", tr("Plan"), ft.Icons.CHECKLIST, plan),
        *day_way(tab),
    ]
    return ft.Row([*buttons], spacing=4)


def _planned(tab: Tab) -> list[ft.Control]:
    """Say how much of today's plan is left; nothing without a plan."""
    places = places_today(tab.session)
    words, icon = left_words(places), ft.Icons.CHECKLIST
    if not words:
        return []
    names = ", ".join(_place_words(place) for place, _ in places)
    return [line_button("day-plan", words, names, tab.way("/plan"), icon=icon)]


_FIRST = to_translate("No exams yet. “New” adds an animal; “Animals” finds one.")
_OPEN, _ASKED = ft.Icons.EDIT_NOTE, ft.Icons.REPLAY


def _day_line(
    tab: Tab, group: str, line: DayLine, bitten: Container[str], icon: ft.IconData
) -> ft.Control:
    title = name_with_concern(line.title, line.animal_id in bitten)
    go = tab.way(line.address)
    return line_button(for_choice(group, line.key), title, line.words, go, icon=icon)


def _group(title: str, lines: list[ft.Control]) -> list[ft.Control]:
    return [heading(title), *lines] if lines else []


def _starter(tab: Tab, row: OpenExam) -> str:
    """Name who began an open exam, where it was not the one who examines now."""
    if row.person_id == tab.person.person_id:
        return ""
    starter = tab.vault.people.get(row.person_id)
    return starter.name if starter else ""

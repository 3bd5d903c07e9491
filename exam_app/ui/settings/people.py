"""The people this device knows: change the examiner, add somebody."""

from typing import Any

import flet as ft

from exam_app.app.forms.form import Form
from exam_app.app.forms.person_form import ASKS, ROLE_LABELS, person_of, problem_of
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.texts import quiet, section, side_by_side, strong

_ROLES = dict(ROLE_LABELS)


def open_sheet(tab: Tab) -> None:
    """Offer everybody known, so that the examiner changes in two taps."""
    now = tab.person["person_id"]
    buttons = [_person_button(tab, p, now) for p in tab.vault.people.all()]

    def lock() -> None:
        tab.close_sheet()
        tab.session.rest()
        tab.cover()

    tab.open_sheet(
        "Who examines now?",
        *buttons,
        ft.Divider(),
        side_by_side(
            button("lock-now", "Lock", lock, icon=ft.Icons.LOCK_OUTLINE),
            button("people-open", "People", tab.way("/people"), icon=ft.Icons.GROUP),
            button(
                "settings-open",
                "Settings",
                tab.way("/settings"),
                icon=ft.Icons.SETTINGS,
            ),
        ),
    )


def _person_button(tab: Tab, person: dict[str, Any], now: str) -> ft.Control:
    person_id, is_now = person["person_id"], person["person_id"] == now

    async def examines(who: str) -> None:
        await tab.session.choose_person(who)
        tab.show_person()

    async def choose() -> None:
        before = tab.person["person_id"]
        await examines(person_id)
        tab.close_sheet()
        if before != person_id:
            tab.tell(f"{person['name']} examines now.", lambda: examines(before))

    label = f"{person['name']} · {_ROLES.get(person['role'], person['role'])}"
    return button(
        for_choice("person", person_id),
        label,
        choose,
        kind="main" if is_now else "other",
        icon=ft.Icons.CHECK if is_now else ft.Icons.PERSON,
    )


async def build(tab: Tab) -> Screen:
    """Build the list of people, with the form for a new one."""
    form = Form(ASKS)
    problem = ProblemNotice("person-problem")

    async def save() -> None:
        if problem.say(problem_of(form)):
            return
        person, vault = person_of(form), tab.vault

        def put() -> None:
            with vault.transaction():
                vault.people.put(person)
                vault.people.set_pin(person["person_id"], form["pin"])

        await tab.save(put)
        await tab.redraw()
        tab.tell(f"{person['name']} was added.")

    drawn = FormView(form, size="usual").controls()
    return Screen(
        title="People",
        back="/",
        body=[
            section("Known on this device", *map(_line, tab.vault.people.all())),
            section("Add somebody", *drawn, problem.control),
            side_by_side(button("person-save", "Add this person", save, kind="main")),
            quiet(
                "Names are claims. The signature under a record proves which device "
                "closed it, not which person."
            ),
        ],
    )


def _line(person: dict[str, Any]) -> ft.Control:
    role = _ROLES.get(person["role"], person["role"])
    licence = f" · licence {person['licence']}" if person.get("licence") else ""
    return ft.Column(
        [strong(person["name"]), quiet(f"{person['initials']} · {role}{licence}")],
        spacing=2,
    )

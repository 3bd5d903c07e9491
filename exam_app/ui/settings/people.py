"""The people this device knows: change the examiner, add somebody."""

import flet as ft

from exam_app.app.forms.form import Form
from exam_app.app.forms.person_form import ASKS, ROLE_LABELS, person_of, problem_of
from exam_app.domain.exam.people import Person
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.texts import quiet, section, strong

ROUTE = "/people"
_ROLES = dict(ROLE_LABELS)


def open_sheet(tab: Tab) -> None:
    """Offer everybody known, so that the examiner changes in two taps."""
    now = tab.person.person_id
    buttons = [_person_button(tab, p, now) for p in tab.vault.people.all()]

    def lock() -> None:
        tab.close_sheet()
        tab.session.rest()
        tab.cover()

    is_there = (tab.page.route or "").startswith("/settings")
    way, icon = tab.way("/settings"), ft.Icons.SETTINGS
    settings = (
        [] if is_there else [button("settings-open", tr("Settings"), way, icon=icon)]
    )
    tab.open_sheet(
        tr("Who examines now?"),
        *buttons,
        ft.Divider(),
        evenly(
            [
                button("lock-now", tr("Lock"), lock, icon=ft.Icons.LOCK_OUTLINE),
                *settings,
                button(
                    "people-open",
                    tr("Add a colleague"),
                    lambda: open_adding(tab),
                    icon=ft.Icons.PERSON_ADD,
                ),
            ]
        ),
    )


def _person_button(tab: Tab, person: Person, now: str) -> ft.Control:
    person_id, is_now = person.person_id, person.person_id == now

    async def examines(who: str) -> None:
        await tab.session.choose_person(who)
        tab.show_person()

    async def choose() -> None:
        before = tab.person.person_id
        await examines(person_id)
        tab.close_sheet()
        if before != person_id:
            tab.tell(
                tr("{name} examines now.", name=person.name), lambda: examines(before)
            )

    label = f"{person.name} · {tr(_ROLES[person.role])}"
    return button(
        for_choice("person", person_id),
        label,
        choose,
        kind="main" if is_now else "other",
        icon=ft.Icons.CHECK if is_now else ft.Icons.PERSON,
    )


def open_adding(tab: Tab) -> None:
    """Ask for somebody new over the screen that is open, which stays as it is."""
    typed = tab.typed("person-new", to_translate("A colleague"))
    form = Form(ASKS, typed=typed)
    problem = ProblemNotice("person-problem")

    async def save() -> None:
        name, sentence = problem_of(form)
        view.show_problem(name, sentence)
        if problem.say(sentence):
            return
        person, vault, sheet = person_of(form), tab.vault, tab.sheet

        def put() -> None:
            with vault.transaction():
                vault.people.put(person)
                vault.people.set_pin(person.person_id, form["pin"])

        await tab.save(put)
        form.drop()
        tab.close_only(sheet)
        if tab.page.route == ROUTE:
            await tab.show_route()
        tab.tell(tr("{name} was added.", name=person.name))

    # Beside its button the sentence goes too, once anything is corrected.
    view = FormView(form, size="usual", on_change=lambda _: problem.clear())
    tab.open_sheet(
        tr("Add a colleague"),
        *view.controls(),
        problem.control,
        button("person-save", tr("Add this person"), save, kind="main"),
        typed=typed,
    )


async def build(tab: Tab) -> Screen:
    """Build the list of people."""
    return Screen(
        title=tr("People"),
        back="/settings",
        body=[
            section(tr("Known on this device"), *map(_line, tab.vault.people.all())),
            quiet(
                tr(
                    "Names are claims. The signature under a record proves which "
                    "device closed it, not which person."
                )
            ),
        ],
        bottom=[
            button(
                "person-add",
                tr("Add a colleague"),
                lambda: open_adding(tab),
                kind="main",
                icon=ft.Icons.PERSON_ADD,
            )
        ],
    )


def _line(person: Person) -> ft.Control:
    said = [person.initials, tr(_ROLES[person.role])]
    if person.licence:
        said.append(tr("licence {number}", number=person.licence))
    return ft.Column([strong(person.name), quiet(" · ".join(said))], spacing=2)

"""How long owner details are kept, what is due, what was erased, and the backups."""

import flet as ft

from exam_app.app.exam_sessions import now
from exam_app.app.forms.form import Ask, Form, Kind
from exam_app.domain.animal.signalment import species_shown
from exam_app.exchange.erasing import (
    MOST_YEARS,
    Due,
    due,
    retention_years,
    set_retention,
)
from exam_app.exchange.exchange import Erasure, Exchange
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.repositories.reports import Backup
from exam_app.ui.animal.erase_owner import open_erasing
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, stack

_KEPT = to_translate(
    "For how many years does your practice keep the names and numbers of owners after "
    "an animal's last exam? The law of your place may say. What is due is listed here; "
    "nothing is ever erased by itself."
)
_YEARS = Ask(
    "years",
    to_translate("Years"),
    hint=to_translate("Empty: no time is set, and nothing is listed."),
    kind=Kind.NUMBER,
)
_DETAILS = {
    "name": to_translate("name"),
    "phone": to_translate("phone"),
    "address": to_translate("address"),
    "other": to_translate("other"),
}
_NO_DATE = to_translate("No closed exam tells a date; look yourself")


async def build(tab: Tab) -> Screen:
    """Build the screen."""
    today = now().local().date()
    vault = tab.vault
    dated, undated = await tab.session.read(lambda: due(vault, today))
    return Screen(
        title=tr("Owner details"),
        subtitle=tr("How long they are kept"),
        back="/settings",
        body=[
            _draw_years(tab),
            *([_draw_group(tab, tr("Due"), dated)] if retention_years(vault) else []),
            *([_draw_group(tab, tr(_NO_DATE), undated)] if undated else []),
            *_draw_erasures(Exchange(vault).erasures.all()),
            *_draw_backups(tab),
        ],
    )


def _draw_years(tab: Tab) -> ft.Control:
    form = Form(
        (_YEARS,), "retention", {"years": str(retention_years(tab.vault) or "")}
    )
    view = FormView(form)

    async def save() -> None:
        text = form["years"]
        number = int(text) if text.isdecimal() else 0
        if text and not 1 <= number <= MOST_YEARS:
            view.show_problem(
                "years",
                tr(
                    "Write a whole number from 1 to {most}.",
                    most=MOST_YEARS,
                ),
            )
            return
        await tab.save(lambda: set_retention(tab.vault, number or None))
        await tab.show_route()
        tab.tell(tr("Saved."))

    return section(
        tr("How long"),
        paragraph(tr(_KEPT)),
        *view.controls(),
        side_by_side(button("retention-save", tr("Save"), save, kind="main")),
    )


def _draw_group(tab: Tab, title: str, found: tuple[Due, ...]) -> ft.Control:
    if not found:
        return section(title, quiet(tr("Nothing is due.")))
    lines = [_draw_due(tab, one) for one in found]
    return identified("retention-due", section(title, *lines))


def _draw_due(tab: Tab, one: Due) -> ft.Control:
    async def erase() -> None:
        await open_erasing(tab, one.animal_id, one.name)

    text = f"{one.name}, {species_shown(one.species)}: {one.seen}"
    name = for_choice("retention-erase", one.animal_id)
    return _line(text, button(name, tr("Erase owner details"), erase))


def _line(text: str, action: ft.Control) -> ft.Control:
    return stack(paragraph(text), side_by_side(action))


def _draw_erasures(erasures: list[Erasure]) -> list[ft.Control]:
    if not erasures:
        return []
    lines = [paragraph(_erasure_words(one)) for one in reversed(erasures)]
    return [identified("retention-erased", section(tr("Erased here"), *lines))]


def _erasure_words(one: Erasure) -> str:
    named = (tr(_DETAILS.get(name, name)) for name in one.fields)
    details = ", ".join(named) or tr("names typed in exams")
    return f"{one.when}, {one.by}: {details}. {tr(one.reason)}"


def _draw_backups(tab: Tab) -> list[ft.Control]:
    made = tab.vault.backups.all()
    if not made:
        return []
    said = quiet(tr("Each holds what was kept on its day, with the owners of then."))
    lines = [_draw_backup(tab, one) for one in made]
    return [section(tr("Backups made here"), said, *lines)]


def _draw_backup(tab: Tab, one: Backup) -> ft.Control:
    async def gone() -> None:
        by = tab.person.name
        await tab.save(lambda: tab.vault.backups.mark_destroyed(one.key, by))
        await tab.show_route()
        tab.tell(tr("It is named no more."))

    action = button(
        for_choice("retention-gone", one.key), tr("I have destroyed it"), gone
    )
    return _line(f"{one.at}: {one.where}", action)

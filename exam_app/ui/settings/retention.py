"""How long owner details are kept, what is due, what was erased, and the backups."""

from datetime import datetime
from typing import Any

import flet as ft

from exam_app.domain.animal.signalment import species_words
from exam_app.exchange.erasing import (
    MOST_YEARS,
    Due,
    due,
    retention_years,
    set_retention,
)
from exam_app.exchange.exchange import Exchange
from exam_app.ui.animal.erase_owner import open_erasing
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, stack

_KEPT = (
    "For how many years does your practice keep the names and numbers of owners after "
    "an animal's last exam? The law of your place may say. What is due is listed here; "
    "nothing is ever erased by itself."
)
_NO_DATE = "No closed exam tells a date; look yourself"


async def build(tab: Tab) -> Screen:
    """Build the screen."""
    today = datetime.now().astimezone().date()
    vault = tab.vault
    dated, undated = await tab.session.read(lambda: due(vault, today))
    return Screen(
        title="Owner details",
        subtitle="How long they are kept",
        back="/settings",
        body=[
            _draw_years(tab),
            *([_draw_due(tab, dated)] if retention_years(vault) else []),
            *([_draw_group(tab, _NO_DATE, undated)] if undated else []),
            *_draw_erasures(Exchange(vault).erasures.all()),
            *_draw_backups(tab),
        ],
    )


def _draw_years(tab: Tab) -> ft.Control:
    years = retention_years(tab.vault)
    field = text_field(
        "retention-years",
        "Years",
        value=str(years or ""),
        keyboard=ft.KeyboardType.NUMBER,
        hint="Empty: no time is set, and nothing is listed.",
    )

    async def save() -> None:
        text = field.value.strip()
        number = int(text) if text.isdecimal() else 0
        if text and not 1 <= number <= MOST_YEARS:
            field.show_problem(f"Write a whole number from 1 to {MOST_YEARS}.")
            return
        await tab.save(lambda: set_retention(tab.vault, number or None))
        await tab.redraw()
        tab.tell("Saved.")

    return section(
        "How long",
        paragraph(_KEPT),
        field.control,
        side_by_side(button("retention-save", "Save", save, kind="main")),
    )


def _draw_due(tab: Tab, found: tuple[Due, ...]) -> ft.Control:
    if not found:
        return section("Due", quiet("Nothing is due."))
    return _draw_group(tab, "Due", found)


def _draw_group(tab: Tab, title: str, found: tuple[Due, ...]) -> ft.Control:
    lines = [_draw_line(tab, one) for one in found]
    return identified("retention-due", section(title, *lines))


def _draw_line(tab: Tab, one: Due) -> ft.Control:
    async def erase() -> None:
        await open_erasing(tab, one.animal_id, one.name)

    return stack(
        paragraph(f"{one.name}, {species_words(one.species)}: {one.seen}"),
        side_by_side(
            button(
                for_choice("retention-erase", one.animal_id),
                "Erase owner details",
                erase,
            )
        ),
    )


def _draw_erasures(erasures: list[dict[str, Any]]) -> list[ft.Control]:
    if not erasures:
        return []
    lines = [
        paragraph(f"{one['when']}, {one['by']}: {_fields(one)}. {one['reason']}")
        for one in reversed(erasures)
    ]
    return [identified("retention-erased", section("Erased here", *lines))]


def _fields(erasure: dict[str, Any]) -> str:
    return ", ".join(erasure["fields"]) or "names typed in exams"


def _draw_backups(tab: Tab) -> list[ft.Control]:
    made = tab.vault.backups.all()
    if not made:
        return []
    said = quiet("Each holds what was kept on its day, with the owners of then.")
    lines = [_draw_backup(tab, one) for one in made]
    return [section("Backups made here", said, *lines)]


def _draw_backup(tab: Tab, one: dict[str, Any]) -> ft.Control:
    async def gone() -> None:
        by = str(tab.person["name"])
        await tab.save(lambda: tab.vault.backups.mark_destroyed(one["key"], by))
        await tab.redraw()
        tab.tell("It is named no more.")

    return stack(
        paragraph(f"{one['at']}: {one['where']}"),
        side_by_side(
            button(
                for_choice("retention-gone", one["key"]), "I have destroyed it", gone
            )
        ),
    )

"""What was set aside, until a person admits or drops it and says why."""

from collections.abc import Mapping
from functools import partial
from typing import Any

import flet as ft

from exam_app.app.clinic.imports import admit_set_apart, drop_set_apart
from exam_app.app.exam_sessions import now, person_now
from exam_app.app.queries import clinic_records
from exam_app.app.view import clinic_quarantine_presenter as words_of
from exam_app.exchange.exchange import Exchange
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import Kind, button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side

# The sheet's title, what the decision means, and the button.
_DECISIONS: dict[str, tuple[str, str, str, Kind]] = {
    "admit": ("Admit it among the records?", words_of.ADMIT, "Admit it", "main"),
    "drop": ("Drop it?", words_of.DROP, "Drop it for good", "urgent"),
}


async def build(tab: Tab) -> Screen:
    """Build the list of what waits, and what was decided before."""
    vault = tab.vault
    entries = await tab.session.read(Exchange(vault).quarantine.all)
    names = await tab.session.read(lambda: clinic_records.device_names(vault))
    held = [entry for entry in entries if words_of.is_held(entry)]
    decided = [entry for entry in entries if not words_of.is_held(entry)]
    past = [paragraph(words_of.decided_line(entry, names)) for entry in decided[-20:]]
    return Screen(
        title="Set aside",
        subtitle="Kept sealed, and not among the records.",
        back="/",
        body=[
            *(
                [_entry(tab, entry, names) for entry in held]
                or [quiet("Nothing waits.")]
            ),
            *([section("Decided before", *past)] if past else []),
        ],
    )


def _entry(tab: Tab, entry: Mapping[str, Any], names: Mapping[str, str]) -> ft.Control:
    short = str(entry["key"])[:12]
    admit = partial(_open_decision, tab, entry, "admit")
    drop = partial(_open_decision, tab, entry, "drop")
    admitting = button(for_choice("clinic-admit", short), "Admit", admit)
    box = section(
        words_of.title(entry, names),
        paragraph(words_of.reason_words(entry)),
        quiet(words_of.details(entry)),
        side_by_side(
            *([admitting] if words_of.can_be_admitted(entry) else []),
            button(for_choice("clinic-drop", short), "Drop", drop),
        ),
    )
    return identified(for_choice("clinic-set-aside", short), box)


async def _decided(tab: Tab, key: str, why: str, way: str) -> str:
    vault, by, at = tab.vault, person_now(tab.session).name, now()
    if way == "drop":
        await tab.save(lambda: drop_set_apart(vault, key, at, by, why))
        return "Dropped. What was decided stays in the list."
    is_demo = tab.session.is_demo
    answered = await tab.save(
        lambda: admit_set_apart(vault, key, at, by, why, is_demo=is_demo)
    )
    return answered.problem or "Admitted. What was in it can be reviewed now."


def _open_decision(tab: Tab, entry: Mapping[str, Any], way: str) -> None:
    title, meaning, label, kind = _DECISIONS[way]
    typed = tab.typed(f"set-aside/{entry['key']}/{way}", title)
    reason = text_field("clinic-reason", "Why", lines=2, typed=typed)

    async def decide() -> None:
        if not reason.value:
            reason.show_problem("Write why. It is kept with your name.")
            return
        told = await _decided(tab, str(entry["key"]), reason.value, way)
        typed.drop()
        tab.close_sheet()
        await tab.redraw()
        tab.tell(told)

    deciding = button("clinic-reason-save", label, decide, kind=kind)
    tab.open_sheet(title, paragraph(meaning), reason.control, deciding, typed=typed)

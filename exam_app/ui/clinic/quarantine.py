"""What was set aside, until a person admits or drops it and says why."""

from collections.abc import Mapping
from functools import partial

import flet as ft

from exam_app.app.clinic.imports import admit_set_apart, drop_set_apart
from exam_app.app.exam_sessions import now
from exam_app.app.forms.form import Ask, Form
from exam_app.app.view import clinic_quarantine_presenter as words_of
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.incoming import HELD, SetApart
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import Kind, button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import nothing_yet
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side

_WHY = Ask(
    "why",
    to_translate("Why"),
    lines=2,
    required=to_translate("Write why. It is kept with your name."),
    identifier="clinic-reason",
)
# The sheet's title, what the decision means, and the button.
_DECISIONS: dict[str, tuple[str, str, str, Kind]] = {
    "admit": (
        to_translate("Admit it among the records?"),
        words_of.ADMIT,
        to_translate("Admit it"),
        "main",
    ),
    "drop": (
        to_translate("Drop it?"),
        words_of.DROP,
        to_translate("Drop it for good"),
        "urgent",
    ),
}


_NOTHING = to_translate(
    "Nothing waits. What cannot be stored as it came will stand here until a person "
    "decides."
)


async def build(tab: Tab) -> Screen:
    """Build the list of what waits, and what was decided before."""
    vault = tab.vault
    entries = await tab.session.read(Exchange(vault).quarantine.all)
    names = await tab.session.read(Exchange(vault).pairing.names)
    held = [entry for entry in entries if entry.state == HELD]
    decided = [entry for entry in entries if entry.state != HELD]
    past = [paragraph(words_of.decided_line(entry, names)) for entry in decided[-20:]]
    return Screen(
        title=tr("Set aside"),
        subtitle=tr("Kept sealed, and not among the records."),
        back="/",
        body=[
            *(
                [_entry(tab, entry, names) for entry in held]
                or [nothing_yet(tr(_NOTHING))]
            ),
            *([section(tr("Decided before"), *past)] if past else []),
        ],
    )


def _entry(tab: Tab, entry: SetApart, names: Mapping[str, str]) -> ft.Control:
    short = entry.key[:12]
    admit = partial(_open_decision, tab, entry, "admit")
    drop = partial(_open_decision, tab, entry, "drop")
    admitting = button(for_choice("clinic-admit", short), tr("Admit"), admit)
    box = section(
        words_of.title(entry, names),
        paragraph(words_of.reason_words(entry)),
        quiet(words_of.details(entry)),
        side_by_side(
            *([admitting] if words_of.can_be_admitted(entry) else []),
            button(for_choice("clinic-drop", short), tr("Drop"), drop),
        ),
    )
    return identified(for_choice("clinic-set-aside", short), box)


async def _decided(tab: Tab, key: str, why: str, way: str) -> str:
    vault, by, at = tab.vault, tab.person.name, now()
    if way == "drop":
        await tab.save(lambda: drop_set_apart(vault, key, at, by, why))
        return tr("Dropped. What was decided stays in the list.")
    answered = await tab.save(lambda: admit_set_apart(vault, key, at, by, why))
    return answered.problem or tr("Admitted. What was in it can be reviewed now.")


def _open_decision(tab: Tab, entry: SetApart, way: str) -> None:
    title, meaning, label, kind = _DECISIONS[way]
    typed = tab.typed(f"set-aside/{entry.key}/{way}", title)
    view, sheet = FormView(Form((_WHY,), typed=typed)), OwnSheet(tab)

    async def decide() -> None:
        if not view.is_complete():
            return
        told = await _decided(tab, entry.key, view.form["why"], way)
        typed.drop()
        await sheet.show_anew()
        tab.tell(told)

    deciding = button("clinic-reason-save", tr(label), decide, kind=kind)
    drawn = (paragraph(tr(meaning)), *view.controls(), deciding)
    sheet.open(tr(title), *drawn, typed=typed)

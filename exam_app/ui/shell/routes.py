"""The table of screens, and of the notices drawn above every one of them.

The first entry is the first screen after unlocking. A screen is added by one line.
A screen's module is loaded when it is first shown, so that the first screen of all
does not wait for the others; ``load_screens_gently`` loads what is not there yet.
"""

import asyncio
import importlib
from collections.abc import Callable
from typing import Any

import flet as ft

from exam_app.language.catalogue import tr
from exam_app.protocols.loader import available, load_protocol
from exam_app.ui.shell.page_controller import Notice, Tab, Watcher
from exam_app.ui.shell.screen import Route
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.notices import Tone, banner


def unconfirmed_code(tab: Tab) -> list[ft.Control]:
    """Ask for a new recovery code while none was written down for certain."""
    way = tab.way("/settings/access")
    is_confirmed = tab.vault.settings.get("recovery_confirmed", default=False)
    if tab.session.is_demo or is_confirmed:
        return []
    return [
        banner(
            "code-missing",
            tr(
                "No recovery code was written down. A forgotten passphrase would lose "
                "every exam. Replace the recovery code in the settings."
            ),
            Tone.NOTICE,
            *(
                []
                if tab.page.route == "/settings/access"
                else [button("code-missing-open", tr("Settings"), way)]
            ),
        )
    ]


_modules: list[str] = []


def _screen(module: str, function: str = "build") -> Callable[..., Any]:
    """Stand for a function whose module is loaded at its first call."""
    name = f"exam_app.ui.{module}"
    _modules.append(name)

    def call(*given: Any, **named: Any) -> Any:  # noqa: ANN401
        return getattr(importlib.import_module(name), function)(*given, **named)

    return call


ROUTES: tuple[Route, ...] = (
    Route("/", _screen("day.day")),
    Route("/day", _screen("day.day", "build_day")),
    Route("/animals", _screen("animal.animals")),
    Route("/animal/new/{species}", _screen("animal.animal_edit", "build_new")),
    Route("/animal/{animal_id}", _screen("animal.animal_edit")),
    Route("/history/{animal_id}", _screen("animal.history")),
    Route("/history/{animal_id}/{exam_id}", _screen("animal.history")),
    Route("/group/new/{species}", _screen("animal.animal_edit", "build_group")),
    Route("/litter/new/{species}", _screen("animal.litter")),
    Route("/plan", _screen("day.day", "build_plan")),
    Route("/start/{animal_id}", _screen("exam.start")),
    Route("/round/{exam_id}", _screen("round.round_sheet")),
    Route("/round/{exam_id}/words", _screen("words.round_words")),
    Route("/exam/{exam_id}", _screen("exam.exam")),
    Route("/exam/{exam_id}/region/{region_id}", _screen("region.region")),
    Route("/exam/{exam_id}/words", _screen("words.words")),
    Route("/exam/{exam_id}/vitals", _screen("exam.exam", "build_vitals")),
    Route("/exam/{exam_id}/count/{vital_id}", _screen("vital.count")),
    Route("/exam/{exam_id}/count/{vital_id}/{seconds}", _screen("vital.count")),
    Route("/exam/{exam_id}/tap/{vital_id}", _screen("vital.tap_pad")),
    Route("/exam/{exam_id}/review", _screen("exam.review")),
    Route("/records", _screen("record.records")),
    Route("/record/{exam_id}", _screen("record.record")),
    Route("/record/{exam_id}/draft", _screen("record.record", "build_draft")),
    Route("/record/{exam_id}/together", _screen("record.record", "build_together")),
    Route("/kennel", _screen("animal.kennel", "build_list")),
    Route("/kennel/{animal_id}", _screen("animal.kennel")),
    Route("/hand-over", _screen("handover.hand_over")),
    Route("/hand-over/codes/{numbers}", _screen("handover.player")),
    Route("/hand-over/receipt/{number}", _screen("handover.receipt")),
    Route("/pair", _screen("handover.pair_clinic")),
    Route("/people", _screen("settings.people")),
    Route("/settings", _screen("settings.settings")),
    Route("/settings/upkeep", _screen("settings.stored_exams")),
    Route("/settings/owners", _screen("settings.retention")),
    Route("/settings/export", _screen("settings.whole_export")),
    Route("/settings/table", _screen("animal.from_table")),
    Route("/settings/sources", _screen("settings.sources")),
    Route("/settings/sources/{species}", _screen("settings.sources", "build_species")),
    Route("/settings/{group}", _screen("settings.settings", "build_group")),
    Route("/about", _screen("settings.sources", "build_about")),
    Route("/clinic/pair", _screen("clinic.devices", "build_pairing")),
    Route("/clinic/devices", _screen("clinic.devices")),
    Route("/clinic/receive", _screen("clinic.receive")),
    Route("/clinic/receipt/{bundle_hash}", _screen("clinic.receipt")),
    Route("/clinic/review", _screen("clinic.review")),
    Route("/clinic/record/{exam_id}", _screen("clinic.review", "build_record")),
    Route(
        "/clinic/record/{exam_id}/{record_hash}",
        _screen("clinic.review", "build_record"),
    ),
    Route("/clinic/versions/{exam_id}", _screen("clinic.versions")),
    Route("/clinic/animals", _screen("clinic.animals")),
    Route("/clinic/quarantine", _screen("clinic.quarantine")),
    Route("/clinic/day-pack", _screen("clinic.day_pack")),
)

NOTICES: tuple[Notice, ...] = (
    unconfirmed_code,
    _screen("settings.language", "notice"),
    _screen("urgent.urgent_list", "notice"),
    _screen("animal.bite_notice", "notice"),
    _screen("exam.handling_warnings", "notice"),
    _screen("exam.seen_earlier", "notice"),
)

WATCHERS: tuple[Watcher, ...] = (_screen("exam.handling_stop", "look"),)


async def load_screens_gently(
    wait_seconds: float = 1.0, pause_seconds: float = 0.1
) -> None:
    """Load every screen and species one after the other, answering taps in between.

    All species at once are a second of work, and adding an animal waited for it.

    Args:
        wait_seconds: Left to the page before, to draw its first screen.
        pause_seconds: Left between two of them: a tap is answered in some turns of the
            loop, and would wait for one species in each.
    """
    await asyncio.sleep(wait_seconds)
    for name in _modules:
        await asyncio.sleep(0)
        importlib.import_module(name)
    for species in available():
        await asyncio.sleep(pause_seconds)
        load_protocol(species)

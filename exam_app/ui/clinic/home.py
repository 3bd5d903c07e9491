"""The clinic's first screen: what must be read, what came, what is missing."""

import flet as ft

from exam_app.app.clinic.imports import receiving_of, take_in_spool
from exam_app.app.exam_sessions import now
from exam_app.app.queries import clinic_records
from exam_app.app.queries.clinic_records import Overview
from exam_app.app.view.clinic_arrival_presenter import (
    arrived_line,
    clock_lines,
    gap_lines,
)
from exam_app.app.view.clinic_review_presenter import (
    Rank,
    is_acknowledged,
    next_to_read,
    rank_of,
    summary,
)
from exam_app.exchange.spool import spooled
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.texts import paragraph, section, side_by_side

_NOTHING = to_translate(
    "Nothing has arrived yet. Each hand-over will stand here with what became of it."
)
_NO_DEVICE = to_translate(
    "No device is paired yet. Pair the first one; after that its hand-overs can be "
    "received here."
)


async def build(tab: Tab) -> Screen:
    """Build the overview."""
    await _take_in_spool(tab)
    found = await tab.session.read(lambda: clinic_records.overview(tab.vault))
    receive, review = tab.way("/clinic/receive"), tab.way("/clinic/review")
    scan, check = ft.Icons.QR_CODE_SCANNER, ft.Icons.FACT_CHECK_OUTLINED
    receiving = button(
        "clinic-receive", tr("Receive"), receive, icon=scan, kind="main", size="exam"
    )
    return Screen(
        title=tr("Clinic"),
        subtitle=tab.vault.settings.get("practice", ""),
        body=[
            _to_read(tab, found),
            *_notices(tab, found),
            _arrived(found),
            _places(tab, found),
        ],
        bottom=[
            receiving,
            button("clinic-review", tr("Review"), review, icon=check, size="exam"),
        ],
    )


async def _take_in_spool(tab: Tab) -> None:
    vault, folder = tab.vault, tab.session.folder
    if any(True for _ in spooled(folder)):
        await tab.save(lambda: take_in_spool(vault, folder, now()))


def _to_read(tab: Tab, found: Overview) -> ft.Control:
    first = next_to_read(found.rows)
    waiting = [rank_of(row) for row in found.rows if not is_acknowledged(row)]
    presses = any(rank <= Rank.URGENT for rank in waiting)
    tone = Tone.URGENT if presses else Tone.NOTICE if first else Tone.PLAIN
    read = tab.way(f"/clinic/record/{first}")
    reading = button("clinic-read-next", tr("Read the first one"), read)
    buttons = [reading] if first else []
    return banner("clinic-summary", summary(found.rows), tone, *buttons)


def _notices(tab: Tab, found: Overview) -> list[ft.Control]:
    sentences = [
        *((line, "devices") for line in gap_lines(found.devices)),
        *((line, "devices") for line in clock_lines(found.devices)),
        *((line, "spool") for line in receiving_of(tab.vault).spool),
    ]
    drawn: list[ft.Control] = [
        banner(for_choice("clinic-notice", kind), line, Tone.NOTICE)
        for line, kind in sentences
    ]
    held = tr_plural(
        "{count} hand-over or record set aside and waiting.",
        "{count} hand-overs or records set aside and waiting.",
        found.held,
    )
    asked = tr_plural(
        "{count} question open about animals.",
        "{count} questions open about animals.",
        found.questions,
    )
    counted = (
        (found.held, held, "clinic-quarantine", tr("Look")),
        (found.questions, asked, "clinic-joins", tr("Decide")),
    )
    routes = ("/clinic/quarantine", "/clinic/animals")
    for (count, words, name, label), route in zip(counted, routes, strict=True):
        if count:
            notice, way = for_choice("clinic-notice", name), tab.way(route)
            drawn.append(banner(notice, words, Tone.NOTICE, button(name, label, way)))
    return drawn


def _arrived(found: Overview) -> ft.Control:
    names = {one.device.device_id: one.device.name for one in found.devices}
    lines = [paragraph(arrived_line(bundle, names)) for bundle in found.bundles]
    empty = paragraph(tr(_NOTHING if found.devices else _NO_DEVICE))
    box = section(tr("What arrived"), *(lines or [empty]))
    return identified("clinic-arrived", box)


def _places(tab: Tab, found: Overview) -> ft.Control:
    aside = for_choice("clinic-quarantine", "open")
    places = [
        ("clinic-devices", tr("Paired devices"), "/clinic/devices"),
        ("clinic-day-pack", tr("Day pack to a device"), "/clinic/day-pack"),
        ("clinic-animals", tr("Which animal is it?"), "/clinic/animals"),
        (aside, tr("Set aside"), "/clinic/quarantine"),
        ("clinic-own-exams", tr("Examine here"), "/day"),
    ]
    if not found.devices:
        places.insert(0, ("clinic-pair", tr("Pair a device"), "/clinic/pair"))
    buttons = [button(name, label, tab.way(route)) for name, label, route in places]
    return section(tr("More"), side_by_side(*buttons))

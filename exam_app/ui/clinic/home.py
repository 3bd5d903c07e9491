"""The clinic's first screen: what must be read, what came, what is missing."""

import flet as ft

from exam_app.app.clinic.imports import session_of, take_in_spool
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
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side
from exam_app.ui.widgets.ways import way

_NO_DEVICE = (
    "No device is paired yet. Pair the first one; after that its hand-overs can be "
    "received here."
)


async def build(tab: Tab) -> Screen:
    """Build the overview."""
    await _take_in_spool(tab)
    found = await tab.session.read(lambda: clinic_records.overview(tab.vault))
    return Screen(
        title="Clinic",
        subtitle=tab.vault.settings.get("practice", ""),
        body=[
            _to_read(tab, found),
            *_notices(tab, found),
            _arrived(found),
            _places(tab, found),
        ],
        bottom=[
            button(
                "clinic-receive",
                "Receive",
                way(tab, "/clinic/receive"),
                icon=ft.Icons.QR_CODE_SCANNER,
                kind="main",
                size="exam",
            ),
            button(
                "clinic-review",
                "Review",
                way(tab, "/clinic/review"),
                icon=ft.Icons.FACT_CHECK_OUTLINED,
                size="exam",
            ),
        ],
    )


async def _take_in_spool(tab: Tab) -> None:
    vault, folder, is_demo = tab.vault, tab.session.folder, tab.session.is_demo
    if any(True for _ in spooled(folder)):
        await tab.save(lambda: take_in_spool(vault, folder, now(), is_demo=is_demo))


def _to_read(tab: Tab, found: Overview) -> ft.Control:
    first = next_to_read(found.rows)
    waiting = [rank_of(row) for row in found.rows if not is_acknowledged(row)]
    presses = any(rank <= Rank.URGENT for rank in waiting)
    tone = Tone.URGENT if presses else Tone.NOTICE if first else Tone.PLAIN

    async def read() -> None:
        await tab.go(f"/clinic/record/{first}")

    buttons = [button("clinic-read-next", "Read the first one", read)]
    words = summary(found.rows)
    text = f"Urgent: {words}" if presses else words
    box = banner("clinic-summary", text, tone)
    return ft.Column([box, *([side_by_side(*buttons)] if first else [])], tight=True)


def _notices(tab: Tab, found: Overview) -> list[ft.Control]:
    sentences = [
        *((line, "devices") for line in gap_lines(found.devices)),
        *((line, "devices") for line in clock_lines(found.devices)),
        *((line, "spool") for line in session_of(tab.vault).spool),
    ]
    drawn: list[ft.Control] = [
        banner(for_choice("clinic-notice", kind), line, Tone.NOTICE)
        for line, kind in sentences
    ]
    counted = (
        (found.held, "set aside and waiting", "clinic-quarantine", "Look"),
        (found.questions, "open about animals", "clinic-joins", "Decide"),
    )
    routes = ("/clinic/quarantine", "/clinic/animals")
    for (count, what, name, label), route in zip(counted, routes, strict=True):
        if count:
            drawn.append(_question(tab, count, what, name, label, route))
    return drawn


def _question(
    tab: Tab, count: int, what: str, name: str, label: str, route: str
) -> ft.Control:
    async def go() -> None:
        await tab.go(route)

    noun = "question" if name == "clinic-joins" else "hand-over or record"
    plural = noun if count == 1 else noun.replace("hand-over", "hand-overs") + "s"
    action = button(name, label, go)
    kind = for_choice("clinic-notice", name)
    return ft.Column(
        [banner(kind, f"{count} {plural} {what}.", Tone.NOTICE), side_by_side(action)],
        tight=True,
    )


def _arrived(found: Overview) -> ft.Control:
    names = {str(d["device_id"]): str(d["name"]) for d in found.devices}
    lines = [paragraph(arrived_line(bundle, names)) for bundle in found.bundles]
    empty = quiet("Nothing yet." if found.devices else _NO_DEVICE)
    box = section("What arrived", *(lines or [empty]))
    return identified("clinic-arrived", box)


def _places(tab: Tab, found: Overview) -> ft.Control:
    ways = (
        ("clinic-devices", "Paired devices", "/clinic/devices"),
        ("clinic-day-pack", "Day pack to a device", "/clinic/day-pack"),
        ("clinic-animals", "Which animal is it?", "/clinic/animals"),
        (
            for_choice("clinic-quarantine", "open"),
            "Set aside",
            "/clinic/quarantine",
        ),
        ("clinic-own-exams", "Examine here", "/day"),
    )
    buttons = [_place(tab, *way) for way in ways]
    if not found.devices:
        pair = ("clinic-pair", "Pair a device", "/clinic/pair")
        buttons.insert(0, _place(tab, *pair))
    return section("More", side_by_side(*buttons))


def _place(tab: Tab, name: str, label: str, route: str) -> ft.Control:
    async def go() -> None:
        await tab.go(route)

    return button(name, label, go)

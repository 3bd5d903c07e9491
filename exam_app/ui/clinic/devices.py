"""Paired devices: what came last, what is missing, and trusting one no more."""

from collections.abc import Mapping
from functools import partial
from typing import Any

import flet as ft

from exam_app.app.exam_sessions import now, person_now
from exam_app.app.queries import clinic_records
from exam_app.app.view import clinic_pairing_presenter as words_of
from exam_app.exchange.exchange import Exchange
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side


async def build(tab: Tab) -> Screen:
    """Build the list of devices."""
    devices = await tab.session.read(lambda: clinic_records.device_rows(tab.vault))
    return Screen(
        title="Paired devices",
        subtitle=tab.vault.settings.get("practice", ""),
        back="/",
        body=[_device(tab, device) for device in devices]
        or [quiet("No device is paired yet.")],
        bottom=[
            button(
                "clinic-pair",
                "Pair a device",
                tab.way("/clinic/pair"),
                icon=ft.Icons.ADD_LINK,
                kind="main",
            )
        ],
    )


def _device(tab: Tab, device: Mapping[str, Any]) -> ft.Control:
    device_id = str(device["device_id"])
    lines = [paragraph(words_of.device_line(device))]
    lines += [quiet(line) for line in words_of.device_details(device)]
    buttons = [_give_up(tab, device)] if device.get("missing") else []
    if device.get("revoked_after") is None:
        name = for_choice("clinic-revoke", device_id)
        revoke = partial(_open_revoke, tab, device)
        buttons.append(button(name, "Trust it no more", revoke, icon=ft.Icons.BLOCK))
    box = section(str(device.get("name") or "Device"), *lines, side_by_side(*buttons))
    return identified(for_choice("clinic-device", device_id), box)


def _give_up(tab: Tab, device: Mapping[str, Any]) -> ft.Control:
    device_id = str(device["device_id"])
    missing = tuple(device["missing"])

    async def given_up() -> None:
        vault, by, at = tab.vault, person_now(tab.session).name, now().utc_ms

        def put() -> None:
            with vault.transaction():
                for number in missing:
                    Exchange(vault).incoming.give_up(device_id, number, by, at)

        await tab.save(put)
        await tab.redraw()
        tab.tell("Noted with your name. If it comes after all, it is taken.")

    return button(
        for_choice("clinic-more", device_id), "It will not come any more", given_up
    )


def _open_revoke(tab: Tab, device: Mapping[str, Any]) -> None:
    device_id, name = str(device["device_id"]), str(device.get("name") or "Device")
    last = int(device.get("last_sequence") or 0)
    number = text_field(
        "clinic-revoke-after",
        "Last bundle that is still trusted",
        value=str(last),
        keyboard=ft.KeyboardType.NUMBER,
        hint=f"{last} came last. If the device was lost earlier, write a lower number.",
    )

    async def revoke() -> None:
        problem = words_of.revoke_problem(number.value)
        if problem:
            number.show_problem(problem)
            return
        vault, by, at = tab.vault, person_now(tab.session).name, now().utc_ms
        good = int(number.value)
        await tab.save(
            lambda: Exchange(vault).pairing.revoke_device(device_id, good, at, by)
        )
        tab.close_sheet()
        await tab.redraw()
        tab.tell(f"{name} is trusted no more.")

    tab.open_sheet(
        f"Trust {name} no more?",
        paragraph(words_of.REVOKE_NOTE),
        paragraph("What was received up to that number stays as it is."),
        number.control,
        button("clinic-revoke-save", "Trust it no more", revoke, kind="urgent"),
    )

"""Paired devices, trusting one no more, and pairing one: card, answer, six words."""

import asyncio
from functools import partial

import flet as ft

from exam_app.app.clinic import pairing as clinic_pairing
from exam_app.app.clinic import pictures as clinic_pictures
from exam_app.app.exam_sessions import now
from exam_app.app.queries import clinic_records
from exam_app.app.queries.clinic_records import DeviceNow
from exam_app.app.view import clinic_pairing_presenter as words_of
from exam_app.domain.errors import ExamError
from exam_app.exchange.exchange import Exchange
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.code_in import CodeIn
from exam_app.ui.widgets.code_out import still_code, text_and_file
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import nothing_yet
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot, is_on_page
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, strong
from sync.trust.cards import as_text
from sync.trust.pairing import Offer

_NO_DEVICE = to_translate(
    "No device is paired yet. Each one that is will stand here, with what it sent last."
)


async def build(tab: Tab) -> Screen:
    """Build the list of devices."""
    devices = await tab.session.read(lambda: clinic_records.devices_now(tab.vault))
    pair, icon = tab.way("/clinic/pair"), ft.Icons.ADD_LINK
    return Screen(
        title=tr("Paired devices"),
        subtitle=tab.vault.settings.get("practice", ""),
        back="/",
        body=[_device(tab, device) for device in devices]
        or [nothing_yet(tr(_NO_DEVICE))],
        bottom=[
            button("clinic-pair", tr("Pair a device"), pair, icon=icon, kind="main")
        ],
    )


def _device(tab: Tab, shown: DeviceNow) -> ft.Control:
    device, device_id = shown.device, shown.device.device_id
    lines = [paragraph(words_of.device_line(shown))]
    lines += [quiet(line) for line in words_of.device_details(device)]
    buttons = [_give_up(tab, shown)] if shown.missing else []
    if device.revoked_after is None:
        name = for_choice("clinic-revoke", device_id)
        revoke = partial(_open_revoke, tab, shown)
        buttons.append(
            button(name, tr("Trust it no more"), revoke, icon=ft.Icons.BLOCK)
        )
    box = section(device.name or tr("Device"), *lines, side_by_side(*buttons))
    return identified(for_choice("clinic-device", device_id), box)


def _give_up(tab: Tab, shown: DeviceNow) -> ft.Control:
    device_id = shown.device.device_id

    async def given_up() -> None:
        vault, by, at = tab.vault, tab.person.name, now().utc_ms

        def put() -> None:
            with vault.transaction():
                for number in shown.missing:
                    Exchange(vault).incoming.give_up(device_id, number, by, at)

        await tab.save(put)
        await tab.show_route()
        tab.tell(tr("Noted with your name. If it comes after all, it is taken."))

    return button(
        for_choice("clinic-more", device_id), tr("It will not come any more"), given_up
    )


def _open_revoke(tab: Tab, shown: DeviceNow) -> None:
    device_id, name = shown.device.device_id, shown.device.name or tr("Device")
    last, sheet = shown.last_sequence, OwnSheet(tab)
    number = text_field(
        "clinic-revoke-after",
        tr("Last bundle that is still trusted"),
        value=str(last),
        keyboard=ft.KeyboardType.NUMBER,
        hint=tr(
            "{last} came last. If the device was lost earlier, write a lower number.",
            last=last,
        ),
    )

    async def revoke() -> None:
        if problem := words_of.revoke_problem(number.value):
            number.show_problem(problem)
            return
        vault, by, at = tab.vault, tab.person.name, now().utc_ms
        good = int(number.value)
        await tab.save(
            lambda: Exchange(vault).pairing.revoke_device(device_id, good, at, by)
        )
        await sheet.show_anew()
        tab.tell(tr("{name} is trusted no more.", name=name))

    sheet.open(
        tr("Trust {name} no more?", name=name),
        paragraph(tr(words_of.REVOKE_NOTE)),
        paragraph(tr("What was received up to that number stays as it is.")),
        number.control,
        button("clinic-revoke-save", tr("Trust it no more"), revoke, kind="urgent"),
    )


async def build_pairing(tab: Tab) -> Screen:
    """Build the step that pairing has reached: the card, or the six words."""
    waiting = clinic_pairing.waiting(tab.vault)
    if waiting is not None:
        return _compare(tab, waiting)
    offered = await tab.session.read(
        lambda: clinic_pairing.open_offer(tab.vault, now())
    )
    if offered is None:
        offered = await _make(tab)
    return _offer(tab, offered)


async def _make(tab: Tab) -> Offer:
    vault = tab.vault
    return await tab.save(lambda: clinic_pairing.new_offer(vault, now()))


def _offer(tab: Tab, offered: Offer) -> Screen:
    text = as_text(offered.card)
    countdown = Slot(lambda: _countdown(offered))
    tab.start(_count_down(countdown, offered))
    answer = _answer(tab)

    async def again() -> None:
        await _make(tab)
        await tab.show_route()

    return Screen(
        title=tr("Pair a device"),
        subtitle=tab.vault.settings.get("practice", ""),
        back="/clinic/devices",
        body=[
            paragraph(tr(words_of.HOW)),
            section(
                tr("This clinic's card"),
                still_code("clinic-card-code", text, tr("This clinic's card")),
                countdown.control,
                text_and_file(
                    tab,
                    "clinic-card",
                    text,
                    tr("This clinic's card"),
                    ("clinic.exam-card", offered.card),
                    tr("Copied. Paste it on the device."),
                ),
            ),
            section(
                tr("The device's answer"),
                answer.field.control,
                answer.problem.control,
                side_by_side(
                    button(
                        "clinic-answer-read", tr("Read it"), answer.read, kind="main"
                    ),
                    button("clinic-answer-file", tr("Open a file"), answer.pick),
                ),
                *answer.camera_parts(*clinic_pictures.what_is_missing()[:1]),
            ),
        ],
        bottom=[button("clinic-card-new", tr("Show a new card"), again)],
        on_leave=answer.camera.stop,
    )


def _countdown(offered: Offer) -> ft.Control:
    left = words_of.countdown_words(offered.view.expires_ms, now().utc_ms)
    return identified("clinic-countdown", strong(left))


async def _count_down(slot: Slot, offered: Offer) -> None:
    await asyncio.sleep(1)
    while is_on_page(slot.control) and now().utc_ms < offered.view.expires_ms:
        slot.refresh()
        await asyncio.sleep(1)
    slot.refresh()


def _answer(tab: Tab) -> CodeIn:
    """Make the ways in for a device's answer."""
    vault = tab.vault

    async def taken(sealed: bytes) -> bool:
        """Open an answer; True when the six words are shown now."""
        try:
            await tab.session.write(
                lambda: clinic_pairing.take_answer(vault, sealed, now())
            )
        except ExamError as error:
            ways.say(tr(error.advice))
            return False
        ways.say(tr(words_of.FINDING))
        await clinic_pairing.find_words(vault)
        await tab.show_route()
        return True

    ways = CodeIn(
        tab,
        "clinic-answer",
        tr("The device's answer"),
        taken,
        hint=tr("Paste it, or let a scanner type it here."),
        problem="clinic-pair-problem",
    )
    return ways


def _compare(tab: Tab, waiting: clinic_pairing.Waiting) -> Screen:
    asked = OwnSheet(tab)

    async def trust(*, again: bool = False) -> None:
        vault, by = tab.vault, tab.person.name
        name = await tab.save(
            lambda: clinic_pairing.trust(vault, now(), by, again=again)
        )
        await asked.go("/clinic/devices")
        tab.tell(
            tr("{name} is paired.", name=name)
            if name
            else tr("Show a new card and start again.")
        )

    async def same() -> None:
        await trust()

    async def trusted_again() -> None:
        await trust(again=True)

    async def differ() -> None:
        clinic_pairing.distrust(tab.vault)
        await tab.go("/clinic/devices")
        tab.tell(tr("Nothing was paired. Show a new card to start again."))

    def ask() -> None:
        said = map(paragraph, (*revoked, tr(words_of.AGAIN)))
        label = tr("Trust it again")
        way = button("clinic-trust-again", label, trusted_again, kind="urgent")
        asked.open(tr("Trust it again?"), *said, way)

    revoked = [words_of.revoked_words(device) for device in waiting.revoked]
    style = ft.TextThemeStyle.HEADLINE_SMALL
    numbered = words_of.numbered(waiting.words)
    lines = ft.Column([ft.Text(word, theme_style=style) for word in numbered])
    remarks = (
        tr(words_of.KNOWN) if waiting.is_known else "",
        tr(words_of.NAMESAKE) if waiting.has_namesake else "",
    )
    return Screen(
        title=tr("Compare six words"),
        subtitle=tr("Device: {name}", name=waiting.name),
        back="/clinic/devices",
        body=[
            paragraph(tr(words_of.COMPARE)),
            section(tr("Six words"), identified("clinic-words", lines)),
            *(quiet(remark) for remark in remarks if remark),
            *(banner("clinic-revoked", x, Tone.NOTICE) for x in revoked),
        ],
        bottom=[
            button(
                "clinic-words-same",
                tr("All six are the same"),
                ask if revoked else same,
                icon=ft.Icons.CHECK,
                kind="main",
            ),
            button("clinic-words-differ", tr("They differ"), differ, kind="urgent"),
        ],
    )

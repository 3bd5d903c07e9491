"""What became of a hand-over: the code to type, and the signed receipt."""

import flet as ft

from exam_app.app.clinic.imports import Answered, receiving_of
from exam_app.app.clinic.shared_folder import folder_of
from exam_app.app.view.clinic_arrival_presenter import (
    CODE_MEANS,
    NO_CODE,
    outcome_lines,
    outcome_summary,
    skew_words,
)
from exam_app.app.view.clinic_pairing_presenter import missing_words
from exam_app.domain.wording.phrases import capital
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import Received
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.code_out import copied, saved, still_code
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side
from sync.errors import BundleTooLargeError
from sync.trust.cards import as_text

_GONE = to_translate(
    "The code for typing is shown once, right after a hand-over was stored. Receive "
    "the same hand-over again to see it: every record is kept once."
)
_TOO_LONG = to_translate(
    "This receipt is too long for one code. Use the file or the folder."
)


def answered_box(tab: Tab, answered: Answered) -> ft.Control:
    """Draw one answer among others, with the way to its receipt."""
    received = answered.received
    short = answered.bundle_hash[:8]
    name = for_choice("clinic-arrived", short)
    if received is None:
        return banner(name, answered.problem, Tone.NOTICE)
    shown = for_choice("clinic-receipt-done", short)
    show = tab.way(f"/clinic/receipt/{answered.bundle_hash}")
    icon = ft.Icons.RECEIPT_LONG_OUTLINED
    box = section(
        _title(answered, received),
        paragraph(_summary(received)),
        *_code(received),
        *(quiet(line) for line in _remarks(answered, received)),
        side_by_side(button(shown, tr("Show the signed receipt"), show, icon=icon)),
    )
    return identified(name, box)


def arrived_words(answered: Answered) -> str:
    """Say in one line what became of a hand-over, with its code."""
    received = answered.received
    if received is None:
        return answered.problem
    said = f"{_title(answered, received)}: {_summary(received)}"
    code = received.receipt_code
    return tr("{arrived} Code: {code}", arrived=said, code=code) if code else said


def answered_line(tab: Tab, answered: Answered) -> ft.Control:
    """Draw one earlier answer as a line that leads to its receipt."""
    received = answered.received
    not_kept = tr("A photograph waits") if answered.waits else tr("Refused")
    title = _title(answered, received) if received else not_kept
    words = _summary(received) if received else answered.problem
    name = for_choice("clinic-receipt-done", answered.bundle_hash[:8])
    show = tab.way(f"/clinic/receipt/{answered.bundle_hash}")
    return line_button(name, title, words, show, icon=ft.Icons.RECEIPT_LONG_OUTLINED)


def _title(answered: Answered, received: Received) -> str:
    return tr(
        "Bundle {sequence} from {device}",
        sequence=received.receipt_view.sequence,
        device=answered.device,
    )


async def build(tab: Tab, bundle_hash: str) -> Screen:
    """Build the receipt of one stored hand-over."""
    vault = tab.vault
    answered = receiving_of(vault).answered.get(bundle_hash)
    received = answered.received if answered else None
    signed = await tab.session.read(
        lambda: Exchange(vault).incoming.receipt(bundle_hash)
    )
    body: list[ft.Control] = [quiet(tr(_GONE))]
    became: list[ft.Control] = []
    if answered is not None and received is not None:
        exams = [(e.name, e.outcome.value, e.reason) for e in received.exams]
        remarks = map(quiet, _remarks(answered, received))
        body = [*_code(received), *remarks]
        lines = map(paragraph, outcome_lines(exams))
        became = [section(tr("What became of it"), *lines)]
    if signed is not None:
        body.append(_signed(tab, signed, bundle_hash))
    body += became
    return Screen(
        title=tr("Receipt"),
        subtitle=bundle_hash[:16],
        back="/clinic/receive",
        body=body,
    )


def _summary(received: Received) -> str:
    exams = [(e.name, e.outcome.value, e.reason) for e in received.exams]
    said = f"{outcome_summary(exams)}."
    if not received.was_known:
        return said
    return tr("{summary} It was received before.", summary=said)


def _code(received: Received) -> list[ft.Control]:
    if not received.receipt_code:
        return [banner("clinic-receipt-code", tr(NO_CODE), Tone.NOTICE)]
    code = ft.Text(
        received.receipt_code,
        size=52,
        weight=ft.FontWeight.W_700,
        font_family="Roboto Mono",
    )
    return [identified("clinic-receipt-code", code), quiet(tr(CODE_MEANS))]


def _remarks(answered: Answered, received: Received) -> list[str]:
    reused = tr(
        "Another hand-over of this device had the same number: two copies of one "
        "device may be at work."
    )
    missing = missing_words(received.missing_sequences)
    remarks = (
        f"{capital(missing)}." if missing else "",
        skew_words(received.skew_ms),
        reused if received.is_number_reused else "",
        answered.problem,
    )
    return [remark for remark in remarks if remark]


def _signed(tab: Tab, signed: bytes, bundle_hash: str) -> ft.Control:
    text = as_text(signed)
    save = saved(tab, f"{bundle_hash[:16]}.exam-receipt", signed)
    copy = copied(tab, text, tr("Copied. Paste it on the device."))
    where = folder_of(tab.vault)
    told = (
        tr("It is in the folder too: {where}", where=where)
        if where
        else tr("No folder is set.")
    )
    return section(
        tr("Signed receipt"),
        paragraph(tr("With it, the device may delete what was stored here.")),
        _picture(text),
        side_by_side(
            button("clinic-receipt-file", tr("Save as a file"), save),
            button(for_choice("clinic-receipt-file", "copy"), tr("Copy as text"), copy),
        ),
        quiet(told),
    )


def _picture(text: str) -> ft.Control:
    try:
        return still_code("clinic-receipt-picture", text, tr("The signed receipt"))
    except BundleTooLargeError:
        return quiet(tr(_TOO_LONG))

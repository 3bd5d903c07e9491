"""Hand over: open exams first, then what waits, then codes, folder or file.

A phone's browser has no such folder; there files are opened and saved only.
"""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

import flet as ft

from exam_app.app.handover import outbox
from exam_app.app.handover.arrivals import (
    FOLDER,
    arrival_words,
    keep_arrived,
    look,
    put_bundles,
)
from exam_app.app.handover.photographs import put_photographs, to_send_words
from exam_app.app.view import hand_over_presenter as words
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outgoing import Outgoing
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.store.repositories.rows import ClosedExam
from exam_app.ui.handover.drafts import draft_section, undecided_drafts
from exam_app.ui.handover.photographs_part import photographs_section
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.urgent.telephone import open_telephone_of, telephone_button
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.even_rows import evenly
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.files import offer_file, pick_files, reaches_folders
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.texts import quiet, section, side_by_side, stack

_HINT = to_translate(
    "As the system writes it. The clinic's computer needs the same folder, or the "
    "same stick."
)


async def put_into_folder(tab: Tab, bundles: tuple[Outgoing, ...]) -> None:
    """Write bundles into the folder, or say that none is chosen."""
    root = tab.vault.settings.get(FOLDER, "")
    if not root:
        tab.tell(tr("Choose the folder below first; then put the hand-over into it."))
        return
    numbers = [bundle.sequence for bundle in bundles]
    whole = await tab.session.read(lambda: outbox.to_show(tab.vault, numbers))
    await tab.session.write(lambda: put_bundles(tab.vault, Path(root), whole))
    # They are there, whatever becomes of the photographs.
    await outbox.mark_shown(tab.session, whole)
    try:
        # What their records name goes with them; again it is the same file.
        await tab.session.write(lambda: put_photographs(tab.vault, Path(root)))
    finally:
        await tab.show_route()
    tab.tell(
        tr("Written into the folder. The clinic's receipt comes back the same way.")
    )


def _folder_section(tab: Tab, ways: Sequence[ft.Control]) -> ft.Control:
    """Choose the folder, and look for what the clinic put there.

    On a phone's browser: only open files, and save them.

    Args:
        tab: Where it is shown.
        ways: Buttons that put there what waits.
    """
    said = stack(*map(quiet, arrival_words(tab.vault)))
    told = identified("hand-folder-said", said, live=True)
    if not reaches_folders(tab):
        return section(tr("Files"), side_by_side(*ways, _open_files(tab)), told)
    kept = tab.vault.settings.get(FOLDER, "")
    path = text_field("hand-folder-path", tr("Folder"), value=kept, hint=tr(_HINT))

    async def choose() -> None:
        vault, typed = tab.vault, path.value
        if typed and not Path(typed).is_dir():
            path.show_problem(tr("There is no such folder now."))
            return
        path.show_problem(None)
        await tab.save(lambda: vault.settings.put(FOLDER, typed))
        tab.tell(
            tr("The folder was kept.") if typed else tr("No folder is used any more.")
        )

    async def search() -> None:
        root = tab.vault.settings.get(FOLDER, "")
        if not root:
            path.show_problem(tr("Write the folder first, and use it."))
            return
        await tab.save(lambda: look(tab.vault, Path(root)))
        await tab.show_route()

    label, icon = tr("Look for what the clinic sent"), ft.Icons.SYNC
    looking = button("hand-folder-look", label, search, icon=icon, kind="main")
    return section(
        tr("Folder and files"),
        path.control,
        side_by_side(button("hand-folder-save", tr("Use this folder"), choose), *ways),
        side_by_side(looking, _open_files(tab)),
        told,
    )


def _open_files(tab: Tab) -> ft.Control:
    async def opened() -> None:
        contents = [content for _, content in await pick_files(tab, several=True)]
        if contents:
            await tab.save(lambda: keep_arrived(tab.vault, contents))
            await tab.show_route()

    label = tr("Open files from the clinic")
    return button("hand-open", label, opened, icon=ft.Icons.FOLDER)


_UNPAIRED = to_translate(
    "This device is not paired with a clinic yet. Until it is, nothing can be handed "
    "over."
)
PLAYER = "/hand-over/codes/"
_RECEIVED_SHOWN = 5


async def build(tab: Tab) -> Screen:
    """Build the hand-over screen."""
    bundles = await tab.session.read(lambda: outbox.bundles(tab.vault))
    away = [bundle for bundle in bundles if bundle.state == words.SHOWN]
    there = [bundle for bundle in bundles if not words.is_not_there(bundle.state)]
    rows = Exchange(tab.vault).not_handed_over()
    missing = [row for row, state in rows if words.is_not_there(state)]
    waiting = [row for row, state in rows if state == words.WAITING]
    photographs = to_send_words(tab.vault)
    by_codes, by_file = _ways(tab, waiting)
    return Screen(
        title=tr("Hand over"),
        subtitle=outbox.clinic_name(tab.vault),
        back="/",
        body=[
            _count(tab, missing, photographs),
            *_unpaired(tab),
            *draft_section(tab),
            *_waiting(tab, waiting),
            *[_shown(tab, bundle) for bundle in away],
            *photographs_section(tab, photographs),
            _folder_section(tab, by_file),
            *[_received(tab, bundle) for bundle in there[:_RECEIVED_SHOWN]],
        ],
        bottom=by_codes,
    )


def _count(tab: Tab, missing: Sequence[ClosedExam], photographs: str) -> ft.Control:
    if text := words.standing_count(missing):
        return banner("hand-count", text, Tone.NOTICE)
    if photographs:
        said = tr(
            "Every record that was closed here has reached the clinic. {photographs}",
            photographs=photographs,
        )
        return banner("hand-count", said, Tone.NOTICE)
    calm = tr("Everything that was closed here has reached the clinic.")
    has_any = bool(tab.vault.closed.latest(1))
    return banner("hand-count", calm if has_any else tr("Nothing was closed yet."))


def _unpaired(tab: Tab) -> list[ft.Control]:
    pair = tab.way("/pair")
    if outbox.is_paired(tab.vault):
        return []
    way = button(for_choice("hand-pair", "open"), tr("Pair with a clinic"), pair)
    return [banner("hand-pair", tr(_UNPAIRED), Tone.NOTICE, way)]


def _waiting(tab: Tab, rows: Sequence[ClosedExam]) -> list[ft.Control]:
    if not rows:
        return []
    lines: list[ft.Control] = []
    urgent = words.urgent_first(rows)
    for row in (*urgent, *(row for row in rows if row not in urgent)):
        lines.append(
            line_button(
                for_choice("hand-row", row.exam_id),
                row.name,
                words.waits_line(row),
                tab.way(f"/record/{row.exam_id}"),
                icon=ft.Icons.PRIORITY_HIGH if row.is_urgent else ft.Icons.TASK_ALT,
            )
        )
        if row in urgent:
            lines.append(at_once(tab, row))
    title = tr_plural("Waits: {count} exam", "Waits: {count} exams", len(rows))
    return [section(title, *lines)]


def at_once(tab: Tab, row: ClosedExam) -> ft.Control:
    """Offer the codes of one urgent record, whatever else waits, and the telephone."""
    show = partial(show_at_once, tab, row.exam_id)
    name = for_choice("hand-urgent", row.exam_id)
    label = (
        tr("Show {name} at once", name=row.name) if row.name else tr("Show it at once")
    )
    by_voice = telephone_button(
        for_choice("hand-telephone", row.exam_id),
        partial(open_telephone_of, tab, row.exam_id),
    )
    if not outbox.is_paired(tab.vault):
        return by_voice
    code = button(name, label, show, icon=ft.Icons.QR_CODE_2, kind="urgent")
    return side_by_side(code, by_voice)


async def show_at_once(tab: Tab, exam_id: str) -> None:
    """Show the codes of one exam now: those it has already, or new ones."""
    if not outbox.is_paired(tab.vault):
        # Nobody near to pair with: it is told by voice instead.
        await open_telephone_of(tab, exam_id)
        return
    found = await outbox.hand_over(tab.session, [exam_id])
    if found:
        await tab.go(PLAYER + outbox.address(found))
    else:
        tab.tell(tr("The clinic has signed for this record already."))


async def _sealed(tab: Tab, exam_ids: Sequence[str]) -> tuple[Outgoing, ...]:
    """Seal exams once nothing open is undecided; nothing before."""
    if text := words.drafts_first(undecided_drafts(tab)):
        tab.tell(text)
        return ()
    return await outbox.hand_over(tab.session, exam_ids)


def _ways(
    tab: Tab, waiting: Sequence[ClosedExam]
) -> tuple[list[ft.Control], list[ft.Control]]:
    """Make the buttons that hand over all that waits: by codes; by folder and file."""
    if not waiting or not outbox.is_paired(tab.vault):
        return [], []
    exam_ids = [row.exam_id for row in waiting]

    async def codes() -> None:
        if found := await _sealed(tab, exam_ids):
            await tab.go(PLAYER + outbox.address(found))

    async def folder() -> None:
        if found := await _sealed(tab, exam_ids):
            await put_into_folder(tab, found)

    async def file() -> None:
        for bundle in await _sealed(tab, exam_ids):
            await _save(tab, bundle)
        await tab.show_route()

    count, icon = len(waiting), ft.Icons.QR_CODE_2
    into = tr_plural(
        "Put {count} exam into the folder", "Put {count} exams into the folder", count
    )
    save = tr_plural(
        "Save {count} exam as a file", "Save {count} exams as a file", count
    )
    show = tr_plural("Show codes ({count} exam)", "Show codes ({count} exams)", count)
    by_folder = button("hand-folder", into, folder, icon=ft.Icons.FOLDER)
    by_file = button("hand-file", save, file, icon=ft.Icons.SAVE_ALT)
    return (
        [button("hand-codes", show, codes, icon=icon, kind="main")],
        [by_folder, by_file] if reaches_folders(tab) else [by_file],
    )


async def _save(tab: Tab, bundle: Outgoing) -> None:
    shown = await tab.session.read(lambda: outbox.to_show(tab.vault, [bundle.sequence]))
    for one in shown:
        name = f"hand-over-{one.sequence}.exam-bundle"
        await offer_file(tab, name, one.sealed)
        await outbox.mark_shown(tab.session, [one])


def _shown(tab: Tab, bundle: Outgoing) -> ft.Control:
    """Show a bundle that was sealed and that the clinic has not confirmed."""
    key = str(bundle.sequence)
    receipt = button(
        for_choice("hand-receipt", key),
        tr("Receipt: code or file"),
        tab.way(f"/hand-over/receipt/{key}"),
        kind="main",
    )
    show, code = tab.way(f"{PLAYER}{key}"), ft.Icons.QR_CODE_2
    again = button(
        for_choice("hand-again", key), tr("Show codes again"), show, icon=code
    )
    folder = partial(put_into_folder, tab, (bundle,))
    into = button(for_choice("hand-folder", key), tr("Into the folder"), folder)
    save = partial(_save, tab, bundle)
    file = button(for_choice("hand-file", key), tr("As a file"), save)
    ways = [receipt, again, *([into] if reaches_folders(tab) else []), file]
    part = section(
        words.bundle_title(bundle.sequence, len(bundle.exam_ids)),
        quiet(f"{_told(tab, bundle)}."),
        evenly(ways),
    )
    return identified(for_choice("hand-bundle", key), part)


def _told(tab: Tab, bundle: Outgoing) -> str:
    names = words.names_of(outbox.rows_of(tab.vault, bundle))
    return f"{names}: {tr(words.STATE_WORDS[bundle.state])}"


def _received(tab: Tab, bundle: Outgoing) -> ft.Control:
    outcome = tab.way(f"/hand-over/receipt/{bundle.sequence}")
    return line_button(
        for_choice("hand-bundle", str(bundle.sequence)),
        words.bundle_title(bundle.sequence, len(bundle.exam_ids)),
        _told(tab, bundle),
        outcome,
        icon=ft.Icons.DONE_ALL,
    )

"""Erase an animal's owner details: what would go, why, by whom; then what is left."""

import flet as ft

from exam_app.app.exam_sessions import new_id, now
from exam_app.app.forms.form import Form, choice
from exam_app.exchange.erasing import (
    REASONS,
    Erased,
    Erasing,
    erase_owner,
    what_would_go,
)
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.vault.folder import empty_torn
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.form import FormView
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import banner
from exam_app.ui.widgets.pin import pin_part
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, side_by_side, stack, strong

_STAYS = to_translate(
    "This cannot be taken back. The records stay and their signatures stay valid. A "
    "signed note on each says which details were erased, when, by whom and why."
)
_LATER = to_translate(
    "Until the files are written anew they still hold the details, sealed. It takes "
    "seconds, and as much free room as the exams take."
)
_ANEW = to_translate("The files were written anew: nothing of it stays in them.")

_WHY = choice(
    "reason",
    to_translate("Why?"),
    tuple(REASONS.items()),
    required=to_translate("Choose why. Nothing was erased."),
)


async def open_erasing(tab: Tab, animal_id: str, name: str) -> None:
    """Ask in a sheet whether the owner details of an animal are erased."""
    would = await tab.session.read(lambda: what_would_go(tab.vault, animal_id))
    if not would:
        tab.tell(tr("No owner details of {name} are kept here.", name=name))
        return
    view = FormView(Form((_WHY,), "erase"), size="usual")

    async def erase() -> None:
        if view.is_complete():
            await _erase(tab, animal_id, name, view.form["reason"])

    tab.open_sheet(
        tr("Erase the owner of {name}", name=name),
        identified("erase-what", stack(*map(paragraph, would))),
        quiet(tr(_STAYS)),
        *view.controls(),
        pin_part(tab, tr("Erase owner details"), erase),
    )


async def _erase(tab: Tab, animal_id: str, name: str, reason: str) -> None:
    vault, session = tab.vault, tab.session
    erasing = Erasing(tab.person, now(), reason, new_id)
    # What is open in memory would bring it back with its next change.
    await session.typed.settle()
    for row in vault.drafts.every():
        if row.animal_id == animal_id:
            session.editors.pop(row.exam_id, None)
    erased = await tab.save(
        lambda: erase_owner(vault, session.folder, animal_id, erasing)
    )
    session.typed.load_anew()
    await tab.show_route()
    _show(tab, name, erased)


def _show(tab: Tab, name: str, erased: Erased) -> None:
    said: list[str] = []

    async def write() -> None:
        session = tab.session
        await session.write(tab.vault.rewrite)
        await empty_torn(session.folder, session.opener)
        said[:] = [tr(_ANEW)]
        files.refresh()

    def draw() -> ft.Control:
        if said:
            return banner("erase-files", said[0])
        ways = (
            button("erase-anew", tr("Write the files anew now"), write, kind="main"),
            button("erase-later", tr("Later"), tab.close_sheet, kind="quiet"),
        )
        return stack(quiet(tr(_LATER)), side_by_side(*ways))

    files = Slot(draw)
    held = [strong(tr("What still holds them")), *map(paragraph, erased.held)]
    told = stack(*map(paragraph, erased.erased), *held, spacing=8)
    shown = identified("erase-said", told)
    tab.open_sheet(tr("Erased: the owner of {name}", name=name), shown, files.control)

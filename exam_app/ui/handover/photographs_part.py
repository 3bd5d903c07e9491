"""The photographs of the hand-over screen: into the folder, or each as a file."""

from pathlib import Path

import flet as ft

from exam_app.app.handover import outbox
from exam_app.app.handover.arrivals import FOLDER
from exam_app.app.handover.photographs import photograph_files, put_photographs
from exam_app.app.view.photograph_subjects import photographs
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.files import offer_file, reaches_folders
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import paragraph, section, side_by_side

_UNTIL = to_translate(
    "Each is offered here until a list of the clinic, which comes the same way, says "
    "that it is held there."
)


def photographs_section(tab: Tab, said: str) -> list[ft.Control]:
    """Draw what waits and the ways for it; nothing where no photograph waits.

    Args:
        said: How many wait, as ``to_send_words`` says it; empty for none.
    """
    if not said or not outbox.is_paired(tab.vault):
        return []

    async def put() -> None:
        folder = tab.vault.settings.get(FOLDER, "")
        if not folder:
            tab.tell(
                tr("Choose the folder below first; then put the photographs into it.")
            )
            return
        count = await tab.save(lambda: put_photographs(tab.vault, Path(folder)))
        await tab.show_route()
        tab.tell(
            tr(
                "Written into the folder: {photographs}.",
                photographs=photographs(count),
            )
        )

    async def save() -> None:
        files = await tab.session.read(lambda: [*photograph_files(tab.vault)])
        for name, sealed in files:
            await offer_file(tab, name, sealed)
        tab.tell(
            tr(
                "Offered as files: {photographs}. Bring all of them.",
                photographs=photographs(len(files)),
            )
        )

    into, icon = tr("Put the photographs into the folder"), ft.Icons.FOLDER
    ways = [button("hand-photographs-file", tr("Save each as a file"), save)]
    if reaches_folders(tab):
        ways.insert(0, button("hand-photographs", into, put, icon=icon))
    words = identified("hand-photographs-said", paragraph(f"{said} {tr(_UNTIL)}"))
    return [section(tr("Photographs"), words, side_by_side(*ways))]

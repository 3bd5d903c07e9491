"""Pick files, and offer one to be saved, through the browser's own windows.

A file that is offered goes where the browser puts downloads; nobody tells whether it
was kept, so nothing is ever marked as done because of it.
"""

import flet as ft

from exam_app.store.engine.files import OwnPlace
from exam_app.ui.shell.page_controller import Tab


def reaches_folders(tab: Tab) -> bool:
    """Whether a path that is typed here is a folder that lasts.

    In a phone's browser it would lie in the page's memory and be lost with it.
    """
    return not isinstance(tab.session.opener, OwnPlace)


async def pick_files(tab: Tab, *, several: bool = False) -> list[tuple[str, bytes]]:
    """Let a person choose files.

    Returns:
        Name and content of each, in the order chosen; empty when none was.
    """
    picker = _picker(tab)
    files = await picker.pick_files(allow_multiple=several, with_data=True)
    return [(file.name, bytes(file.bytes or b"")) for file in files or []]


async def pick_picture(tab: Tab) -> bytes | None:
    """Let a person choose a picture; a phone offers its camera too.

    Returns:
        Its content; ``None`` where none was chosen.
    """
    files = await _picker(tab).pick_files(
        file_type=ft.FilePickerFileType.IMAGE,
        with_data=True,
        # The camera takes the page's place, and the picture comes after it is back.
        cancel_upload_on_window_blur=False,
    )
    return next((bytes(file.bytes or b"") for file in files or []), None)


async def offer_file(tab: Tab, name: str, content: bytes) -> None:
    """Offer a file for download under this name."""
    await _picker(tab).save_file(file_name=name, src_bytes=content)


async def copy_text(tab: Tab, text: str) -> None:
    """Put a text on the clipboard."""
    clipboard = ft.Clipboard()
    tab.page.services.append(clipboard)
    tab.page.update()
    await clipboard.set(text)


def _picker(tab: Tab) -> ft.FilePicker:
    for service in tab.page.services:
        if isinstance(service, ft.FilePicker):
            return service
    picker = ft.FilePicker()
    tab.page.services.append(picker)
    tab.page.update()
    return picker

"""A photograph as large as the window, and two of one find beside each other.

It lies over the page as a sheet does: Escape or the arrow in its corner leave it. Two
fingers or the wheel make it larger.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import flet as ft

from exam_app.app.view.photograph_presenter import ShownPhotograph
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.texts import heading, quiet, strong

_LARGEST_SCALE = 8


@dataclass(frozen=True, slots=True, repr=False)
class Pictured:
    """A photograph with its picture.

    Attributes:
        content: A JPEG; ``None`` where it has not come.
    """

    shown: ShownPhotograph
    content: bytes | None


def open_large(
    tab: Tab,
    title: str,
    pictures: Sequence[Pictured],
    ways: Sequence[ft.Control] = (),
    leave: Callable[[], object] | None = None,
) -> None:
    """Show one photograph over the whole window, or two side by side.

    Args:
        tab: Where it is shown.
        title: Names what is seen.
        pictures: From left to right, or on a phone from above to below.
        ways: Buttons below.
        leave: Called in place of going away, where it leads back to a sheet.
    """
    close = leave or tab.close_sheet
    back = button(
        "photo-close",
        tr("Back"),
        close,
        kind="icon",
        icon=ft.Icons.ARROW_BACK,
        autofocus=True,
    )
    top = ft.Row([back, ft.Container(heading(title, 2, is_small=True), expand=True)])
    seen: list[ft.Control] = [
        _large(number, one) for number, one in enumerate(pictures)
    ]
    shown: ft.Control
    if tab.is_wide:
        shown = ft.Row(seen, spacing=12, expand=True)
    else:
        shown = ft.Column(seen, spacing=8, expand=True)
    foot = [ft.Row([*ways], spacing=8)] if ways else []
    whole = ft.Column([top, shown, *foot], spacing=8, expand=True)
    tab.sheet = identified("photo-view", whole)
    tab.frame.lay_over("sheet", tab.sheet, on_outside=close, fills=True)


def _large(number: int, one: Pictured) -> ft.Control:
    below = [strong(one.shown.date), quiet(one.shown.title, lines=2)]
    if one.content is None:
        picture: ft.Control = ft.Container(
            quiet(tr("This photograph has not come yet.")),
            alignment=ft.Alignment.CENTER,
            expand=True,
        )
    else:
        image = ft.Image(
            src=one.content,
            fit=ft.BoxFit.CONTAIN,
            semantics_label=tr(
                "Photograph, {date}: {title}",
                date=one.shown.date,
                title=one.shown.title,
            ),
            expand=True,
        )
        viewer = ft.InteractiveViewer(
            ft.Row(
                [image],
                expand=True,
                vertical_alignment=ft.CrossAxisAlignment.STRETCH,
            ),
            max_scale=_LARGEST_SCALE,
            expand=True,
        )
        picture = viewer
    named = identified(for_choice("photo-large", str(number)), picture, expand=True)
    return ft.Column(
        [named, *below],
        spacing=2,
        expand=True,
        horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
    )

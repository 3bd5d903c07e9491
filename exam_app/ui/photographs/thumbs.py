"""Small pictures of photographs; a tap shows one large.

What a screen shows first is drawn before the pictures are read from the store.
"""

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.photographs import kept_picture
from exam_app.app.view.photograph_presenter import ShownPhotograph
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.photographs.large_view import Pictured
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import CORNER
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet

_WIDTH, _HEIGHT = 144, 108
_PADDING = 6
# What its pixels are unpacked to: a small picture takes little of a phone's memory.
_UNPACKED = 320
_WAITS = to_translate("waits: not here yet")
_DAMAGED = to_translate("not shown: its file was damaged")


@dataclass(slots=True, repr=False)
class Thumbs:
    """The photographs of a record or a finding, side by side.

    Attributes:
        shown: In their order.
        opened: Awaited with the one that is tapped.
        pictures: Those that were read, by hash; ``None`` where one is not here.
    """

    tab: Tab
    shown: Sequence[ShownPhotograph]
    opened: Callable[[Pictured], Awaitable[None]]
    pictures: dict[str, bytes | None] = field(default_factory=dict)
    slot: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Draw their places."""
        self.slot = Slot(self._draw)

    async def load(self) -> None:
        """Read the pictures, and show them."""
        for one in self.shown:
            if one.photo.sha256 not in self.pictures:
                self.pictures[one.photo.sha256] = await kept_picture(
                    self.tab.session, one.photo.sha256
                )
        self.slot.refresh()

    def _draw(self) -> ft.Control:
        return ft.Row(
            [self._thumb(one) for one in self.shown],
            wrap=True,
            spacing=8,
            run_spacing=8,
            vertical_alignment=ft.CrossAxisAlignment.START,
        )

    def _thumb(self, one: ShownPhotograph) -> ft.Control:
        content = self.pictures.get(one.photo.sha256)
        is_missing = one.photo.sha256 in self.pictures and content is None

        async def tapped() -> None:
            await self.opened(Pictured(one, content))

        if content is not None:
            picture: ft.Control = ft.Image(
                src=content,
                width=_WIDTH,
                height=_HEIGHT,
                fit=ft.BoxFit.COVER,
                cache_width=_UNPACKED,
                border_radius=CORNER,
                gapless_playback=True,
                exclude_from_semantics=True,
            )
        else:
            icon = ft.Icons.HOURGLASS_EMPTY if is_missing else ft.Icons.PHOTO_OUTLINED
            picture = ft.Container(
                ft.Icon(icon, size=40, color=ft.Colors.ON_SURFACE_VARIANT),
                width=_WIDTH,
                height=_HEIGHT,
                alignment=ft.Alignment.CENTER,
            )
        lacking = tr(_DAMAGED if one.is_here else _WAITS)
        said = lacking if is_missing else one.photo.caption
        words = ft.Container(quiet(said, lines=3), width=_WIDTH)
        drawn = ft.OutlinedButton(
            content=ft.Column([picture, words], spacing=4, tight=True),
            on_click=tapped,
            disabled=content is None,
            tooltip=tr("Photograph, {date}: {title}", date=one.date, title=one.title),
            style=ft.ButtonStyle(
                padding=_PADDING, shape=ft.RoundedRectangleBorder(radius=CORNER)
            ),
        )
        return identified(for_choice("photo-of", one.photo.sha256[:12]), drawn)

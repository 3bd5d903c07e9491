"""The photographs of a written record: small, large, beside an earlier one."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial

import flet as ft

from exam_app.app.photographs import kept_picture
from exam_app.app.view.photograph_presenter import (
    ShownPhotograph,
    earlier_of_same,
    shown_photographs,
    waiting_words,
)
from exam_app.app.view.photograph_subjects import same_find_words
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.photographs.large_view import Pictured, open_large
from exam_app.ui.photographs.thumbs import Thumbs
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.notices import Tone, banner

_WAYS_IN = to_translate(
    "They come by folder or file, never by codes: let the device hand over again that "
    "way, then receive from the folder."
)
# Earlier ones of the same find that are offered, the newest first.
_OFFERED = 2


def record_photographs(
    tab: Tab, exam: Exam, protocol: SpeciesProtocol
) -> list[ft.Control]:
    """Draw the photographs of a record, and how many wait; nothing where none are."""
    if not exam.photos:
        return []
    part = _RecordPart(tab, exam, protocol)
    tab.start(part.thumbs.load())
    return [*part.waits(), part.thumbs.slot.control]


@dataclass(slots=True, repr=False)
class _RecordPart:
    tab: Tab
    exam: Exam
    protocol: SpeciesProtocol
    thumbs: Thumbs = field(init=False)

    def __post_init__(self) -> None:
        shown = shown_photographs(self.tab.vault, self.exam, self.protocol)
        self.thumbs = Thumbs(self.tab, shown, self._open)

    def waits(self) -> list[ft.Control]:
        """Say how many are not here; nothing where all are."""
        said = waiting_words(self.tab.vault, self.exam)
        if not said:
            return []
        return [banner("photo-waits", f"{said}. {tr(_WAYS_IN)}", Tone.NOTICE)]

    async def _open(self, one: Pictured) -> None:
        session = self.tab.session
        earlier = await session.read(
            lambda: earlier_of_same(session.vault, self.exam, one.shown.photo)
        )
        self._show(one, earlier)

    def _show(self, one: Pictured, earlier: Sequence[ShownPhotograph]) -> None:
        ways = [self._beside(one, earlier, other) for other in earlier[:_OFFERED]]
        open_large(self.tab, one.shown.photo.caption, [one], ways)

    def _beside(
        self,
        one: Pictured,
        earlier: Sequence[ShownPhotograph],
        other: ShownPhotograph,
    ) -> ft.Control:
        async def both() -> None:
            content = await kept_picture(self.tab.session, other.photo.sha256)
            pair = [Pictured(other, content), one]
            pair.sort(key=lambda each: each.shown.date)
            title = same_find_words(self.exam, one.shown.photo)
            back = partial(self._show, one, earlier)
            open_large(
                self.tab, tr("The same find: {title}", title=title), pair, leave=back
            )

        name = for_choice("photo-beside", other.photo.sha256[:12])
        label = tr("Beside the one of {date}", date=other.date[:10])
        icon = ft.Icons.COMPARE
        return button(name, label, both, icon=icon, kind="tile", expand=1)

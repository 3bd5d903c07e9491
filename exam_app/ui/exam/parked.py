"""What was put off to later today: a landmark for each part, and a place at the end.

Each leads to the part's own row, which stays where it is from head to tail.
"""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.region_presenter import label_of
from exam_app.domain.protocol.protocol import Region
from exam_app.ui.shell.theme import GAP
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import heading

Go = Callable[[str], Awaitable[None]]


def parked_landmarks(editor: ExamEditor, go: Go, *, wraps: bool) -> ft.Control:
    """Make one landmark for each parked part; nothing while none is parked.

    Args:
        wraps: Whether they stand in rows, as on a laptop, and not in one that scrolls.
    """

    def draw() -> ft.Control:
        regions = parked_regions(editor)
        tiles = [_leading_to(editor, r, go, "exam-jump", "Parked: ") for r in regions]
        apart = ft.Padding.only(right=8 if tiles else 0)
        row = ft.Row(tiles, spacing=8, run_spacing=8, tight=True, wrap=wraps)
        return ft.Container(row, padding=apart)

    return Slot(draw, editor.view.parked).control


def parked_part(editor: ExamEditor, go: Go) -> ft.Control:
    """Name the parked parts after the last one, each leading back to its row."""

    def draw() -> ft.Control:
        regions = parked_regions(editor)
        if not regions:
            return ft.Container()
        names = ", ".join(label_of(editor.exam, region) for region in regions)
        tiles = [_leading_to(editor, r, go, "exam-parked", "") for r in regions]
        column = ft.Column(
            [
                heading(f"Parked: {names}"),
                ft.Row(tiles, wrap=True, spacing=GAP, run_spacing=GAP),
            ],
            spacing=8,
        )
        return identified("exam-parked", column)

    return Slot(draw, editor.view.parked).control


def parked_regions(editor: ExamEditor) -> tuple[Region, ...]:
    """Return the parts put off to later, from head to tail."""
    found = map(editor.protocol.region, editor.view.parked.region_ids)
    return tuple(region for region in found if region is not None)


def _leading_to(
    editor: ExamEditor, region: Region, go: Go, group: str, said: str
) -> ft.Control:
    async def tapped() -> None:
        await go(region.region_id)

    name = label_of(editor.exam, region)
    return button(
        for_choice(group, f"parked-{region.region_id}"),
        f"{said}{name}",
        tapped,
        icon=ft.Icons.SCHEDULE,
        spoken=f"Go to {name}, put off to later",
        kind="tile",
    )

"""What every screen of an exam offers at its foot, and the switches in its head.

The switches change the look at one tap and redraw in place: gloves are put on and
barns are entered in the middle of an exam.
"""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.ui.exam.stop_early import open_stop_early
from exam_app.ui.shell import appearance
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import GAP, ColourMode
from exam_app.ui.urgent import urgent_list
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.exam_parts import urgent_tile
from exam_app.ui.widgets.hands import GLOVES, HANDS
from exam_app.ui.widgets.slot import Slot

# Neither types anything nor means something to a browser.
REVIEW_KEY, URGENT_KEY = "F2", "F4"


def exam_bottom(tab: Tab, editor: ExamEditor) -> list[ft.Control]:
    """Build what every screen of an exam offers at its foot."""

    def draw() -> ft.Control:
        shown = _buttons(tab, editor)
        if HANDS.gloved:
            return ft.Row(shown, spacing=8)
        return ft.Row(shown, wrap=True, spacing=GAP, run_spacing=GAP)

    return [Slot(draw, HANDS).control]


def _buttons(tab: Tab, editor: ExamEditor) -> list[ft.Control]:
    async def undo() -> None:
        await exam_sessions.undo(tab.session, editor)

    async def review() -> None:
        await tab.go(f"/exam/{editor.exam.exam_id}/review")

    def stop() -> None:
        open_stop_early(tab, editor)

    def urgent() -> None:
        urgent_list.open_signs(tab, editor)

    first = (
        urgent_tile("exam-urgent", "Urgent", urgent)
        if HANDS.gloved
        else button(
            "exam-urgent",
            "Urgent",
            urgent,
            spoken=f"Urgent signs (key {URGENT_KEY})",
            kind="urgent",
        )
    )
    return [
        first,
        button(
            "exam-undo",
            "Take the last step back",
            undo,
            kind="icon",
            icon=ft.Icons.UNDO,
            size="hands",
        ),
        button(
            "exam-stop",
            "Stop early",
            stop,
            kind="icon",
            icon=ft.Icons.STOP_CIRCLE_OUTLINED,
            size="hands",
        ),
        button(
            "exam-review",
            "Review",
            review,
            expand=1 if HANDS.gloved else None,
            spoken=f"Review: what is still open (key {REVIEW_KEY})",
            kind="main tile",
            size="hands",
        ),
    ]


def exam_keys(tab: Tab, editor: ExamEditor) -> Callable[..., Awaitable[None]]:
    """Answer the keys that reach the foot without walking the whole list."""

    async def pressed(event: ft.KeyboardEvent) -> None:
        if tab.frame.is_over("sheet") or tab.frame.is_over("stop"):
            return
        if event.key == REVIEW_KEY:
            await tab.go(f"/exam/{editor.exam.exam_id}/review")
        elif event.key == URGENT_KEY:
            urgent_list.open_signs(tab, editor)

    return pressed


def switches(tab: Tab) -> list[ft.Control]:
    """Make the switches for dirty gloves and for the dark."""

    async def change_hands() -> None:
        HANDS.gloved = not HANDS.gloved
        await tab.save(lambda: tab.vault.settings.put(GLOVES, HANDS.gloved))

    async def change_look() -> None:
        look, _ = appearance.chosen(tab.session)
        other = ColourMode.LIGHT if look is ColourMode.DARK else ColourMode.DARK
        await tab.save(lambda: tab.vault.settings.put("look", other.value))
        appearance.apply(tab.page, tab.session)

    def draw_hands() -> ft.Control:
        icon = ft.Icons.BACK_HAND if HANDS.gloved else ft.Icons.BACK_HAND_OUTLINED
        spoken = "All buttons again" if HANDS.gloved else "Dirty gloves: large buttons"
        return button("exam-gloves", spoken, change_hands, kind="icon", icon=icon)

    return [
        Slot(draw_hands, HANDS).control,
        button(
            "exam-look",
            "Dark or light",
            change_look,
            kind="icon",
            icon=ft.Icons.CONTRAST,
        ),
    ]

"""A new recovery code, shown once and typed back."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.store.engine.keys import read_code
from exam_app.store.errors import MistypedRecoveryCodeError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import heading, paragraph, section, side_by_side, stack


def recovery_screen(
    tab: Tab, code: str, go_on: Callable[[], Awaitable[None]]
) -> Screen:
    """Show a new recovery code once and have it typed back."""
    wrong: list[str] = []
    problem = Slot(lambda: _draw_wrong(wrong))
    typed = text_field("setup-recovery-typed", "Type the code back")

    async def confirm() -> None:
        wrong[:] = []
        if not _is_same_code(typed.value, code):
            wrong[:] = ["That is not the code above. Compare it group by group."]
        problem.refresh()
        if wrong:
            return
        vault = tab.vault
        await tab.save(lambda: vault.settings.put("recovery_confirmed", value=True))
        await go_on()

    shown = ft.Text(code, theme_style=ft.TextThemeStyle.TITLE_LARGE)
    return Screen(
        title="Recovery code",
        body=[
            paragraph(
                "Write this code on paper and keep it away from this device. It "
                "opens the exams if the passphrase is forgotten. It is shown only now."
            ),
            section("The code", identified("setup-recovery-code", shown)),
            stack(heading("Typed from your paper"), typed.control, problem.control),
            side_by_side(
                button("setup-next", "I have written it down", confirm, kind="main")
            ),
        ],
        has_examiner=False,
    )


def _is_same_code(typed: str, code: str) -> bool:
    try:
        return read_code(typed) == read_code(code)
    except MistypedRecoveryCodeError:
        return False


def _draw_wrong(wrong: list[str]) -> ft.Control:
    if not wrong:
        return ft.Container()
    return banner("setup-problem", wrong[0], Tone.NOTICE)

"""A new recovery code, shown once and typed back."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.language.catalogue import to_translate, tr
from exam_app.store.engine.keys import read_code
from exam_app.store.errors import MistypedRecoveryCodeError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.texts import heading, paragraph, section, stack

_OTHER_CODE = to_translate("That is not the code above. Compare it group by group.")


def recovery_screen(
    tab: Tab, code: str, go_on: Callable[[], Awaitable[None]]
) -> Screen:
    """Show a new recovery code once and have it typed back."""
    problem = ProblemNotice("setup-problem")
    typed = text_field("setup-recovery-typed", tr("Type the code back"))

    async def confirm() -> None:
        try:
            is_same = read_code(typed.value) == read_code(code)
        except MistypedRecoveryCodeError:
            is_same = False
        if problem.say("" if is_same else tr(_OTHER_CODE)):
            return
        vault = tab.vault
        await tab.save(lambda: vault.settings.put("recovery_confirmed", value=True))
        await go_on()

    shown = ft.Text(code, theme_style=ft.TextThemeStyle.TITLE_LARGE)
    return Screen(
        title=tr("Recovery code"),
        body=[
            paragraph(
                tr(
                    "Write this code on paper and keep it away from this device. It "
                    "opens the exams if the passphrase is forgotten. It is shown only "
                    "now."
                )
            ),
            section(tr("The code"), identified("setup-recovery-code", shown)),
            stack(heading(tr("Typed from your paper")), typed.control, problem.control),
        ],
        bottom=[
            button("setup-next", tr("I have written it down"), confirm, kind="main")
        ],
        has_examiner=False,
    )

"""Give the passphrase or the recovery code: after a restart, or to take over."""

import flet as ft

from exam_app.app.session import LockState
from exam_app.domain.errors import ExamError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, side_by_side, stack

_RESTARTED = (
    "The exams on this device are locked. They open with the passphrase chosen at "
    "set-up, or with the recovery code."
)
_ELSEWHERE = (
    "The exams are open in another tab or window. To work here instead, give the "
    "passphrase; the other one is locked then. What it had saved is kept."
)


class Unlock:
    """The cover that asks for the passphrase: what is typed, and which way."""

    def __init__(self, tab: Tab) -> None:
        """Ask; place ``control`` over the screen."""
        self._tab = tab
        self._by_code = False
        self._secret = text_field(
            "unlock-secret",
            "Passphrase",
            secret=True,
            autofocus=True,
            on_submit=self._open,
        )
        self._problem = ProblemNotice("unlock-problem")
        self._way = Slot(self._draw_way)
        self._go = button(
            "unlock-open", "Open", self._open, icon=ft.Icons.LOCK_OPEN, kind="main"
        )
        is_open = tab.session.state is LockState.OPEN
        self.control = lock_column(
            "Open in another tab" if is_open else "Locked",
            paragraph(_ELSEWHERE if is_open else _RESTARTED),
            self._secret.control,
            self._problem.control,
            side_by_side(self._go, self._way.control),
        )

    async def _open(self) -> None:
        self._show_working(is_working=True)
        session = self._tab.session
        try:
            if self._by_code:
                await session.open_with_recovery_code(self._secret.value)
            else:
                await session.open_with_passphrase(self._secret.typed)
        except ExamError as error:
            self._problem.say(error.advice)
            return
        finally:
            self._show_working(is_working=False)
        await self._tab.uncover()
        self._tab.show_store_reports()

    def _show_working(self, *, is_working: bool) -> None:
        action = self._go.content
        if isinstance(action, ft.FilledButton):
            action.disabled = is_working
            action.content = "Opening …" if is_working else "Open"
            action.update()

    def _draw_way(self) -> ft.Control:
        label = "Use the passphrase" if self._by_code else "Use the recovery code"
        return button("unlock-other-way", label, self._switch, kind="quiet")

    def _switch(self) -> None:
        self._by_code = not self._by_code
        label = "Recovery code" if self._by_code else "Passphrase"
        self._secret.asks_for(label, secret=not self._by_code)
        self._way.refresh()
        self._problem.say("")


def lock_column(title: str, *controls: ft.Control) -> ft.Control:
    """Lay out a cover: a lock, a title, then the controls, in a narrow column."""
    words = ft.Text(title, theme_style=ft.TextThemeStyle.HEADLINE_SMALL)
    lock = ft.Icon(ft.Icons.LOCK_OUTLINE, size=36)
    top = ft.Row([lock, ft.Semantics(content=words, header=True)], spacing=12)
    column = stack(top, *controls, spacing=18)
    column.scroll, column.tight = ft.ScrollMode.AUTO, False
    return identified("cover", ft.Container(column, width=520, padding=20))

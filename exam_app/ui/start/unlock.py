"""The covers: passphrase or recovery code after a restart or to take over, or a PIN.

After the PIN of a short lock the screen that was there comes back.
"""

import flet as ft

from exam_app.app.session import DEMO_PIN, LockState
from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr, tr_context
from exam_app.store.errors import PinLockedError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.theme import SCROLLS
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.notices import ProblemNotice
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, side_by_side, stack

_RESTARTED = to_translate(
    "The exams on this device are locked. They open with the passphrase chosen at "
    "set-up, or with the recovery code."
)
_ELSEWHERE = to_translate(
    "The exams are open in another tab or window. To work here instead, give the "
    "passphrase; the other one is locked then. What it had saved is kept."
)


def _may_give_cursor(tab: Tab) -> bool:
    """Whether a field may have the cursor by itself: not on a page's first screen.

    The web client decides with its first cursor, for as long as the page is open,
    whether typing comes by its labels. Given before a screen reader has asked for them,
    that cursor would make every field deaf to it.
    """
    return tab.screen is not None


class Unlock:
    """The cover that asks for the passphrase: what is typed, and which way."""

    def __init__(self, tab: Tab) -> None:
        """Ask; place ``control`` over the screen."""
        self._tab = tab
        self._by_code = False
        self._secret = text_field(
            "unlock-secret",
            tr("Passphrase"),
            secret=True,
            # On a phone no keyboard comes up before a tap.
            autofocus=tab.is_wide and _may_give_cursor(tab),
            on_submit=self._open,
        )
        self._problem = ProblemNotice("unlock-problem")
        self._way = Slot(self._draw_way)
        self._go = button(
            "unlock-open",
            tr_context("button", "Open"),
            self._open,
            icon=ft.Icons.LOCK_OPEN,
            kind="main",
        )
        is_open = tab.session.state is LockState.OPEN
        self.control = lock_column(
            tr("Open in another tab") if is_open else tr("Locked"),
            paragraph(tr(_ELSEWHERE if is_open else _RESTARTED)),
            self._secret.control,
            self._problem.control,
            side_by_side(self._go, self._way.control),
        )

    async def _open(self) -> None:
        self._show_working(is_working=True)
        session = self._tab.session
        try:
            typed = self._secret.value if self._by_code else self._secret.typed
            await session.open_with_passphrase(typed, is_code=self._by_code)
        except ExamError as error:
            self._problem.say(tr(error.advice))
            return
        finally:
            self._show_working(is_working=False)
        await self._tab.uncover()
        self._tab.show_store_reports()

    def _show_working(self, *, is_working: bool) -> None:
        action = self._go.content
        if isinstance(action, ft.FilledButton):
            action.disabled = is_working
            action.content = (
                tr("Opening …") if is_working else tr_context("button", "Open")
            )
            action.update()

    def _draw_way(self) -> ft.Control:
        label = (
            tr("Use the passphrase") if self._by_code else tr("Use the recovery code")
        )
        return button("unlock-other-way", label, self._switch, kind="quiet")

    def _switch(self) -> None:
        self._by_code = not self._by_code
        label = tr("Recovery code") if self._by_code else tr("Passphrase")
        self._secret.asks_for(label, secret=not self._by_code)
        self._way.refresh()
        self._problem.say("")


def lock_column(title: str, *controls: ft.Control) -> ft.Control:
    """Lay out a cover: a lock, a title, then the controls, in a narrow column."""
    words = ft.Text(title, theme_style=ft.TextThemeStyle.HEADLINE_SMALL)
    lock = ft.Icon(ft.Icons.LOCK_OUTLINE, size=36)
    top = ft.Row([lock, ft.Semantics(content=words, header=True)], spacing=12)
    column = stack(top, *controls, spacing=18)
    column.scroll, column.tight = SCROLLS, False
    return identified("cover", ft.Container(column, width=520, padding=20))


class PinLock:
    """The cover that asks for a PIN: whose, and what is typed."""

    def __init__(self, tab: Tab) -> None:
        """Ask; place ``control`` over the screen."""
        self._tab, vault = tab, tab.vault
        self._person = tab.person
        kept = tr("The open exam is kept just as it is.")
        demo = tr("Demonstration: the PIN is {pin}.", pin=DEMO_PIN)
        self._pin = text_field(
            "lock-pin",
            tr("PIN of {name}", name=self._person.name),
            secret=True,
            keyboard=ft.KeyboardType.NUMBER,
            autofocus=_may_give_cursor(tab),
            on_submit=self._open,
        )
        people = [p for p in vault.people.all() if vault.people.has_pin(p.person_id)]
        choice = ChoiceRow(
            "lock-person",
            [(person.person_id, person.name) for person in people],
            self._choose,
            chosen=self._person.person_id,
            size="usual",
        )
        phone = vault.settings.get("clinic_phone", "")
        icon, other = ft.Icons.LOCK_OPEN, tr("Use the passphrase")
        self.control = lock_column(
            tr("Locked"),
            paragraph(demo if tab.session.is_demo else kept),
            choice.control,
            self._pin.control,
            side_by_side(
                button(
                    "lock-open",
                    tr_context("button", "Open"),
                    self._open,
                    icon=icon,
                    kind="main",
                ),
                button("lock-passphrase", other, self._seal, kind="quiet"),
            ),
            paragraph(tr("Clinic's number: {phone}", phone=phone))
            if phone
            else ft.Container(),
        )

    async def _open(self) -> None:
        person_id = self._person.person_id
        try:
            fits = await self._tab.session.open_with_pin(person_id, self._pin.value)
        except PinLockedError as error:
            self._tab.cover()
            self._tab.refuse(error)
            return
        if fits:
            await self._tab.uncover()
        else:
            self._pin.clear()
            self._pin.show_problem(tr("This PIN does not fit. Try again."))
            await self._pin.focus()

    async def _choose(self, person_id: str) -> None:
        self._person = self._tab.vault.people.get(person_id) or self._person
        self._pin.entry.label = tr("PIN of {name}", name=self._person.name)
        self._pin.entry.error = None
        self._pin.clear()

    def _seal(self) -> None:
        self._tab.session.seal()
        self._tab.cover()

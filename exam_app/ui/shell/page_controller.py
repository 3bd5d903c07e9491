"""One browser tab: where it is, what it tells, what it survives.

Every screen gets the ``Tab`` and needs nothing else of the page. Anything that a
handler raises ends here: a refusal shows its advice, anything unforeseen shows what
happened, what is safe and what to do, over the screen and never instead of it.
"""

import asyncio
import contextlib
import functools
import uuid
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeAlias, TypeVar

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import Change, ExamEditor
from exam_app.app.maintenance.store_reports import new_reports
from exam_app.app.session import LockState, Session
from exam_app.app.typed_entries import Typed
from exam_app.crypto.errors import CryptoError
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.store.vault.vault import Vault
from exam_app.ui.shell import appearance, focus, message_parts
from exam_app.ui.shell.layout import Frame, is_wide
from exam_app.ui.shell.message_parts import MessageBar
from exam_app.ui.shell.screen import Route, Screen, build_at
from exam_app.ui.shell.sheet_rest import MadeLater, keep_back, put_back_soon

T = TypeVar("T")

HOME = "/"
Notice: TypeAlias = "Callable[[Tab], list[ft.Control]]"
Watcher: TypeAlias = "Callable[[Tab, ExamEditor, Exam], None]"


class AccessGate(Protocol):
    """What has to be given before a screen is shown; ``access_gate`` does it."""

    def is_admitted(self, tab: "Tab") -> bool:
        """Whether this tab may show exams now."""

    async def first_screen(self, tab: "Tab") -> Screen:
        """Build what is shown while nothing is set up."""

    def cover(self, tab: "Tab") -> ft.Control:
        """Draw what asks for the passphrase or the PIN."""

    def open_examiner(self, tab: "Tab") -> None:
        """Offer the known people, the lock and the settings."""


@dataclass(slots=True, repr=False)
class Tab:
    """What a screen may do with its tab.

    Attributes:
        page: Flet's page; screens seldom need it.
        session: Vault, lock and current person, shared by all tabs.
        routes: The table of screens.
        gate: Decides what has to be given before a screen is shown.
        notices: Drawn above every screen: unanswered urgent signs.
        watchers: Called after every change of an open exam.
        key: Names this tab among others.
        screen: The screen shown, if any.
        sheet: What lies over it, if anything; see ``close_only``.
        keys: What is done with the keyboard.
    """

    page: ft.Page
    session: Session
    routes: tuple[Route, ...]
    gate: AccessGate
    notices: tuple[Notice, ...] = ()
    watchers: tuple[Watcher, ...] = ()
    key: str = field(default_factory=lambda: uuid.uuid4().hex)
    screen: Screen | None = None
    sheet: ft.Control | None = None
    keys: focus.Keys = field(default_factory=focus.Keys)
    frame: Frame = field(init=False)
    _messages: MessageBar = field(init=False)
    # Counts what was asked to be shown: what takes long to read must not be laid over
    # what was asked after it.
    _asked: int = 0
    _told_at: str | None = None
    # The address a screen was shown for before the browser told of it, and the one
    # whose screen is being built.
    _ahead_for: str | None = None
    _going: str | None = None
    _tasks: set[asyncio.Task[Any]] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Make the frame; nothing is shown yet."""
        self.frame = Frame(
            on_back=self.back,
            on_examiner=lambda: self.gate.open_examiner(self),
            opener=self.keys.opener,
            on_left=self._give_focus_back,
        )
        self._messages = MessageBar(self.frame, self.start)

    @property
    def vault(self) -> Vault:
        """The open vault; ask each time, never keep it.

        Raises:
            SessionLockedError: It is not open.
        """
        return self.session.vault

    @property
    def person(self) -> Person:
        """The person who examines now.

        Raises:
            SessionLockedError: Nobody is chosen.
        """
        return self.session.examiner

    @property
    def is_wide(self) -> bool:
        """Whether the window is wider than a phone."""
        return is_wide(self.page.width)

    async def go(self, route: str) -> None:
        """Go to another screen; the browser's own arrow leads back.

        Both go in one message: for an address the client draws all that is shown.
        """
        before, self.page.route = self.page.route, route
        self._going = route
        try:
            await self.show_route()
        except Exception:
            if self.page.route == route:
                self.page.route = before
            raise
        finally:
            if self._going == route:
                self._going = None
        # Another screen may have been asked for while this one was read.
        if before != route == self.page.route:
            self._ahead_for = route
            await self.page.push_route(route)

    async def follow_address(self) -> None:
        """Show what the browser's address has become, unless it is shown already."""
        if self._going is not None:
            # Word of an earlier one came late: the one that is asked for stays.
            self.page.route = self._going
            return
        if self.page.route != self._ahead_for:
            await self.show_route()
        self._ahead_for = None

    def way(self, route: str) -> Callable[[], Awaitable[None]]:
        """Return a handler that goes to a route.

        A lambda around ``go`` would not do: Flet awaits functions that are declared
        ``async`` and calls any other one, whose coroutine then never runs.
        """

        async def go() -> None:
            await self.go(route)

        return go

    async def back(self) -> None:
        """Go where the screen's arrow leads."""
        await self.go((self.screen and self.screen.back) or HOME)

    async def show_route(self) -> None:
        """Show what the address names, unless something else is asked for meanwhile."""
        asked = self._ask()
        if self.session.state is LockState.EMPTY:
            screen = await self.gate.first_screen(self)
        elif self.gate.is_admitted(self):
            screen = await build_at(self, self.routes, self.page.route or HOME)
        else:
            self.cover()
            return
        if asked == self._asked:
            await self.show(screen)

    async def save(self, action: Callable[[], T]) -> T:
        """Write to the store as ``Session.save`` does, which shows how it went."""
        return await self.session.save(action)

    def show_saved(self, words: str, *, is_safe: bool = True) -> None:
        """Say whether the last change is in the store; what the store found follows."""
        self.frame.show_saved(words, is_safe=is_safe)
        if is_safe:
            self.show_store_reports()

    def exam_changed(self, editor: ExamEditor, before: Exam) -> None:
        """Let those who watch exams look at one that has just become another."""
        for watcher in self.watchers:
            watcher(self, editor, before)

    def show_store_reports(self) -> None:
        """Lay each report of the store over the screen, once until it was read."""
        for report, read in new_reports(self.session):
            self.refuse(report, read and functools.partial(self.save, read))

    def tell(
        self, sentence: str, undo: Callable[[], Awaitable[None]] | None = None
    ) -> None:
        """Tell what was done, for some seconds, with a way back if there is one."""
        self._told_at = self.page.route
        self._messages.tell(sentence, undo)

    def open_sheet(
        self,
        title: str,
        *controls: ft.Control,
        typed: Typed | None = None,
        grows: bool = False,
        foot: Sequence[ft.Control] = (),
        leave: Callable[[], Any] | None = None,
        later: Sequence[MadeLater] = (),
    ) -> None:
        """Lay controls over the screen under a title, with a button to close.

        Args:
            title: Names the sheet.
            controls: From above to below.
            typed: Where the words of its fields are kept; what was not saved before
                is told, and can be thrown away.
            grows: Whether a tap on it can add to it or take away. It then stands at
                the top: what is above the change stays under the finger.
            foot: What stays in sight below them, however far they are scrolled.
            leave: Called in place of closing, where something is asked first.
            later: What of them is out of sight at first, and not made yet.
        """
        told = message_parts.kept_before(typed, self.close_sheet, self.tell)
        close = leave or self.close_sheet
        self.sheet = message_parts.sheet(title, [*told, *controls], close)
        rest = keep_back(self.sheet, self.page.height)
        self.frame.lay_over(
            "sheet", self.sheet, on_outside=close, grows=grows, foot=foot
        )
        self.start(put_back_soon([*rest, *later]))

    def typed(self, place: str, label: str) -> Typed:
        """Give what was typed in a form and not saved; see ``TypedEntries.at``."""
        return self.session.typed.at(place, label)

    async def change_and_close(
        self, editor: ExamEditor, made: Change, message: str, typed: Typed | None
    ) -> bool:
        """Make the change a sheet is for, forget what was typed in it and close it.

        Returns:
            Whether the change was made; a refusal was shown to the person.
        """
        sheet = self.sheet
        if not await exam_sessions.change(self.session, editor, made, message):
            return False
        if typed is not None:
            typed.drop()
        self.close_only(sheet)
        return True

    def close_sheet(self) -> None:
        """Take the sheet away."""
        self.sheet = None
        self.frame.take_off("sheet")

    def close_only(self, sheet: ft.Control | None) -> None:
        """Take this sheet away; one that was opened while it was being saved stays."""
        if self.sheet is sheet:
            self.close_sheet()

    def refuse(
        self, error: Exception, on_read: Callable[[], Awaitable[None]] | None = None
    ) -> None:
        """Show why something was refused: the error's own advice.

        Args:
            error: The refusal.
            on_read: Awaited when the person says that it was understood; not when it
                was only left.
        """

        async def understood() -> None:
            self._leave_stop()
            if on_read is not None:
                await on_read()

        self._lay_stop(message_parts.refusal(error, understood))

    def give_focus(self, control: ft.Control | None) -> None:
        """Give what takes keys the focus, if what was just done was done with a key.

        Otherwise Tab would begin again at the top of the page.
        """
        if isinstance(control, focus.TAKES_KEYS) and self.keys.is_by_key:
            self.start(control.focus())  # type: ignore[no-untyped-call]

    def start(self, work: Coroutine[Any, Any, Any]) -> asyncio.Task[Any]:
        """Run something beside the handlers; what it raises is shown."""
        task = asyncio.get_running_loop().create_task(self._watched(work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return task

    def end(self) -> None:
        """Stop what runs beside the handlers, once the tab will not come back."""
        for task in self._tasks:
            task.cancel()

    def cover(self) -> None:
        """Hide the screen behind what has to be given first."""
        self.frame.take_off("told")
        self.frame.lay_over("cover", self.gate.cover(self))

    async def uncover(self) -> None:
        """Take the session and show the screen that was there, exactly."""
        self.session.take(self.key, self, self.lose_session)
        self.show_person()
        appearance.apply(self.page, self.session)
        self.frame.take_off("cover")
        if self.screen is None:
            await self.show_route()

    def show_person(self) -> None:
        """Write the current person on the header's button."""
        person = self.session.person
        initials = (person.initials or person.name[:12]) if person else "?"
        self.frame.show_examiner(initials, message_parts.examiner_words(person))
        if self.screen and self.screen.on_person and person:
            self.screen.on_person()

    def report(self, error: BaseException | None, text: str = "") -> None:
        """Show an error that nobody caught, over the screen."""
        if isinstance(error, ExamError | CryptoError):
            self.refuse(error)
            return

        async def go_home() -> None:
            self._leave_stop()
            await self.go(HOME)

        said = message_parts.mishap(text or repr(error), self._leave_stop, go_home)
        self._lay_stop(said)

    async def show(self, screen: Screen) -> None:
        """Put a screen up that has no route of its own; the address stays."""
        self._ask()
        before, self.screen = self.screen, screen
        if before is not None and before.on_leave is not None:
            await before.on_leave()
            if self.screen is not screen:
                return
        self.close_sheet()
        if self._told_at != self.page.route:  # It was told of the screen before.
            self.frame.take_off("told")
        told = self.notices if screen.has_examiner else ()
        drawn = [control for notice in told for control in notice(self)]
        scrolls = appearance.header_scrolls(self.session)
        self.frame.show_screen(screen, drawn, header_scrolls=scrolls)
        if screen.has_examiner:
            self.show_person()
        if screen.on_shown is not None:
            screen.on_shown()

    def _ask(self) -> int:
        self._asked += 1
        self._ahead_for = None
        return self._asked

    def _lay_stop(self, control: ft.Control) -> None:
        # What a cover itself refuses is said over it, not after it.
        name = "over" if self.frame.is_over("cover") else "stop"
        self.frame.lay_over(name, control, on_escape=self._leave_stop)

    def _leave_stop(self) -> None:
        self.frame.take_off("over" if self.frame.is_over("over") else "stop")

    def _give_focus_back(self, opener: focus.Opener | None) -> None:
        if opener is not None:
            self.give_focus(focus.opener_drawn(self.page.session.index, opener))

    def lose_session(self) -> None:
        """Cover this tab: another one has taken over."""
        self._ask()
        self.screen = None
        self.frame.drop_screen()
        self.cover()

    async def _watched(self, work: Coroutine[Any, Any, Any]) -> None:
        try:
            await work
        except Exception as error:
            with contextlib.suppress(Exception):
                self.report(error)

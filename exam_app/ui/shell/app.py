"""Start one browser tab, and the pattern every screen follows.

The pattern. A screen is an async builder, ``build(tab, **named) -> Screen``, listed
in ``routes.ROUTES``. It reads the store, draws its controls once and returns them;
its handlers then change controls in place. What a screen shows of the exam stands in
``Slot``s, one per region, vital or list: a slot is a place with a plain draw
function, redrawn by ``slot.refresh()``. So a tap compares and sends one card only.

Why not Flet's components: they are as fast when each card has an observable of its
own (both about 1.2 ms a tap, 40 cards), but an error in a component's body stops the
session's whole update loop without a word, and here a failure has to be said. The
price: a handler names what it changes.

Rules for a screen:

1. Ask for ``tab.vault`` and ``tab.person`` each time; unlocking makes new ones.
2. Write with ``await tab.save(lambda: tab.vault.drafts.put(...))``: off the event
   loop, one after the other, "Saved" in the header only after the store has it.
3. Go with ``await tab.go("/exam/" + exam_id)``, or by a button that has
   ``tab.way("/exam/" + exam_id)``; the header's arrow follows
   ``Screen.back``. ``await tab.show_route()`` builds the present screen anew.
4. Raise: an ``ExamError`` out of any handler shows its advice; anything else shows
   what happened, what is safe and what to do. Handlers catch nothing for show.
5. Tell what was done with ``tab.tell("…", undo=back)`` when it can be undone. Lay
   questions over the screen with ``tab.open_sheet(title, *controls)``; one that saves
   and then leads on is an ``OwnSheet``.
6. Every control comes from ``ui.widgets`` or is wrapped by ``identified``.
7. After changing a control, call its ``update()`` (a slot's ``refresh`` does): nothing
   is sent by itself.
8. During a count or while codes play: ``with tab.session.stay_awake(seconds):``.
9. Background work: ``tab.start(coroutine)``, so that its failure is shown.
"""

import asyncio
import contextlib
import functools
import sys
from collections.abc import Awaitable, Callable
from typing import Any

import flet as ft

from exam_app.app.language_choice import show_in, system_language
from exam_app.app.session import LockState, Session
from exam_app.ui.shell import access_gate, appearance, quick_walk, routes
from exam_app.ui.shell.focus import identifier_of
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.room import ROOM
from exam_app.ui.widgets.still_button import LEADING_KEYS, give_keys_their_buttons

IDLE_LOOK_SECONDS = 2.0


def app_main(session: Session) -> Callable[[ft.Page], Awaitable[None]]:
    """Make the function that Flet calls for every tab of this session."""
    quick_walk.begin()
    # Until the store is open, which knows what was chosen.
    show_in(system_language())
    # Every handler here says itself what it changed; Flet would compare the whole page.
    ft.context.disable_auto_update()  # type: ignore[no-untyped-call]
    return functools.partial(_main, session)


async def _main(session: Session, page: ft.Page) -> None:
    page.padding = 0
    tab = Tab(
        page, session, routes.ROUTES, access_gate, routes.NOTICES, routes.WATCHERS
    )
    _catch_everything(tab)
    _listen(tab)
    appearance.apply(page, session)
    page.views = [tab.frame.view]
    page.overlay.extend(tab.frame.over)
    page.update()
    await tab.show_route()
    tab.start(_lock_when_idle(tab))
    tab.start(routes.load_screens_gently())


def _catch_everything(tab: Tab) -> None:
    # Flet covers the page with its own report; ours lies over the screen and says
    # what is safe. Every event also tells the session that somebody is there.
    session = tab.page.session
    dispatch = session.dispatch_event

    async def touched(control_id: int, event_name: str, event_data: object) -> None:
        if tab.session.holder in (None, tab.key):
            tab.session.touch()
        name = identifier_of(session.index.get(control_id))
        tab.keys.note(control_id, event_name, name)
        await dispatch(control_id, event_name, event_data)

    def reported(text: str) -> None:
        # Flet reports from inside its own handling of the error.
        tab.report(sys.exc_info()[1], text)

    answered = session.handle_invoke_method_results

    def taken(*answer: Any) -> None:  # noqa: ANN401
        # Flet ends the connection, and with it whatever was tapped meanwhile, where a
        # page answers for a control that has just been replaced.
        with contextlib.suppress(RuntimeError):
            answered(*answer)

    session.handle_invoke_method_results = taken  # type: ignore[method-assign, assignment]
    session.dispatch_event = touched  # type: ignore[method-assign]
    session.error = reported  # type: ignore[method-assign, assignment]


def _listen(tab: Tab) -> None:
    page = tab.page
    HANDS.has_keys = False

    async def pressed(event: ft.KeyboardEvent) -> None:
        if event.key in LEADING_KEYS and not HANDS.has_keys:
            give_keys_their_buttons([*page.session.index.values()])
        if event.key == "Escape" and tab.frame.escape():
            return
        if tab.screen and tab.screen.on_key and not tab.frame.is_over("cover"):
            await tab.screen.on_key(event)

    def resized() -> None:
        ROOM.width = page.width or ROOM.width
        if tab.screen and tab.screen.on_resize:
            tab.screen.on_resize()

    page.on_route_change = tab.follow_address
    page.on_keyboard_event = pressed
    page.on_resize = resized
    _follow_connection(tab)


def _follow_connection(tab: Tab) -> None:
    def note(*, is_gone: bool) -> None:
        if tab.session.holder != tab.key:
            return
        tab.session.is_holder_gone = is_gone
        if not is_gone and tab.session.state is not LockState.OPEN:
            # Another tab was opened meanwhile, and the session was locked for it.
            tab.cover()

    tab.page.on_close = tab.end
    tab.page.on_disconnect = lambda: note(is_gone=True)
    tab.page.on_connect = lambda: note(is_gone=False)


async def _lock_when_idle(tab: Tab) -> None:
    session = tab.session
    while True:
        await asyncio.sleep(IDLE_LOOK_SECONDS)
        is_ours = session.holder == tab.key and session.state is LockState.OPEN
        if is_ours and session.is_idle():
            session.rest()
            tab.cover()

"""The player: one code after the other, as large as the window allows.

A picture has one pixel per module and holds up to eight codes; the browser moves it on
from code to code, and has the next one before it is needed. While a code stands, the
next ones are drawn here. Measured in Chromium, none came out blank or unreadable
(``tests/benchmarks/test_player_frames.py``).
"""

import asyncio
import time
from functools import partial

import flet as ft

from exam_app.app.handover import player as play
from exam_app.app.handover.outbox import exams_in, mark_shown, to_show
from exam_app.app.handover.player import DOTS, CodeRun
from exam_app.app.view.hand_over_presenter import bundle_title, urgent_first
from exam_app.exchange.outgoing import BundleGoneError, Outgoing
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.repositories.rows import ClosedExam
from exam_app.ui.shell.device import awake
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.urgent.telephone import open_telephone_of, telephone_button
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.code_out import CodeFilm, on_white
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot, is_on_page, send
from exam_app.ui.widgets.texts import (
    across,
    paragraph,
    quiet,
    side_by_side,
    stack,
    strong,
)
from sync.errors import BundleTooLargeError
from sync.transport.frames import DotSize

DOTS_CHOSEN = "dots"
_SPOKEN = to_translate("A code for the clinic's camera")
_PANEL = 340
# The space key also presses a button that was clicked last; both mean once.
_ONE_PRESS = 0.25
_UNTIL_PLACED = 0.02
# The first picture holds one code, the second two, until there are eight.
_DRAWN_AHEAD = 2


async def build(tab: Tab, numbers: str) -> Screen:
    """Build the player of the bundles of these numbers, as ``17`` or ``17-18``.

    Raises:
        BundleGoneError: There is no such bundle, or it was received meanwhile.
    """
    wanted = [int(part) for part in numbers.split("-") if part.isdecimal()]
    bundles = await tab.session.read(lambda: to_show(tab.vault, wanted))
    if not bundles:
        raise BundleGoneError
    await mark_shown(tab.session, bundles)
    exams = await tab.session.read(lambda: exams_in(tab.vault, bundles))
    player = Player(tab, bundles, urgent_first(exams))
    player.start()
    return player.screen()


class Player:
    """Codes of one or more bundles, shown in turn."""

    def __init__(
        self, tab: Tab, bundles: tuple[Outgoing, ...], urgent: tuple[ClosedExam, ...]
    ) -> None:
        """Cut the bundles into frames with the dots chosen last.

        Args:
            urgent: What of it can be read on the telephone, where no camera is near.
        """
        self.tab, self.bundles, self._urgent = tab, bundles, urgent
        kept = tab.vault.settings.get(DOTS_CHOSEN, DotSize.NORMAL.value)
        try:
            self._codes = self._run_of(kept)
        except BundleTooLargeError:
            self._codes = self._run_of(DotSize.NORMAL.value)
        self._is_paused, self._pressed_at = False, 0.0
        self._room = (0.0, 0.0)
        self._said, self._bar = paragraph(""), ft.ProgressBar(bar_height=8)
        self._film = CodeFilm()
        # A tap while the codes are drawn is meant for what stays there.
        self._buttons = Slot(self._draw_buttons, in_place=True)
        self._dots = ChoiceRow(
            "player-dots",
            [(key, tr(label)) for key, label in DOTS],
            self._choose,
            self._codes.dots,
            size="usual",
            columns=2,
        )
        self._space = Slot(self._draw_space, in_place=True)
        self._work: asyncio.Task[None] | None = None

    def _run_of(self, dots: str) -> CodeRun:
        return CodeRun([bundle.sealed for bundle in self.bundles], dots)

    def start(self) -> None:
        """Begin to play."""
        self._work = self.tab.start(self._run())

    async def end(self) -> None:
        """Stop when the screen is left."""
        if self._work is not None:
            self._work.cancel()

    def screen(self) -> Screen:
        """Build the screen; wide windows have the buttons beside the code."""
        exams = sum(len(bundle.exam_ids) for bundle in self.bundles)
        place = ft.Container(
            on_white("player-code", self._film.control, tr(_SPOKEN)),
            alignment=ft.Alignment.CENTER,
            expand=True,
            on_size_change=self._sized,
        )
        panel = stack(
            identified("player-said", self._said),
            self._bar,
            self._buttons.control,
            strong(tr("Dots")),
            self._dots.control,
            *([self._space.control] if self.tab.is_wide else []),
        )
        if self.tab.is_wide:
            beside = ft.Container(panel, width=_PANEL)
            body: ft.Control = ft.Row([place, beside], expand=True, spacing=16)
        else:
            body = ft.Column(
                [place, panel],
                expand=True,
                horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
            )
        return Screen(
            title=bundle_title(self.bundles[0].sequence, exams),
            back="/hand-over",
            body=[body],
            scrolls=False,
            width=None,
            on_leave=self.end,
            on_key=self._key,
        )

    def _draw_buttons(self) -> ft.Control:
        codes = self._codes
        pause = button(
            "player-pause",
            tr("Go on") if self._is_paused else tr("Pause"),
            self._pause,
            icon=ft.Icons.PLAY_ARROW if self._is_paused else ft.Icons.PAUSE,
        )
        next_one = ft.Icons.SKIP_NEXT
        forward = button("player-next", tr("Next code"), self._next, icon=next_one)
        done = self.tab.way(f"/hand-over/receipt/{self.bundles[0].sequence}")
        still = [forward] if self._is_paused or codes.is_still else []
        return stack(
            side_by_side(
                *([] if codes.is_still else [pause]),
                *still,
                button("player-done", tr("Type the clinic's code"), done, kind="main"),
            ),
            *self._by_voice(),
        )

    def _draw_space(self) -> ft.Control:
        return quiet(play.space_words(is_still=self._codes.is_still))

    def _by_voice(self) -> list[ft.Control]:
        if not self._urgent:
            return []

        async def tapped() -> None:
            if len(self._urgent) == 1:
                await open_telephone_of(self.tab, self._urgent[0].exam_id)
            else:
                self.tab.open_sheet(
                    tr("Which one is told?"), *map(self._told, self._urgent)
                )

        return [across(telephone_button("player-telephone", tapped))]

    def _told(self, row: ClosedExam) -> ft.Control:
        show = partial(open_telephone_of, self.tab, row.exam_id)
        name = for_choice("player-telephone", row.exam_id)
        return across(button(name, row.name, show, kind="tile", size="hands"))

    async def _choose(self, key: str) -> None:
        try:
            self._codes = self._run_of(key)
            self._film.drop()
        except BundleTooLargeError:
            self._dots.choose(self._codes.dots)
            self.tab.tell(tr("Too much for these dots; the others hold more."))
            return
        self._buttons.refresh()
        self._space.refresh()
        vault = self.tab.vault
        await self.tab.save(lambda: vault.settings.put(DOTS_CHOSEN, key))
        # While it was saved, the run may have shown the first one.
        if not self._codes.shown:
            await self._show_next()

    async def _key(self, event: ft.KeyboardEvent) -> None:
        if event.key == " " and not self.tab.frame.is_over("sheet"):
            if self._codes.is_still:
                await self._next()
            else:
                self._pause()

    def _is_first_press(self) -> bool:
        now = time.monotonic()
        is_first = now - self._pressed_at >= _ONE_PRESS
        if is_first:
            self._pressed_at = now
        return is_first

    def _pause(self) -> None:
        if not self._is_first_press():
            return
        self._is_paused = not self._is_paused
        if not self._is_paused and (self._work is None or self._work.done()):
            self.start()
        self._say()
        self._buttons.refresh()

    async def _next(self) -> None:
        if self._is_first_press():
            await self._show_next()

    def _sized(self, event: ft.LayoutSizeChangeEvent[ft.LayoutControl]) -> None:
        self._room = (event.width, event.height)
        self._resize()
        send(self._film.control)

    def _resize(self) -> None:
        media = self.tab.page.media
        ratio = media.device_pixel_ratio if media else 1.0
        side = play.fit(*self._room, self._film.modules or 1, ratio)
        self._film.resize(side)

    async def _run(self) -> None:
        while not is_on_page(self._film.control):
            await asyncio.sleep(_UNTIL_PLACED)
        started = time.monotonic()
        with self.tab.session.stay_awake(play.LONGEST_SECONDS):
            async with awake(self.tab):
                due = time.monotonic()
                while time.monotonic() - started < play.LONGEST_SECONDS:
                    is_still = self._is_paused or self._codes.is_still
                    if not is_still or not self._codes.shown:
                        await self._show_next()
                    due = play.next_due(due, time.monotonic())
                    await asyncio.sleep(max(0.0, due - time.monotonic()))
        self._is_paused = True
        self._said.value = tr(
            "Stopped after a quarter of an hour. Go on when it is needed."
        )
        send(self._said)
        self._buttons.refresh()

    async def _prepare(self) -> None:
        """Draw codes of the next picture, and bring it while the last code stands."""
        for _ in range(_DRAWN_AHEAD):
            # What was just shown goes out first.
            await asyncio.sleep(0)
            self._codes.prepare()
        if not self._film.left and not self._film.has_next:
            self._bring()
            send(self._film.control)

    def _bring(self) -> None:
        strip = self._codes.next_strip()
        self._film.bring(strip.png, strip.count, strip.modules)

    async def _show_next(self) -> None:
        film = self._film
        if not is_on_page(film.control):
            # The screen was left while something was saved.
            return
        if not film.left and not film.has_next:
            self._bring()
        before = film.modules
        film.turn()
        if film.modules != before:
            self._resize()
        self._codes.shown += 1
        send(film.control)
        self._say()
        await self._prepare()

    def _say(self) -> None:
        shown, count = self._codes.shown, self._codes.count
        self._said.value = play.progress_words(
            shown,
            count,
            is_paused=self._is_paused,
            is_slow=play.is_slow(shown, count, self._codes.dots),
        )
        self._bar.value = play.progress(shown, count)
        send(self._said)
        send(self._bar)

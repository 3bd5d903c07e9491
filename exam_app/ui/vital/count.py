"""Count along: the whole screen leads in, counts down and stops; then a number pad.

Nothing is touched between the start and the stop, and nothing has to be heard.
"""

import asyncio
import time
from dataclasses import dataclass, field

import flet as ft

from exam_app.app.exam_sessions import open_exam
from exam_app.app.forms import vital_form as forms
from exam_app.app.view import count_presenter as counts
from exam_app.app.view.count_presenter import CountFrame, CountPhase
from exam_app.app.view.vital_offers import keep_counted
from exam_app.domain.exam.vital_transitions import require_vital
from exam_app.language.catalogue import tr
from exam_app.ui.shell.device import awake, shake
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import CORNER, SCROLLS
from exam_app.ui.urgent.urgent_list import banner_slot
from exam_app.ui.vital.vital_edit import VitalEdit
from exam_app.ui.vital.vital_zone import state_row
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.number_pad import ERASE, number_pad
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import stack, strong

_SPARE_SECONDS = 60
_PAD_WIDTH = 560
# Two lines of its words, so that the keys stay where they are at the first digit.
_TYPED_HEIGHT = 72
_MOST_LARGE_DIGITS = 2
_DIGIT_SIZE, _WORD_SIZE = 200, 84
_WIDE_DIGIT_SIZE, _WIDE_WORD_SIZE = 320, 200


async def build(tab: Tab, exam_id: str, vital_id: str, seconds: str = "") -> Screen:
    """Build the timer; it starts by itself."""
    edit = await edit_of(tab, exam_id, vital_id)
    exam, protocol = edit.editor.exam, edit.editor.protocol
    windows = counts.windows_for(exam, protocol, edit.vital)
    window = int(seconds) if seconds.isdigit() else windows[0]
    timer = _Timer(edit, window if window in windows else windows[0])
    screen = Screen(
        title=edit.label,
        subtitle=tr("Count along, {seconds} s", seconds=timer.seconds),
        back=edit.came_from,
        pinned=[banner_slot(tab, edit.editor)],
        body=[timer.slot.control],
        scrolls=False,
        width=None,
        on_leave=timer.end,
        on_key=timer.key,
    )
    timer.start()
    return screen


async def edit_of(tab: Tab, exam_id: str, vital_id: str) -> VitalEdit:
    """Take up the form of a vital where its sheet left it."""
    editor = await open_exam(tab.session, exam_id)
    vital = require_vital(editor.exam, editor.protocol, vital_id)
    if left := tab.session.counting.pop((exam_id, vital_id), None):
        form, came_from = left
        return VitalEdit(
            tab, editor, vital, form, is_on_sheet=False, came_from=came_from
        )
    form = forms.form_for(editor.exam, editor.protocol, vital, editor.now())
    return VitalEdit(tab, editor, vital, form, is_on_sheet=False)


@dataclass(slots=True, repr=False)
class _Timer:
    """One count: its frames, then its digits."""

    edit: VitalEdit
    seconds: int
    slot: Slot = field(init=False)
    _frame: CountFrame = field(init=False)
    _digits: str = ""
    _shown: Slot | None = None
    _work: asyncio.Task[None] | None = None

    def __post_init__(self) -> None:
        self._frame = self._frame_at(0)
        self.slot = Slot(self._draw, expand=True)

    def start(self) -> None:
        """Start the lead-in."""
        self._digits, self._frame = "", self._frame_at(0)
        self._work = self.edit.tab.start(self._run())

    async def end(self) -> None:
        """Stop the clock when the screen is left."""
        if self._work is not None:
            self._work.cancel()

    async def key(self, event: ft.KeyboardEvent) -> None:
        """Take digits and Backspace of a keyboard, once the count is over."""
        is_covered = self.edit.tab.frame.is_over("sheet")
        if self._frame.phase is not CountPhase.OVER or is_covered:
            return
        if event.key.isdigit() or event.key == "Backspace":
            await self._press(ERASE if event.key == "Backspace" else event.key)

    async def _press(self, key: str) -> None:
        self._digits = counts.pad_digits(self._digits, key)
        keep_counted(self.edit.typed, self._digits, self.seconds)
        if self._shown is not None:
            self._shown.refresh()

    def _frame_at(self, elapsed_ms: int) -> CountFrame:
        kind = counts.count_kind(self.edit.vital)
        return counts.frame_at(elapsed_ms, self.seconds, kind)

    async def _run(self) -> None:
        tab = self.edit.tab
        with tab.session.stay_awake(self.seconds + _SPARE_SECONDS):
            async with awake(tab):
                started = time.monotonic()
                while True:
                    elapsed_ms = int((time.monotonic() - started) * 1000)
                    before, self._frame = self._frame, self._frame_at(elapsed_ms)
                    self.slot.refresh()
                    if before.phase is not self._frame.phase:
                        tab.start(shake(tab))
                    if not self._frame.until_next_ms:
                        return
                    await asyncio.sleep(self._frame.until_next_ms / 1000)

    def _draw(self) -> ft.Control:
        is_over = self._frame.phase is CountPhase.OVER and not self._frame.is_flash
        return self._pad() if is_over else self._face()

    def _face(self) -> ft.Control:
        frame, is_wide = self._frame, self.edit.tab.is_wide
        ground, colour = _colours(frame)
        is_word = frame.big.isalpha()
        size = _WORD_SIZE if is_word else _DIGIT_SIZE
        if is_wide:
            size = _WIDE_WORD_SIZE if is_word else _WIDE_DIGIT_SIZE
        if len(frame.big) > _MOST_LARGE_DIGITS and not is_word:
            size = size * _MOST_LARGE_DIGITS // len(frame.big)
        words = ft.Column(
            [
                ft.Text(frame.big, size=size, color=colour, weight=ft.FontWeight.W_800),
                ft.Text(
                    frame.caption,
                    theme_style=ft.TextThemeStyle.HEADLINE_SMALL,
                    color=colour,
                    text_align=ft.TextAlign.CENTER,
                ),
            ],
            alignment=ft.MainAxisAlignment.CENTER,
            horizontal_alignment=ft.CrossAxisAlignment.CENTER,
        )
        face = ft.Container(
            words,
            bgcolor=ground,
            border_radius=CORNER,
            padding=16,
            alignment=ft.Alignment.CENTER,
            expand=True,
        )
        cancel = button("count-cancel", tr("Cancel"), self.edit.tab.back, size="exam")
        named = identified("count-face", face, expand=True)
        return ft.Column(
            [named, cancel],
            expand=True,
            horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
        )

    def _pad(self) -> ft.Control:
        self._shown = Slot(self._typed)
        controls: list[ft.Control] = [
            ft.Container(self._shown.control, height=_TYPED_HEIGHT)
        ]
        if self.edit.form.state is None:
            controls += [strong(tr("The animal was")), state_row(self.edit)]
        controls += [
            number_pad(self._press, has_point=False),
            self.edit.asked.control,
            button(
                "count-use", tr("Use this count"), self._use, kind="main", size="exam"
            ),
            button("count-again", tr("Count again"), self._again, size="exam"),
        ]
        return ft.Column(
            [ft.Container(stack(*controls), width=_PAD_WIDTH)],
            scroll=SCROLLS,
            expand=True,
            horizontal_alignment=ft.CrossAxisAlignment.CENTER,
        )

    def _typed(self) -> ft.Control:
        text = counts.basis_text(self._digits, self.seconds)
        what = tr(counts.COUNTED[counts.count_kind(self.edit.vital)])
        big = ft.Text(
            text or tr("How many {what} did you count?", what=what),
            theme_style=ft.TextThemeStyle.HEADLINE_SMALL,
        )
        return identified("count-typed", big, live=True)

    async def _use(self) -> None:
        evidence = counts.counted(self._digits, self.seconds)
        if evidence is None:
            self.edit.ask(tr("Type the number you counted, or count again."))
            return
        edit = self.edit
        edit.form = forms.take_count(edit.form, edit.vital, evidence)
        await edit.accept()

    def _again(self) -> None:
        keep_counted(self.edit.typed, "", self.seconds)
        self.start()


def _colours(frame: CountFrame) -> tuple[ft.Colors, ft.Colors]:
    if frame.is_flash:
        return ft.Colors.ON_SURFACE, ft.Colors.SURFACE
    if frame.phase is CountPhase.LEAD_IN:
        return ft.Colors.TERTIARY, ft.Colors.ON_TERTIARY
    return ft.Colors.PRIMARY, ft.Colors.ON_PRIMARY

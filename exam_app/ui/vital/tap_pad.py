"""Tap each beat: a whole screen to hit without looking, or the space key.

The pad stands outside anything that scrolls, where taps are seen at once, and each
tap is stamped before anything else is done.
"""

import time

import flet as ft

from exam_app.app.forms import vital_form as forms
from exam_app.app.view import count_presenter as counts
from exam_app.app.view.count_presenter import Taps, TapSummary
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import CORNER, GAP
from exam_app.ui.urgent.urgent_list import banner_slot
from exam_app.ui.vital.count import edit_of
from exam_app.ui.vital.vital_edit import VitalEdit
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.room import ROOM, sharing_width
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import stack


async def build(tab: Tab, exam_id: str, vital_id: str) -> Screen:
    """Build the tap pad."""
    edit = await edit_of(tab, exam_id, vital_id)
    pad = _TapPad(edit)
    return Screen(
        title=edit.label,
        subtitle=tr("Tap each one, or press the space key"),
        back=edit.came_from,
        pinned=[banner_slot(tab, edit.editor)],
        body=[edit.asked.control, pad.control],
        bottom=[pad.buttons.control],
        scrolls=False,
        width=None,
        on_key=pad.pressed,
    )


class _TapPad:
    """One run of taps."""

    def __init__(self, edit: VitalEdit) -> None:
        self._edit = edit
        self._run: Taps = ()
        self._big = ft.Text(
            theme_style=ft.TextThemeStyle.HEADLINE_MEDIUM,
            text_align=ft.TextAlign.CENTER,
            color=ft.Colors.ON_PRIMARY,
        )
        self._small = ft.Text(
            theme_style=ft.TextThemeStyle.BODY_MEDIUM,
            text_align=ft.TextAlign.CENTER,
            color=ft.Colors.ON_PRIMARY,
        )
        self._words = ft.Column(
            [self._big, self._small],
            alignment=ft.MainAxisAlignment.CENTER,
            horizontal_alignment=ft.CrossAxisAlignment.CENTER,
        )
        surface = ft.Container(
            self._words,
            bgcolor=ft.Colors.PRIMARY,
            border_radius=CORNER,
            padding=16,
            alignment=ft.Alignment.CENTER,
            expand=True,
        )
        detector = ft.GestureDetector(
            content=surface,
            on_tap_down=self._touched,
            exclude_from_semantics=True,
            expand=True,
        )
        self.control = identified("tap-pad", detector, expand=True)
        self.buttons = Slot(self._draw_buttons)
        self._show()

    async def pressed(self, event: ft.KeyboardEvent) -> None:
        """Count the space key as a tap."""
        at = time.monotonic()
        if event.key == " ":
            self._tap(at)

    def _touched(self, _: ft.TapEvent[ft.GestureDetector]) -> None:
        at = time.monotonic()
        self._tap(at)

    def _tap(self, at: float) -> None:
        before = self._summary()
        self._run = counts.tap(self._run, int(at * 1000))
        self._edit.tab.session.touch()
        self._show()
        self._words.update()
        if self._summary().is_enough != before.is_enough:
            self.buttons.refresh()

    def _summary(self) -> TapSummary:
        return counts.tap_summary(self._run, counts.count_kind(self._edit.vital))

    def _show(self) -> None:
        found = self._summary()
        self._big.value = found.big
        self._small.value = f"{found.spread}\n{found.hint}".strip()

    def _draw_buttons(self) -> ft.Control:
        is_enough = self._summary().is_enough
        use = button(
            "tap-use",
            tr("Use this rate"),
            self._use,
            disabled=not is_enough,
            kind="main",
            size="exam",
        )
        again = button("tap-again", tr("Start again"), self._again, size="exam")
        return stack(*sharing_width([use, again], ROOM.width - 2 * GAP))

    async def _use(self) -> None:
        edit = self._edit
        evidence = counts.tap_times(self._run)
        edit.form = forms.take_count(edit.form, edit.vital, evidence)
        await edit.accept()

    def _again(self) -> None:
        self._run = ()
        self._show()
        self._words.update()
        self.buttons.refresh()

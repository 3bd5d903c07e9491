"""One region on its own: what to do, what the sentence claims, every term."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import ClassVar

import flet as ft

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.queries.history import read_before
from exam_app.app.strikes import NOTHING_SEEN, Strikes
from exam_app.app.view.exam_places import next_place, status, vital_of
from exam_app.app.view.region_presenter import (
    BOTH,
    claims,
    keys_chosen,
    keys_of,
    label_of,
    normal_label,
    prompts,
    side_choices,
    step_name,
)
from exam_app.app.view.rest_presenter import DENIED
from exam_app.domain.errors import UnknownItemError
from exam_app.domain.exam.denials import has_own_words
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import Region
from exam_app.domain.wording.phrases import capital
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.day import day
from exam_app.ui.exam.exam_foot import exam_shortcuts, foot_buttons, more_button
from exam_app.ui.exam.exam_zone import LastRows, rows_of_part
from exam_app.ui.region.added_part import AddedPart
from exam_app.ui.region.region_row import RegionRow
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.shortcuts import answer
from exam_app.ui.urgent import urgent_list
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, for_region
from exam_app.ui.widgets.room import ROOM, SPACE
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import (
    across,
    heading,
    paragraph,
    quiet,
    section,
    stack,
    strong,
)


async def build(tab: Tab, exam_id: str, region_id: str) -> Screen:
    """Build the screen of one region of an open exam."""
    editor = await day.exam_or_day(tab, exam_id)
    if isinstance(editor, Screen):
        return editor
    region = editor.protocol.region(region_id)
    if region is None or not keys_of(editor.exam, editor.protocol, region):
        raise UnknownItemError(region_id)
    await read_before(tab.session, editor, tab.person.role)
    row = RegionRow(tab, editor, region, is_alone=True)
    view = editor.view
    follows = (*(view.regions[key] for key in row.keys), view.visit["animal"])
    shown = Slot(row.card, *follows, in_place=True)
    zone = Slot(_drawing_zone(tab, editor, row), *follows)

    def struck() -> None:
        shown.refresh()
        zone.refresh()

    if view.current.place != region_id:
        # The list goes on here when it is shown again.
        view.current.place = region_id
        view.current.status = status(editor.exam, editor.protocol, region_id)
    name, keys = editor.exam.animal.name, exam_shortcuts(tab, editor)
    return Screen(
        title=label_of(editor.exam, region),
        subtitle=f"{name}, {tr(editor.protocol.label).lower()}",
        back=f"/exam/{exam_id}",
        pinned=[urgent_list.banner_slot(tab, editor)],
        body=[
            *_what_to_do(editor.exam, region),
            shown.control,
            StrikePart(tab, editor, region, struck).control(),
            AddedPart(tab, editor, region).control(),
            _next(tab, editor, region),
        ],
        bottom=[zone.control],
        actions=[more_button(tab, editor, keys=keys)],
        is_dense=True,
        on_key=partial(answer, tab, keys),
    )


def _drawing_zone(
    tab: Tab, editor: ExamEditor, row: RegionRow
) -> Callable[[], ft.Control]:
    """Make what draws the answers, into rows that stay."""
    ends = LastRows(partial(foot_buttons, tab, editor), ROOM.body)
    frame = stack(spacing=SPACE)

    def draw() -> ft.Control:
        last = ends.draw(row.zone.ways())
        frame.controls = [*rows_of_part(row.zone.rows()), *last]
        return frame

    return draw


def _what_to_do(exam: Exam, region: Region) -> list[ft.Control]:
    lines: list[ft.Control] = [paragraph(text) for text in prompts(exam, region)]
    if region.awake_limits:
        limits = " ".join(map(tr, region.awake_limits))
        lines.append(quiet(tr("Keep in mind: {limits}", limits=limits)))
    return [section(tr("What to do"), *lines)] if lines else []


def _next(tab: Tab, editor: ExamEditor, region: Region) -> ft.Control:
    async def go() -> None:
        following = next_place(editor.exam, editor.protocol, region.region_id)
        is_part = following and not vital_of(following)
        where = f"/region/{following}" if is_part else ""
        await tab.go(f"/exam/{editor.exam.exam_id}{where}")

    return across(
        button(
            "exam-next",
            tr("Next open part"),
            go,
            icon=ft.Icons.ARROW_FORWARD,
            kind="tile",
        )
    )


@dataclass(slots=True, repr=False)
class StrikePart:
    """The claims of the sentence; those not seen are struck, each with a reason.

    Beside a find in own words it asks what they deny, and where a claim has a result
    of its own ("felt for, not felt") it offers that first.
    """

    REASONS: ClassVar[tuple[str, ...]] = (
        to_translate("refused"),
        to_translate("unsafe"),
        to_translate("could not be seen"),
        to_translate("no equipment"),
        to_translate("outside my training: for the veterinarian"),
    )

    tab: Tab
    editor: ExamEditor
    region: Region
    on_change: Callable[[], None]
    _strikes: Strikes = field(init=False)
    _slot: Slot = field(init=False)

    def __post_init__(self) -> None:
        """Begin with the claims that were struck before."""
        self._strikes = Strikes(self.tab.session, self.editor, self.region)
        view = self.editor.view.regions
        keys = keys_of(self.editor.exam, self.editor.protocol, self.region)
        self._slot = Slot(self._draw, *(view[key] for key in keys))

    def control(self) -> ft.Control:
        """Return the part of the screen."""
        return self._slot.control

    def _draw(self) -> ft.Control:
        struck = dict(self._strikes.now())
        asks = self._asks()
        lines = [
            self._claim(clause_id, words, struck.get(clause_id, ""))
            for clause_id, words in claims(self.editor.exam, self.region)
        ]
        if not lines:
            return ft.Container()
        title, said = (
            (
                tr("What do your own words deny?"),
                tr("Tap it; then record the rest above."),
            )
            if asks
            else (
                tr("Something was not seen?"),
                tr("Tap it and give the reason; the button records the rest."),
            )
        )
        shown: list[ft.Control] = [heading(title), quiet(said), *lines]
        if not self._strikes.is_open and self._strikes.is_changed():
            shown += self._record_buttons()
        return stack(*shown)

    def _claim(self, clause_id: str, words: str, reason: str) -> ft.Control:
        def tapped() -> None:
            if reason:
                self._strike(clause_id, "")
            else:
                self._ask(clause_id, words)

        icon = ft.Icons.REMOVE_CIRCLE_OUTLINE if reason else None
        # Two lines either way: the claims below stay where they are.
        state = self._state(clause_id, reason)
        action = button(
            for_choice("strike", clause_id),
            f"{tr(words)}\n{state}",
            tapped,
            icon=icon,
            expand=1,
            spoken=tr("Take it back in")
            if reason
            else tr("Strike this: it was not seen"),
            kind="tile",
        )
        return ft.Row([action])

    def _asks(self) -> bool:
        exam = self.editor.exam
        keys = keys_of(exam, self.editor.protocol, self.region)
        return any(has_own_words(exam, self.region, key) for key in keys)

    def _result(self, clause_id: str) -> str:
        """Return what can be said in a claim's place, or nothing."""
        clauses = self.region.clauses
        return next(c.strike_as for c in clauses if c.clause_id == clause_id)

    def _state(self, clause_id: str, reason: str) -> str:
        if reason == DENIED:
            return tr("DENIED by what was found")
        if reason and reason == self._result(clause_id):
            return tr("{result}, in place of this", result=tr(reason).upper())
        if reason:
            shown = tr(reason) if reason in self.REASONS else reason
            return tr("NOT SEEN: {reason}", reason=shown)
        return (
            tr("Tap if your words deny it")
            if self._asks()
            else tr("Tap if it was not seen")
        )

    def _strike(self, clause_id: str, reason: str) -> None:
        self._strikes.strike(clause_id, reason)
        self._slot.refresh()
        self.on_change()

    def _ask(self, clause_id: str, words: str) -> None:
        def tile_of(number: int, reason: str) -> ft.Control:
            def chosen() -> None:
                self.tab.close_sheet()
                self._strike(clause_id, reason)

            name = for_choice("strike-reason", str(number))
            return across(button(name, capital(tr(reason)), chosen, kind="tile"))

        result = self._result(clause_id)
        offered = (
            *((DENIED,) if self._asks() else ()),
            *((result,) if result else ()),
            *self.REASONS,
        )
        tiles = [tile_of(n, reason) for n, reason in enumerate(offered)]
        self.tab.open_sheet(tr("Not so, because"), paragraph(tr(words)), *tiles)

    def _record_buttons(self) -> list[ft.Control]:
        keys = keys_of(self.editor.exam, self.editor.protocol, self.region)
        choices = side_choices(keys) if len(keys) > 1 else ((keys[0], ""),)
        buttons = [self._record_button(choice, name, keys) for choice, name in choices]
        label = strong(tr("Answered otherwise already. Record this instead:"))
        return [label, ft.Row(buttons, spacing=10)]

    def _record_button(
        self, choice: str, name: str, keys: tuple[str, ...]
    ) -> ft.Control:
        async def record() -> None:
            await self._record(keys_chosen(choice, keys))

        where = self.region.region_id if choice == BOTH else choice
        identifier = for_region(where, "normal-rest")
        label = normal_label(tr(name), len(self._strikes.parted().struck))
        return button(identifier, label, record, expand=1, kind="main tile")

    async def _record(self, keys: tuple[str, ...]) -> None:
        if self._strikes.leaves_nothing():
            self.tab.tell(tr(NOTHING_SEEN))
            return
        out = self._strikes.parted()
        made = region_changes.what_is_left(keys, out.struck, out.instead, out.denied)
        what = tr("partly examined") if out.struck else tr("no abnormality")
        name = step_name(self.editor.exam, self.region, keys, what)
        if await exam_sessions.change(self.tab.session, self.editor, made, name):
            self._strikes.settle()
            self._slot.refresh()
            self.tab.tell(name, self._undo)

    async def _undo(self) -> None:
        await exam_sessions.undo(self.tab.session, self.editor)

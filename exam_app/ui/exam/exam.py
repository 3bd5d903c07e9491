"""The exam from nose to tail: every region in order, vitals first, all in one list.

The list is never drawn as a whole again: a tap draws its own row, the line that
counts, and the landmark above. Progress and urgent signs stay in view.

Each leads to the part's own row, which stays where it is from head to tail.
"""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_sessions import keep_writer, person_now, person_of
from exam_app.app.exam_view import ExamView
from exam_app.app.exam_words import begun_words, exam_subtitle, progress_words
from exam_app.app.view.region_presenter import (
    Group,
    groups,
    keys_of,
    label_of,
    open_count,
)
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.domain.protocol.protocol import Region
from exam_app.ui.day import day
from exam_app.ui.exam.exam_foot import exam_bottom, exam_keys, switches
from exam_app.ui.record.record_notes import request_lines
from exam_app.ui.region.region_row import RegionRow
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import GAP
from exam_app.ui.urgent import urgent_list
from exam_app.ui.visit.visit_rows import AFTER, BEFORE, after_rows, before_rows
from exam_app.ui.vital.vitals import vital_rows
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import banner
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import across, heading, quiet


def writer_line(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Show who writes, and offer to change it."""

    def ask() -> None:
        _ask(tab, editor)

    def draw() -> ft.Control:
        writer = editor.view.people.scribe
        label = f"{writer} writes" if writer else "Somebody else writes …"
        return across(
            button("exam-writer", label, ask, icon=ft.Icons.EDIT, kind="tile")
        )

    return Slot(draw, editor.view.people).control


def _ask(tab: Tab, editor: ExamEditor) -> None:
    people = [person_of(fields) for fields in tab.vault.people.all()]
    others = [p for p in people if p.person_id != tab.person["person_id"]]
    tab.open_sheet(
        "Who writes this exam down?",
        quiet("Each entry names who examined and who wrote."),
        _choice(tab, editor, None),
        *(_choice(tab, editor, person) for person in others),
    )


def _choice(tab: Tab, editor: ExamEditor, person: Person | None) -> ft.Control:
    async def chosen() -> None:
        editor.change_people(editor.examiner, person)
        tab.close_sheet()
        exam_id = editor.exam.exam_id
        await tab.save(lambda: keep_writer(tab.vault, exam_id, person))

    is_now = person == editor.scribe
    name = for_choice("exam-writer", person.person_id if person else "examiner")
    label = person.name if person else "The examiner"
    icon = ft.Icons.CHECK if is_now else None
    return across(button(name, label, chosen, icon=icon, kind="tile"))


Go = Callable[[str], Awaitable[None]]


def parked_landmarks(editor: ExamEditor, go: Go, *, wraps: bool) -> ft.Control:
    """Make one landmark for each parked part; nothing while none is parked.

    Args:
        wraps: Whether they stand in rows, as on a laptop, and not in one that scrolls.
    """

    def draw() -> ft.Control:
        regions = parked_regions(editor)
        tiles = [_leading_to(editor, r, go, "exam-jump", "Parked: ") for r in regions]
        apart = ft.Padding.only(right=8 if tiles else 0)
        row = ft.Row(tiles, spacing=8, run_spacing=8, tight=True, wrap=wraps)
        return ft.Container(row, padding=apart)

    return Slot(draw, editor.view.parked).control


def parked_part(editor: ExamEditor, go: Go) -> ft.Control:
    """Name the parked parts after the last one, each leading back to its row."""

    def draw() -> ft.Control:
        regions = parked_regions(editor)
        if not regions:
            return ft.Container()
        names = ", ".join(label_of(editor.exam, region) for region in regions)
        tiles = [_leading_to(editor, r, go, "exam-parked", "") for r in regions]
        column = ft.Column(
            [
                heading(f"Parked: {names}"),
                ft.Row(tiles, wrap=True, spacing=GAP, run_spacing=GAP),
            ],
            spacing=8,
        )
        return identified("exam-parked", column)

    return Slot(draw, editor.view.parked).control


def parked_regions(editor: ExamEditor) -> tuple[Region, ...]:
    """Return the parts put off to later, from head to tail."""
    found = map(editor.protocol.region, editor.view.parked.region_ids)
    return tuple(region for region in found if region is not None)


def _leading_to(
    editor: ExamEditor, region: Region, go: Go, group: str, said: str
) -> ft.Control:
    async def tapped() -> None:
        await go(region.region_id)

    name = label_of(editor.exam, region)
    return button(
        for_choice(group, f"parked-{region.region_id}"),
        f"{said}{name}",
        tapped,
        icon=ft.Icons.SCHEDULE,
        spoken=f"Go to {name}, put off to later",
        kind="tile",
    )


VITALS = "Vitals"


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the list of an open exam."""
    try:
        editor = await exam_sessions.open_exam(tab.session, exam_id)
    except exam_sessions.ExamNotHereError as refusal:
        # An old address, or one typed by hand: say why and show the day.
        tab.tell(refusal.advice)
        return await day.build(tab)
    listed = ExamList(tab, editor)
    return Screen(
        title=editor.exam.animal.name,
        subtitle=exam_subtitle(editor.exam, editor.protocol),
        back=_way_back(editor.exam),
        pinned=[
            urgent_list.banner_slot(tab, editor),
            ft.Row([progress_line(editor, expand=True), *switches(tab)], spacing=4),
            listed.landmarks(),
        ],
        body=[listed.control()],
        bottom=exam_bottom(tab, editor),
        on_key=exam_keys(tab, editor),
        on_resize=listed.resized,
        scrolls=False,
        on_person=lambda: editor.change_people(person_now(tab.session), editor.scribe),
    )


def _way_back(exam: Exam) -> str:
    """Return where an exam's arrow leads: a group and its animals to their round."""
    of_group = exam.exam_id if exam.animal.is_group else exam.group_exam
    return f"/round/{of_group}" if of_group else "/"


def progress_line(editor: ExamEditor, *, expand: bool | None = None) -> ft.Control:
    """Show how much is answered, in words and as a bar."""

    def draw() -> ft.Control:
        overview = editor.overview
        share = overview.done / overview.total if overview.total else 1
        words = quiet(progress_words(overview))
        bar = ft.ProgressBar(value=share, bar_height=8, border_radius=4)
        column = ft.Column([words, bar], spacing=4, tight=True)
        return identified("exam-progress", column)

    return Slot(draw, editor.overview, expand=expand, in_place=True).control


def begun_line(editor: ExamEditor) -> ft.Control:
    """Say who began the exam, where another person or another day goes on with it."""

    def draw() -> ft.Control:
        today = editor.now().local().date()
        words = begun_words(editor.exam, editor.examiner, today)
        return banner("exam-begun", words) if words else ft.Container()

    return Slot(draw, editor.view.people, hides_empty=True).control


@dataclass(slots=True, repr=False)
class ExamList:
    """The headings with their rows, and the landmarks that jump to them."""

    tab: Tab
    editor: ExamEditor
    _column: ft.Column = field(init=False)
    _groups: tuple[Group, ...] = field(init=False)
    _after_vitals: Group | None = field(init=False)
    _landmarks: Slot = field(init=False)
    _is_wide: bool = field(init=False)

    def __post_init__(self) -> None:
        """Read which headings this exam has."""
        self._groups = groups(self.editor.exam, self.editor.protocol)
        self._after_vitals = group_after_vitals(self._groups, self.editor.view)
        self._column = ft.Column(
            self._rows(),
            spacing=GAP,
            expand=True,
            scroll=ft.ScrollMode.AUTO,
            horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
        )

    def control(self) -> ft.Control:
        """Return the scrolling list."""
        return identified("exam-list", self._column, expand=True)

    def _rows(self) -> list[ft.Control]:
        animal_id = self.editor.exam.animal.animal_id
        rows: list[ft.Control] = [begun_line(self.editor), *self._round()]
        rows += request_lines(self.tab, animal_id)
        rows += [_landmark(BEFORE), before_rows(self.tab, self.editor)]
        for group in self._groups:
            if group is self._after_vitals:
                rows += [_landmark(VITALS), vital_rows(self.tab, self.editor)]
            rows.append(_landmark(group.title))
            rows += [self._region(region) for region in group.regions]
        rows.append(parked_part(self.editor, self._go))
        rows += [_landmark(AFTER), after_rows(self.tab, self.editor)]
        # Room for the bar that tells what was done.
        return [*rows, writer_line(self.tab, self.editor), ft.Container(height=80)]

    def _round(self) -> list[ft.Control]:
        """Lead from a group's exam, or an animal of it, to the round sheet."""
        way = _way_back(self.editor.exam)
        if way == "/":
            return []

        async def go() -> None:
            await self.tab.go(way)

        return [button("round-sheet", "Round sheet", go, kind="main tile")]

    def _region(self, region: Region) -> ft.Control:
        row = RegionRow(self.tab, self.editor, region).control()
        return ft.Container(row, key=ft.ScrollKey(region.region_id))  # type: ignore[call-arg]

    async def _go(self, place: str) -> None:
        await self._column.scroll_to(scroll_key=place, duration=0)

    def landmarks(self) -> ft.Control:
        """Build the bar of landmarks, each with what is still open below it."""
        self._landmarks = Slot(self._draw_landmarks)
        return self._landmarks.control

    def resized(self) -> None:
        """Lay the landmarks out anew where the window has become wide or narrow."""
        if self.tab.is_wide != self._is_wide:
            self._landmarks.refresh()

    def _draw_landmarks(self) -> ft.Control:
        self._is_wide = is_wide = self.tab.is_wide
        parked = parked_landmarks(self.editor, self._go, wraps=is_wide)
        first = [self._jump(BEFORE)] if is_wide else [parked, self._jump(BEFORE)]
        shown: list[ft.Control] = [ft.Row(first, spacing=0, tight=True)]
        for group in self._groups:
            if group is self._after_vitals:
                view = self.editor.view.vitals.values()
                slot = Slot(self._draw_vitals, *view, in_place=True)
                shown.append(slot.control)
            shown.append(self._landmark_button(group))
        shown.append(self._jump(AFTER))
        if is_wide:
            # A mouse cannot push a row sideways.
            return ft.Row([*shown, parked], wrap=True, spacing=8, run_spacing=8)
        return ft.Row(shown, scroll=ft.ScrollMode.HIDDEN, spacing=8)

    def _draw_vitals(self) -> ft.Control:
        view = self.editor.view.vitals.values()
        left = sum(not observed.entry.is_answered for observed in view)
        return self._jump(VITALS, left)

    def _landmark_button(self, group: Group) -> ft.Control:
        exam, protocol = self.editor.exam, self.editor.protocol
        keys = [key for r in group.regions for key in keys_of(exam, protocol, r)]

        def draw() -> ft.Control:
            left = open_count(self.editor.exam, protocol, group)
            return self._jump(group.title, left)

        view = [self.editor.view.regions[key] for key in keys]
        return Slot(draw, *view, in_place=True).control

    def _jump(self, title: str, left: int | None = None) -> ft.Control:
        """Make the button of a heading; without a count nothing is said of it."""

        async def jump() -> None:
            await self._go(title)

        label = f"{title} {left}" if left else title
        icon = ft.Icons.CHECK if left == 0 else None
        answered = "; all answered" if left == 0 else ""
        spoken = f"Go to {title}; {left} open" if left else f"Go to {title}{answered}"
        name = for_choice("exam-jump", title.lower().replace(" ", "-"))
        return button(name, label, jump, icon=icon, spoken=spoken, kind="tile")


def _landmark(title: str) -> ft.Control:
    return ft.Container(
        heading(title),
        key=ft.ScrollKey(title),  # type: ignore[call-arg]
        padding=ft.Padding.only(top=8),
    )


def group_after_vitals(listed: tuple[Group, ...], view: ExamView) -> Group | None:
    """Return the heading that the vitals stand before: the first one with a touch.

    What is watched from a distance comes first, since a touch changes it.
    """
    if not view.vitals:
        return None
    touched = [g for g in listed if not g.regions[0].untouched]
    return next(iter(touched), None)

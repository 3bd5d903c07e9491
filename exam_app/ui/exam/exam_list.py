"""The exam's list: headings, lines, what was parked, what leads on from a line."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.exam_places import sections, vital_of
from exam_app.app.view.region_presenter import label_of
from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.review import vital_label
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.visit.visit_rows import AFTER, BEFORE, after_rows, before_rows
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, side_by_side, stack, strong

Go = Callable[[str], None]


@dataclass(frozen=True, slots=True, repr=False)
class ShortList:
    """A few places of an exam, on a screen that is not the exam's own.

    Attributes:
        places: What is asked, in order; nothing else is listed, and no strip is shown.
        foot: Makes the buttons of the zone's last row.
        on_end: Called with whether all of it is answered: no place is current then,
            and the zone is empty.
    """

    places: tuple[str, ...]
    foot: Callable[[], list[ft.Control]]
    on_end: Callable[[bool], None]


def name_of(editor: ExamEditor, place: str) -> str:
    """Return what a part or a vital is called in this exam."""
    exam, protocol = editor.exam, editor.protocol
    region = protocol.region(place)
    if region is not None:
        return label_of(exam, region)
    vital = protocol.vital(vital_of(place))
    return vital_label(vital, words_for(exam)) if vital else ""


def listed_rows(
    tab: Tab,
    editor: ExamEditor,
    lines: Mapping[str, Slot],
    go: Go,
    short: ShortList | None,
) -> list[ft.Control]:
    """Put the lines below their headings, and what was parked after the last one.

    Args:
        tab: Where it is shown.
        editor: The open exam.
        lines: The line of each place.
        go: Brings a place up.
        short: What is asked, where that is not the whole exam: lines and no headings.
    """
    if short is not None:
        return [line.control for line in lines.values()]
    rows = [_landmark(BEFORE), before_rows(tab, editor)]
    for section in sections(editor.exam, editor.protocol):
        rows.append(_landmark(section.title))
        rows += [lines[place].control for place in section.places]
    parked = _parked(editor, go).control
    return [*rows, parked, _landmark(AFTER), after_rows(tab, editor)]


def _parked(editor: ExamEditor, go: Go) -> Slot:
    """Name the parked parts, each leading back to its line."""

    def draw() -> ft.Control:
        places = editor.view.parked.region_ids
        if not places:
            return ft.Container()
        names = ", ".join(name_of(editor, place) for place in places)
        tiles: list[ft.Control] = [_leading_to(editor, place, go) for place in places]
        row = side_by_side(*tiles, spacing=6)
        return identified(
            "exam-parked", stack(strong(tr("Parked: {names}", names=names)), row)
        )

    return Slot(draw, editor.view.parked, hides_empty=True)


def _leading_to(editor: ExamEditor, place: str, go: Go) -> ft.Control:
    def tapped() -> None:
        go(place)

    return button(
        for_choice("exam-parked", f"parked-{place}"),
        name_of(editor, place),
        tapped,
        icon=ft.Icons.SCHEDULE,
        kind="tile",
        size="thumb",
    )


def _landmark(title: str) -> ft.Control:
    return ft.Container(
        ft.Semantics(content=quiet(tr(title)), header=True),
        key=ft.ScrollKey(title),  # type: ignore[call-arg]
        padding=ft.Padding.only(left=8, top=8, bottom=2),
    )


def onward(
    tab: Tab,
    editor: ExamEditor,
    following: str,
    go: Go,
    short: ShortList | None,
    *,
    is_short: bool = False,
) -> ft.Semantics:
    """Lead from a place that is answered to the next one, or to the end.

    Args:
        tab: Where it is shown.
        editor: The open exam.
        following: The place it leads to; empty at the end.
        go: Brings a place up.
        short: As of the panes.
        is_short: Whether it stands beside a title, with one word.
    """

    async def tapped() -> None:
        if editor.view.current.is_settling:
            return
        if following or short is not None:
            go(following)
        else:
            await tab.go(f"/exam/{editor.exam.exam_id}/review")

    label = tr("Stays as it is") if short else tr("Review and close")
    if following:
        label = tr("Next: {place}", place=name_of(editor, following))
    word = tr("Next") if following else tr("End")
    return button(
        "exam-onward",
        word if is_short else label,
        tapped,
        kind="main tile",
        size="thumb",
        spoken=label,
        expand=None if is_short else 1,
    )

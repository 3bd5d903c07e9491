"""Everything open at once, each point with the way to it; then closing."""

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_sessions import open_exam, undo
from exam_app.app.signing import close_and_keep
from exam_app.app.view.later_details import put_off_ids, without_details
from exam_app.app.view.review_presenter import (
    haste_text,
    open_count_text,
    point_groups,
    unsaved_text,
)
from exam_app.app.view.visit_presenter import Part, is_taken_in, part_card
from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.marks import earlier_of
from exam_app.domain.exam.review import OpenPoint, PointKind, region_label, review
from exam_app.domain.protocol.protocol import split_key
from exam_app.domain.wording.exam_wording import found_words
from exam_app.domain.wording.headline import headline
from exam_app.language.catalogue import tr
from exam_app.ui.exam.stop_early import open_stop_early
from exam_app.ui.finding.finding_sheet import open_details
from exam_app.ui.record.correction_sheet import drop_part
from exam_app.ui.shell.own_sheet import OwnSheet
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.urgent.urgent_list import banner_slot, open_urgent_answer
from exam_app.ui.visit.bite_sheet import open_bites
from exam_app.ui.visit.intake_scan import open_scans
from exam_app.ui.visit.visit_rows import open_part
from exam_app.ui.vital.vital_sheet import open_vital
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.number_pad import ERASE, number_pad
from exam_app.ui.widgets.pin import Pin
from exam_app.ui.widgets.room import ROOM, SPACE, sharing_width
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import paragraph, quiet, section, side_by_side, stack


def details_part(tab: Tab, editor: ExamEditor) -> ft.Control:
    """List the finds that may still be given details; nothing where there is none."""
    ids = put_off_ids(tab.vault, editor.exam.exam_id)
    waiting = without_details(editor.exam, ids)
    if not waiting:
        return ft.Container()
    rows = [_row(tab, editor, key, finding) for key, finding in waiting]
    return identified(
        "review-details",
        section(
            tr("Add details?"),
            quiet(tr("No details yet. The exam can be closed without them.")),
            stack(*rows, spacing=8),
        ),
    )


def _row(tab: Tab, editor: ExamEditor, key: str, finding: Finding) -> ft.Control:
    def tapped() -> None:
        region = editor.protocol.region(split_key(key)[0])
        if region is not None:
            open_details(tab, editor, region, ((key, finding.finding_id),))

    where = region_label(editor.protocol, key, words_for(editor.exam))
    name = for_choice("review-details", key.replace(".", "-"))
    label = f"{where}: {found_words(finding)}"
    return pick(name, label, tapped, is_chosen=False, is_row=True)


def open_close(tab: Tab, editor: ExamEditor) -> None:
    """Ask for the PIN of the person who examines now."""
    sheet = OwnSheet(tab)

    async def signed() -> None:
        await close_and_keep(tab.session, editor, pin.person)
        await sheet.go(f"/record/{editor.exam.exam_id}")

    pin = Pin(tab, "close-pin", signed, autofocus=tab.is_wide)
    field = pin.field

    async def pressed(key: str) -> None:
        # A problem said below the field stays until the next PIN: taking it away at
        # the first digit would move the keys before the second.
        field.entry.value = field.typed[:-1] if key == ERASE else field.typed + key
        field.entry.update()

    sheet.open(
        tr("Close and sign"),
        paragraph(
            tr("A closed record is never edited. What comes later is added beside it.")
        ),
        field.control,
        number_pad(pressed, has_point=False),
        button(
            "close-sign",
            tr("Sign and close"),
            pin.sign,
            kind="main",
            icon=ft.Icons.LOCK_OUTLINE,
            size="exam",
        ),
        quiet(
            tr(
                "Somebody else closes it? Change the examiner at the top first. "
                "Now: {name}.",
                name=pin.person.name,
            )
        ),
    )


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the review of an open exam."""
    editor, typed = await open_exam(tab.session, exam_id), tab.session.typed.changes
    points = Slot(lambda: _points(tab, editor), editor.overview)
    details = Slot(lambda: details_part(tab, editor), editor.overview)
    intake = Slot(
        lambda: _intake(tab, editor), editor.view.visit["intake"], hides_empty=True
    )
    # A value is saved a moment after the exam says it: until then it counts as typed.
    unsaved = Slot(lambda: _unsaved(tab, editor), typed, hides_empty=True)
    ends = Slot(lambda: _ends(tab, editor), editor.overview, typed)

    return Screen(
        title=tr("Review and close"),
        subtitle=editor.exam.animal.name,
        back=f"/exam/{exam_id}",
        pinned=[banner_slot(tab, editor)],
        body=[
            unsaved.control,
            points.control,
            intake.control,
            details.control,
            _take_back(tab, editor),
            *drop_part(tab, editor),
        ],
        bottom=[ends.control],
    )


def _intake(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Offer how an animal came that was taken in, while nothing is said of it."""
    card = part_card(editor.exam, Part.INTAKE, tab.person)
    if not is_taken_in(editor.exam) or card.lines:
        return ft.Container()

    def opened() -> None:
        open_part(tab, editor, Part.INTAKE)

    label = tr("{title}: nothing is said of it yet", title=tr(card.title))
    row = pick("review-intake", label, opened, is_chosen=False, is_row=True)
    return section(tr("May be added"), row)


def _take_back(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Offer to take the last step back, by its name; nothing where there is none."""
    steps = editor.view.steps

    async def taken() -> None:
        await undo(tab.session, editor)

    def draw() -> ft.Control:
        if steps.back is None:
            return ft.Container()
        step, icon = steps.back or tr("the last step"), ft.Icons.UNDO
        label = tr("Take back: {step}", step=step)
        return side_by_side(
            button("review-undo", label, taken, icon=icon, kind="quiet")
        )

    return Slot(draw, steps, hides_empty=True).control


def _points(tab: Tab, editor: ExamEditor) -> ft.Control:
    groups = point_groups(editor.exam, editor.protocol)
    is_open = bool(groups)
    status = banner(
        "review-status",
        open_count_text(editor.exam, editor.protocol),
        Tone.NOTICE if is_open else Tone.PLAIN,
    )
    if not is_open:
        lines = headline(editor.exam, editor.protocol)[1:]
        shown = [paragraph(line) for line in lines]
        asked = haste_text(editor.exam)
        notice = [banner("review-haste", asked, Tone.NOTICE)] if asked else []
        return stack(status, *notice, section(tr("The record will begin with"), *shown))
    return stack(status, *(_group(tab, editor, *group) for group in groups))


def _group(
    tab: Tab, editor: ExamEditor, heading: str, points: tuple[OpenPoint, ...]
) -> ft.Control:
    rows = [_point(tab, editor, point) for point in points]
    return section(f"{tr(heading)} ({len(rows)})", stack(*rows, spacing=8))


def _point(tab: Tab, editor: ExamEditor, point: OpenPoint) -> ft.Control:
    async def tapped() -> None:
        await lead_to(tab, editor, point)

    name = for_choice("review-point", point.target.replace(".", "-"))
    label = point.label or point.message
    return pick(name, label, tapped, is_chosen=False, is_row=True)


async def lead_to(tab: Tab, editor: ExamEditor, point: OpenPoint) -> None:
    """Go to the place where a point is answered."""
    if point.kind is PointKind.URGENT:
        open_urgent_answer(tab, editor, point.target)
    elif point.kind is PointKind.BITE:
        open_bites(tab, editor)
    elif point.kind is PointKind.SCAN:
        open_scans(tab, editor)
    elif point.kind is PointKind.GROUP:
        await tab.go(f"/round/{editor.exam.exam_id}")
    elif point.kind in {PointKind.VITAL, PointKind.STATE}:
        open_vital(tab, editor, point.target)
    else:
        region_id = split_key(_region_key(editor, point))[0]
        await tab.go(f"/exam/{editor.exam.exam_id}/region/{region_id}")


def _region_key(editor: ExamEditor, point: OpenPoint) -> str:
    if point.kind is PointKind.REGION:
        return point.target
    known = earlier_of(editor.exam, point.target)
    return known.key if known else point.target


def _unsaved(tab: Tab, editor: ExamEditor) -> ft.Control:
    """Show what was typed and not saved, and the way to throw it away."""
    drafts, exam_id = tab.session.typed, editor.exam.exam_id
    text = unsaved_text(drafts.of_exam(exam_id))
    if not text:
        return ft.Container()

    def thrown() -> None:
        dropped = drafts.forget_exam(exam_id)

        async def undone() -> None:
            drafts.restore(dropped)

        tab.tell(tr("Thrown away, never saved."), undone)

    drop = button("typed-drop", tr("Throw it away"), thrown, size="exam")
    return banner("typed-notice", text, Tone.NOTICE, drop)


def _ends(tab: Tab, editor: ExamEditor) -> ft.Control:
    exam_id = editor.exam.exam_id
    is_open = bool(review(editor.exam, editor.protocol))
    is_unsaved = bool(tab.session.typed.of_exam(exam_id))

    async def read() -> None:
        await tab.go(f"/record/{editor.exam.exam_id}/draft")

    def sign() -> None:
        open_close(tab, editor)

    def stop() -> None:
        open_stop_early(tab, editor)

    buttons: list[ft.Control] = [
        button(
            "review-written",
            tr("Read it"),
            read,
            icon=ft.Icons.ARTICLE_OUTLINED,
            size="exam",
        )
    ]
    if is_open:
        buttons.append(button("stop-early", tr("Stop early"), stop, size="exam"))
    elif not is_unsaved:
        buttons.insert(
            0,
            button(
                "review-close",
                tr("Close and sign"),
                sign,
                icon=ft.Icons.LOCK_OUTLINE,
                kind="main",
                size="exam",
            ),
        )
    return _in_foot(tab, buttons)


def _in_foot(tab: Tab, buttons: list[ft.Control]) -> ft.Control:
    """Stand the buttons side by side; on a phone they share its width."""
    if tab.is_wide:
        return side_by_side(*buttons)
    return stack(*sharing_width(buttons, ROOM.body), spacing=SPACE)

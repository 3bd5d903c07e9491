"""The part of the review that asks for details of what was found with dirty gloves."""

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.later_details import put_off_ids, without_details
from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.review import region_label
from exam_app.domain.protocol.protocol import split_key
from exam_app.ui.finding.finding_sheet import open_details
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.choices import pick
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.texts import quiet, section, stack


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
            "Add details?",
            quiet("Recorded with gloves on. The exam can be closed without them."),
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
    label = f"{where}: {finding.words}"
    return pick(name, label, tapped, is_chosen=False, is_row=True)

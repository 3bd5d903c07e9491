"""The versions of one record that do not follow from one another, side by side."""

import flet as ft

from exam_app.app.exam_sessions import ExamNotHereError
from exam_app.app.queries.kept_records import KeptRecord, read_kept
from exam_app.app.view.clinic_version_lines import differences
from exam_app.domain.wording.written_record import write_record
from exam_app.language.catalogue import tr
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.texts import paragraph, quiet, section, strong


async def build(tab: Tab, exam_id: str) -> Screen:
    """Build the comparison of every version that nothing revises.

    Raises:
        ExamNotHereError: No such record is here.
        RecordError: One does not verify or cannot be read.
    """
    kept = await tab.session.read(lambda: _tips(tab, exam_id))
    if not kept:
        raise ExamNotHereError
    texts = [write_record(k.exam, k.loaded.protocol).as_text() for k in kept]
    sides = range(1, len(kept) + 1), kept, differences(texts)
    return Screen(
        title=tr("Versions side by side"),
        subtitle=kept[0].exam.animal.name,
        back=f"/clinic/record/{exam_id}",
        body=[
            banner(
                for_choice("clinic-fork", "notice"),
                tr(
                    "These signed versions do not follow from one another. Neither is "
                    "dropped. Only the lines that differ are shown here."
                ),
                Tone.NOTICE,
            ),
            ft.ResponsiveRow(
                [_side(*one) for one in zip(*sides, strict=True)],
                vertical_alignment=ft.CrossAxisAlignment.START,
            ),
        ],
        width=None,
    )


def _tips(tab: Tab, exam_id: str) -> list[KeptRecord]:
    hashes = [row.record_hash for row in tab.vault.closed.tips(exam_id)]
    found = (read_kept(tab.vault, exam_id, version) for version in hashes)
    return [record for record in found if record is not None]


def _side(number: int, kept: KeptRecord, lines: tuple[str, ...]) -> ft.Control:
    closing = kept.exam.closing
    closer = kept.exam.person(closing.closed_by) if closing else None
    name = closer.name if closer else tr("somebody")
    when = closing.at.date_and_time() if closing else ""
    box = section(
        tr("Version {number}", number=number),
        strong(tr("Closed by {name}, {when}", name=name, when=when)),
        *(paragraph(line) for line in lines),
        *([] if lines else [quiet(tr("Nothing that the others do not say."))]),
        quiet(f"SHA-256 {kept.exam_hash}"),
    )
    side = for_choice("clinic-fork", f"side-{number}")
    return ft.Container(identified(side, box), col={"xs": 12, "md": 6})

"""The table of screens, and of the notices drawn above every one of them.

The first entry is the first screen after unlocking. A screen is added by one line.
"""

from typing import TYPE_CHECKING

import flet as ft

from exam_app.ui import bite_concerns, exam_room, identifiers
from exam_app.ui.parts.buttons import other_button
from exam_app.ui.parts.notices import Tone, banner
from exam_app.ui.screen import Notice, Route
from exam_app.ui.screens import (
    about,
    animal_edit,
    animals,
    clinic_animals,
    clinic_day_pack,
    clinic_devices,
    clinic_or_day,
    clinic_pair,
    clinic_quarantine,
    clinic_receipt,
    clinic_receive,
    clinic_record,
    clinic_review,
    clinic_versions,
    combined,
    count,
    day,
    exam,
    hand_over,
    handling_stop,
    kennel,
    litter,
    pair_clinic,
    people,
    plan,
    player,
    receipt,
    record,
    region,
    review,
    round_sheet,
    settings,
    start,
    store_care,
    tap_pad,
    urgent_list,
    vitals,
)
from exam_app.ui.ways import way

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab


def unconfirmed_code(tab: "Tab") -> list[ft.Control]:
    """Ask for a new recovery code while none was written down for certain."""
    if tab.desk.is_demo or tab.vault.settings.get("recovery_confirmed", default=False):
        return []
    return [
        banner(
            identifiers.CODE_MISSING,
            "No recovery code was written down. A forgotten passphrase would lose "
            "every exam. Replace the recovery code in the settings.",
            Tone.NOTICE,
            other_button(
                identifiers.CODE_MISSING_OPEN,
                "Settings",
                way(tab, "/settings"),
            ),
        )
    ]


ROUTES: tuple[Route, ...] = (
    Route("/", clinic_or_day.build),
    Route("/day", day.build),
    Route("/animals", animals.build),
    Route("/animal/new/{species}", animal_edit.build_new),
    Route("/animal/{animal_id}", animal_edit.build),
    Route("/group/new/{species}", animal_edit.build_group),
    Route("/litter/new/{species}", litter.build),
    Route("/plan", plan.build),
    Route("/start/{animal_id}", start.build),
    Route("/round/{exam_id}", round_sheet.build),
    Route("/exam/{exam_id}", exam.build),
    Route("/exam/{exam_id}/region/{region_id}", region.build),
    Route("/exam/{exam_id}/vitals", vitals.build),
    Route("/exam/{exam_id}/count/{vital_id}", count.build),
    Route("/exam/{exam_id}/count/{vital_id}/{seconds}", count.build),
    Route("/exam/{exam_id}/tap/{vital_id}", tap_pad.build),
    Route("/exam/{exam_id}/review", review.build),
    Route("/record/{exam_id}", record.build),
    Route("/record/{exam_id}/together", combined.build),
    Route("/kennel", kennel.build_list),
    Route("/kennel/{animal_id}", kennel.build),
    Route("/hand-over", hand_over.build),
    Route("/hand-over/codes/{numbers}", player.build),
    Route("/hand-over/receipt/{number}", receipt.build),
    Route("/pair", pair_clinic.build),
    Route("/people", people.build),
    Route("/settings", settings.build),
    Route("/settings/care", store_care.build),
    Route("/about", about.build),
    Route("/clinic/pair", clinic_pair.build),
    Route("/clinic/devices", clinic_devices.build),
    Route("/clinic/receive", clinic_receive.build),
    Route("/clinic/receipt/{bundle_hash}", clinic_receipt.build),
    Route("/clinic/review", clinic_review.build),
    Route("/clinic/record/{exam_id}", clinic_record.build),
    Route("/clinic/record/{exam_id}/{record_hash}", clinic_record.build),
    Route("/clinic/versions/{exam_id}", clinic_versions.build),
    Route("/clinic/animals", clinic_animals.build),
    Route("/clinic/quarantine", clinic_quarantine.build),
    Route("/clinic/day-pack", clinic_day_pack.build),
)

NOTICES: tuple[Notice, ...] = (
    unconfirmed_code,
    urgent_list.notice,
    bite_concerns.notice,
)

exam_room.look_at_changes(handling_stop.look)

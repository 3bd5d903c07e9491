"""Show what the store found wrong: at an unlock, and while working."""

from datetime import datetime
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from exam_app.domain.moments import Moment
from exam_app.erasing import set_aside_words
from exam_app.store.errors import StoreReportError

if TYPE_CHECKING:
    from exam_app.store.vault import Vault
    from exam_app.ui.tab import Tab

_told: "WeakKeyDictionary[Vault, set[str]]" = WeakKeyDictionary()


def show_store_reports(tab: "Tab") -> None:
    """Lay each report over the screen once; damage is told until it was read."""
    vault = tab.vault
    told = _told.setdefault(vault, set())

    async def acknowledge() -> None:
        by = str((tab.desk.person or {}).get("name", ""))
        at = Moment.from_datetime(datetime.now().astimezone()).date_and_time()
        await tab.save(lambda: vault.acknowledge_damage(by, at))

    async def seen() -> None:
        await tab.save(vault.erasures.mark_read)

    for title, report, on_read in (
        ("Damage was found", vault.damage_report, acknowledge),
        ("Space is running out", vault.disk_report, None),
        ("Erased details came again", set_aside_words(vault), seen),
    ):
        if report and not any(report in earlier for earlier in told):
            told.add(report)
            tab.refuse(StoreReportError(title, report), on_read)

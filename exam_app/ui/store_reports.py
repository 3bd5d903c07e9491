"""Show what the store found wrong: at an unlock, and while working."""

from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from exam_app.store.errors import StoreReportError

if TYPE_CHECKING:
    from exam_app.store.vault import Vault
    from exam_app.ui.tab import Tab

_told: "WeakKeyDictionary[Vault, set[str]]" = WeakKeyDictionary()


def show_store_reports(tab: "Tab") -> None:
    """Lay each report over the screen once."""
    vault = tab.vault
    told = _told.setdefault(vault, set())
    for title, report in (
        ("Damage was found", vault.damage_report),
        ("Space is running out", vault.disk_report),
    ):
        if report and not any(report in earlier for earlier in told):
            told.add(report)
            tab.refuse(StoreReportError(title, report))

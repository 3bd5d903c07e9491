"""What the store found wrong and nobody was told yet."""

from collections.abc import Callable, Iterator
from weakref import WeakKeyDictionary

from exam_app.app.exam_sessions import now
from exam_app.app.session import Session
from exam_app.exchange.erasing import set_aside_words
from exam_app.exchange.exchange import Exchange
from exam_app.store.errors import StoreReportError
from exam_app.store.vault.vault import Vault

_told: WeakKeyDictionary[Vault, set[str]] = WeakKeyDictionary()


def new_reports(
    session: Session,
) -> Iterator[tuple[StoreReportError, Callable[[], None] | None]]:
    """Give each report once; damage is told until it was read.

    Yields:
        The report, and what to save when the person says that it was read.
    """
    vault = session.vault
    told = _told.setdefault(vault, set())

    def acknowledge() -> None:
        by = str((session.person or {}).get("name", ""))
        at = now().date_and_time()
        vault.acknowledge_damage(by, at)

    mark_read = Exchange(vault).erasures.mark_read
    for title, report, read in (
        ("Damage was found", vault.damage_report, acknowledge),
        ("Space is running out", vault.disk_report, None),
        ("Erased details came again", set_aside_words(vault), mark_read),
    ):
        if report and not any(report in earlier for earlier in told):
            told.add(report)
            yield StoreReportError(title, report), read

"""What the store found wrong and nobody was told yet."""

from collections.abc import Callable, Iterator

from exam_app.app.exam_sessions import now
from exam_app.app.session import Session
from exam_app.exchange.erasing import set_aside_words
from exam_app.exchange.exchange import Exchange
from exam_app.language.catalogue import tr
from exam_app.store.errors import StoreReportError


def new_reports(
    session: Session,
) -> Iterator[tuple[StoreReportError, Callable[[], None] | None]]:
    """Give each report once; damage is told until it was read.

    Yields:
        The report, and what to save when the person says that it was read.
    """
    vault, told = session.vault, session.told_reports

    def acknowledge() -> None:
        by = session.person.name if session.person else ""
        vault.acknowledge_damage(by, now().date_and_time())

    mark_read = Exchange(vault).erasures.mark_read
    for title, report, read in (
        (tr("Damage was found"), vault.damage_report, acknowledge),
        (tr("Space is running out"), vault.disk_report, None),
        (tr("Erased details came again"), set_aside_words(vault), mark_read),
    ):
        if report and not any(report in earlier for earlier in told):
            told.add(report)
            yield StoreReportError(title, report), read

"""What this device sealed for its clinic, the steps that move it on, and receipts.

A code says that a whole hand-over was stored. Only the signed receipt says what
became of each exam, and only an exam it calls stored may be deleted here.

The steps themselves are ``exchange.outbox``; here they meet the open vault, this
device's keys and the clock. Every call that changes something is one save.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from exam_app.app.exam_sessions import now
from exam_app.app.session import Session
from exam_app.crypto.door import random_bytes
from exam_app.exchange import outbox
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outgoing import RECEIVED, WAITING, Outgoing
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault

HINT = to_translate(
    "Eight characters. Capitals, spaces and dashes do not matter; O is 0, I is 1."
)
MISTYPED = to_translate(
    "That is no receipt code: a character is missing, swapped or misread. "
    "No try was used. Compare all eight with the clinic's screen."
)
NO_MORE_TRIES = to_translate(
    "Five codes were wrong. The exams stay on this device. "
    "Only the clinic's signed receipt counts for this hand-over now."
)
_ARRIVED = {
    "stored": to_translate("stored at the clinic"),
    "had already": to_translate("was at the clinic already"),
    "revision": to_translate("stored at the clinic as a later version"),
    "fork": to_translate("stored at the clinic beside another version; both are kept"),
}
_NOT_ARRIVED = {
    "quarantined": to_translate("set aside at the clinic; not among its records"),
    "refused": to_translate("refused by the clinic; it is not there"),
}


def is_paired(vault: Vault) -> bool:
    """Whether a person has confirmed a clinic."""
    return Exchange(vault).pairing.clinic() is not None


def clinic_name(vault: Vault) -> str:
    """Name the confirmed clinic; empty without one."""
    clinic = Exchange(vault).pairing.clinic()
    return clinic.name if clinic else ""


def bundles(vault: Vault) -> list[Outgoing]:
    """Return what was sealed for the present clinic, newest first.

    Without the sealed bytes. One that was withdrawn is there no more, unless the
    clinic had it already.
    """
    clinic = Exchange(vault).pairing.clinic()
    found = [
        one
        for one in Exchange(vault).outgoing.all()
        if clinic
        and one.recipient_id == clinic.clinic_id
        and (not one.withdrawn or one.state == RECEIVED)
    ]
    return sorted(found, key=lambda bundle: -bundle.sequence)


def to_show(vault: Vault, numbers: Iterable[int]) -> tuple[Outgoing, ...]:
    """Return the bundles of these numbers with their sealed bytes, oldest first.

    One whose signed receipt came is left out: its bytes are gone.
    """
    wanted = set(numbers)
    listed = [one for one in reversed(bundles(vault)) if one.sequence in wanted]
    found = (Exchange(vault).outgoing.get(one.bundle_hash) for one in listed)
    return tuple(one for one in found if one is not None and one.sealed)


def exams_in(vault: Vault, shown: Iterable[Outgoing]) -> list[ClosedExam]:
    """Return the rows of the exams in some bundles, each by its newest revision."""
    ids = dict.fromkeys(exam_id for one in shown for exam_id in one.exam_ids)
    newest = (vault.closed.revisions(exam_id)[-1:] for exam_id in ids)
    return [row for rows in newest for row in rows]


def rows_of(vault: Vault, bundle: Outgoing) -> list[ClosedExam]:
    """Return what lists show of a bundle's exams, as far as they are here."""
    return [
        row
        for exam_id in bundle.exam_ids
        for row in vault.closed.revisions(exam_id)
        if row.record_hash in bundle.signed_hashes
    ]


def address(found: Sequence[Outgoing]) -> str:
    """Name bundles in the address of the player."""
    return "-".join(str(bundle.sequence) for bundle in found)


def outbox_of(session: Session) -> Exchange:
    """Return the open store as the hand-over sees it."""
    return Exchange(session.vault)


async def hand_over(session: Session, exam_ids: Sequence[str]) -> tuple[Outgoing, ...]:
    """Seal exams for the clinic; those sealed before are given as they are.

    Returns:
        Oldest first; empty when the clinic has everything.

    Raises:
        NotPairedError: No person has confirmed a clinic.
    """
    store = outbox_of(session)
    return await session.save(
        lambda: outbox.hand_over(store, exam_ids, now(), random_bytes)
    )


async def mark_shown(session: Session, shown: Sequence[Outgoing]) -> None:
    """Keep that bundles were shown, or written where the clinic looks."""
    waiting = [bundle for bundle in shown if bundle.state == WAITING]
    store = outbox_of(session)

    def mark() -> None:
        for bundle in waiting:
            outbox.mark_shown(store, bundle.bundle_hash)

    if waiting:
        await session.save(mark)


def deletable(vault: Vault, bundle: Outgoing) -> tuple[str, ...]:
    """Return the exams of a bundle that may be deleted here."""
    return tuple(
        row.exam_id
        for row in rows_of(vault, bundle)
        if is_deletable(bundle.state, bundle.outcomes.get(row.record_hash, ""))
        and Exchange(vault).may_delete(row.exam_id)
    )


def wrong_code_words(tries_left: int) -> str:
    """Say that a code is not the right one, and how many more may be typed."""
    if tries_left < 1:
        return tr(NO_MORE_TRIES)
    if tries_left == 1:
        return tr(
            "That is not the code of this hand-over. "
            "One try is left; compare it with the clinic's screen."
        )
    return tr(
        "That is not the code of this hand-over. "
        "{tries} tries are left; compare it with the clinic's screen.",
        tries=tries_left,
    )


@dataclass(frozen=True, slots=True)
class OutcomeLine:
    """What became of one exam.

    Attributes:
        has_arrived: Whether it is among the clinic's records.
    """

    name: str
    words: str
    has_arrived: bool


def outcome_lines(
    outcomes: Iterable[tuple[str, str]], rows: Mapping[str, ClosedExam]
) -> tuple[OutcomeLine, ...]:
    """Return what became of each exam; what did not arrive comes first.

    Args:
        outcomes: Record hash and outcome, as the receipt says.
        rows: Projections by record hash; a note has none.
    """
    lines = [_line(outcome, rows.get(record_hash)) for record_hash, outcome in outcomes]
    return tuple(sorted(lines, key=lambda line: line.has_arrived))


def _line(outcome: str, row: ClosedExam | None) -> OutcomeLine:
    name = tr("A note") if row is None else row.name or tr("An animal")
    words = _ARRIVED.get(outcome) or _NOT_ARRIVED.get(outcome, outcome)
    return OutcomeLine(name, tr(words), outcome in _ARRIVED)


def outcome_summary(lines: Sequence[OutcomeLine]) -> str:
    """Say in one sentence what arrived and what did not."""
    arrived = sum(line.has_arrived for line in lines)
    missing = len(lines) - arrived
    if not missing:
        return (
            tr("All {count} arrived.", count=len(lines))
            if len(lines) > 1
            else tr("It arrived.")
        )
    return tr(
        "{arrived} arrived, {missing} did not. What did not arrive stays here.",
        arrived=arrived,
        missing=missing,
    )


def is_deletable(state: str, outcome: str) -> bool:
    """Whether an exam may be deleted here: signed for, and among the records."""
    return state == RECEIVED and outcome in _ARRIVED


def delete_question(count: int) -> str:
    """Ask before exams are deleted from this device."""
    return tr_plural(
        "Delete {count} exam from this device? The clinic signed that it has it. "
        "Here it cannot be read again afterwards.",
        "Delete {count} exams from this device? The clinic signed that it has them. "
        "Here they cannot be read again afterwards.",
        count,
    )

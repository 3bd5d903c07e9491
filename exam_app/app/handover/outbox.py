"""What this device has sealed for its clinic, and the steps that move it on.

The steps themselves are ``exchange.outbox``; here they meet the open vault, this
device's keys and the clock. Every call that changes something is one save.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from exam_app.app.exam_sessions import now
from exam_app.app.handover.receipt import is_deletable
from exam_app.app.session import Session
from exam_app.app.view.hand_over_presenter import Row
from exam_app.crypto.door import random_bytes
from exam_app.exchange import outbox
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outgoing import RECEIVED, WAITING
from exam_app.exchange.pairings import PAIRED
from exam_app.store.vault.vault import Vault


@dataclass(frozen=True, slots=True)
class OutgoingBundle:
    """One sealed bundle.

    Attributes:
        sealed: Empty where only lists are shown.
        rows: Projections of its exams, as far as they are here.
        outcomes: Record hash and outcome, once a signed receipt came.
    """

    bundle_hash: str
    sequence: int
    state: str
    exam_ids: tuple[str, ...]
    rows: tuple[Row, ...] = ()
    outcomes: tuple[tuple[str, str], ...] = ()
    sealed: bytes = b""

    @property
    def exam_count(self) -> int:
        """How many exams it holds."""
        return len(self.exam_ids)


def is_paired(vault: Vault) -> bool:
    """Whether a person has confirmed a clinic."""
    clinic = Exchange(vault).pairing.clinic()
    return bool(clinic and clinic.get("state") == PAIRED)


def clinic_name(vault: Vault) -> str:
    """Name the confirmed clinic; empty without one."""
    clinic = Exchange(vault).pairing.clinic()
    return str(clinic["name"]) if clinic and is_paired(vault) else ""


def bundles(vault: Vault) -> tuple[OutgoingBundle, ...]:
    """Return what was sealed for the present clinic, newest first."""
    found = [_bundle(vault, one) for one in _own(vault)]
    return tuple(sorted(found, key=lambda bundle: -bundle.sequence))


def to_show(vault: Vault, numbers: Iterable[int]) -> tuple[OutgoingBundle, ...]:
    """Return the bundles of these numbers with their sealed bytes, oldest first.

    One whose signed receipt came is left out: its bytes are gone.
    """
    wanted = set(numbers)
    found = []
    for one in _own(vault):
        sealed = Exchange(vault).outgoing.sealed(one["bundle_hash"])
        if one["sequence"] in wanted and sealed:
            found.append(_bundle(vault, one, sealed))
    return tuple(sorted(found, key=lambda bundle: bundle.sequence))


def _own(vault: Vault) -> list[Row]:
    clinic = Exchange(vault).pairing.clinic() or {}
    # One that was withdrawn is there no more, unless the clinic had it already.
    kept = [
        one
        for one in Exchange(vault).outgoing.all()
        if not one.get("withdrawn") or one["state"] == RECEIVED
    ]
    return [one for one in kept if one["recipient_id"] == clinic.get("clinic_id")]


def _bundle(vault: Vault, kept: Row, sealed: bytes = b"") -> OutgoingBundle:
    hashes = set(kept["signed_hashes"])
    exam_ids = tuple(map(str, kept["exam_ids"]))
    rows = [
        row
        for exam_id in exam_ids
        for row in vault.closed.revisions(exam_id)
        if row.get("hash") in hashes
    ]
    return OutgoingBundle(
        str(kept["bundle_hash"]),
        int(kept["sequence"]),
        str(kept["state"]),
        exam_ids,
        tuple(rows),
        tuple((kept.get("outcomes") or {}).items()),
        sealed,
    )


def address(found: Sequence[OutgoingBundle]) -> str:
    """Name bundles in the address of the player."""
    return "-".join(str(bundle.sequence) for bundle in found)


def outbox_of(session: Session) -> Exchange:
    """Return the open store as the hand-over sees it."""
    return Exchange(session.vault, is_demo=session.is_demo)


async def hand_over(
    session: Session, exam_ids: Sequence[str]
) -> tuple[OutgoingBundle, ...]:
    """Seal exams for the clinic; those sealed before are given as they are.

    Returns:
        Without their sealed bytes; empty when the clinic has everything.

    Raises:
        NotPairedError: No person has confirmed a clinic.
    """
    store = outbox_of(session)
    made = await session.save(
        lambda: outbox.hand_over(store, exam_ids, now(), random_bytes)
    )
    numbers = {bundle.sequence for bundle in made}
    every = await session.read(lambda: bundles(session.vault))
    return tuple(b for b in reversed(every) if b.sequence in numbers)


async def mark_shown(session: Session, shown: Sequence[OutgoingBundle]) -> None:
    """Keep that bundles were shown, or written where the clinic looks."""
    waiting = [bundle for bundle in shown if bundle.state == WAITING]
    store = outbox_of(session)

    def mark() -> None:
        for bundle in waiting:
            outbox.mark_shown(store, bundle.bundle_hash)

    if waiting:
        await session.save(mark)


def deletable(vault: Vault, bundle: OutgoingBundle) -> tuple[str, ...]:
    """Return the exams of a bundle that may be deleted here."""
    outcomes = dict(bundle.outcomes)
    return tuple(
        str(row["exam_id"])
        for row in bundle.rows
        if is_deletable(bundle.state, outcomes.get(str(row.get("hash")), ""))
        and Exchange(vault).may_delete(str(row["exam_id"]))
    )

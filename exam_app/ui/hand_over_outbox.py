"""What this device has sealed for its clinic, and the steps that move it on.

The steps themselves are ``sync.outbox``; here they meet the open vault, this device's
keys and the clock. Every call that changes something is one save.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

from exam_app.domain.errors import ExamError
from exam_app.ui.hand_over_presenter import SHOWN, Row
from exam_app.ui.hand_over_receipt import is_deletable
from exam_app.ui.pairing_device import PAIRED

if TYPE_CHECKING:
    from exam_app.store.vault import Vault
    from exam_app.ui.tab import Tab


class BundleGoneError(ExamError):
    """An address names a hand-over that is not kept here, or not any more."""

    advice: ClassVar[str] = (
        "This hand-over is not kept here any more: its signed receipt came, or it was "
        "never made. Nothing was changed. Look at the hand-over screen."
    )


class NothingToShowError(ExamError):
    """An exam that was to be shown has reached the clinic already."""

    advice: ClassVar[str] = (
        "This exam has reached the clinic already. Nothing was changed. "
        "Its receipt stands on the hand-over screen."
    )


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


def is_paired(vault: "Vault") -> bool:
    """Whether a person has confirmed a clinic."""
    clinic = vault.exchange.pairing.clinic()
    return bool(clinic and clinic.get("state") == PAIRED)


def clinic_name(vault: "Vault") -> str:
    """Name the confirmed clinic; empty without one."""
    clinic = vault.exchange.pairing.clinic()
    return str(clinic["name"]) if clinic and is_paired(vault) else ""


def bundles(vault: "Vault") -> tuple[OutgoingBundle, ...]:
    """Return what was sealed for the present clinic, newest first."""
    clinic = vault.exchange.pairing.clinic() or {}
    kept = vault.exchange.outgoing.all()
    own = [one for one in kept if one["recipient_id"] == clinic.get("clinic_id")]
    own.sort(key=lambda one: int(one["sequence"]), reverse=True)
    return tuple(_bundle(vault, one) for one in own)


def to_show(vault: "Vault", numbers: Iterable[int]) -> tuple[OutgoingBundle, ...]:
    """Return the bundles of these numbers with their sealed bytes, oldest first.

    One whose signed receipt came is left out: its bytes are gone.
    """
    wanted = set(numbers)
    clinic = vault.exchange.pairing.clinic() or {}
    found = []
    for one in vault.exchange.outgoing.all():
        is_meant = one["sequence"] in wanted
        if not is_meant or one["recipient_id"] != clinic.get("clinic_id"):
            continue
        sealed = vault.exchange.outgoing.sealed(one["bundle_hash"])
        if sealed:
            found.append(_bundle(vault, one, sealed))
    return tuple(sorted(found, key=lambda bundle: bundle.sequence))


def _bundle(vault: "Vault", kept: Row, sealed: bytes = b"") -> OutgoingBundle:
    hashes = set(kept.get("record_hashes", ()))
    exam_ids = tuple(map(str, kept.get("exam_ids", ())))
    rows = [
        row
        for exam_id in exam_ids
        for row in vault.closed.revisions(exam_id)
        if row.get("hash") in hashes
    ]
    outcomes: dict[str, str] = dict(kept.get("outcomes") or {})
    return OutgoingBundle(
        str(kept["bundle_hash"]),
        int(kept["sequence"]),
        str(kept["state"]),
        exam_ids,
        tuple(rows),
        tuple(outcomes.items()),
        sealed,
    )


def address(found: Sequence[OutgoingBundle]) -> str:
    """Name bundles in the address of the player."""
    return "-".join(str(bundle.sequence) for bundle in found)


async def hand_over(tab: "Tab", exam_ids: Sequence[str]) -> tuple[OutgoingBundle, ...]:
    """Seal exams for the clinic; those sealed before are given as they are.

    Raises:
        NothingToShowError: All of them have reached the clinic.
    """
    raise NothingToShowError


async def mark_shown(tab: "Tab", shown: Sequence[OutgoingBundle]) -> None:
    """Keep that bundles were shown, or written where the clinic looks."""
    waiting = [bundle for bundle in shown if bundle.state != SHOWN]
    if waiting:
        await tab.save(lambda: _mark(tab.vault, waiting))


def _mark(vault: "Vault", shown: Iterable[OutgoingBundle]) -> None:
    outgoing = vault.exchange.outgoing
    with vault.transaction():
        for bundle in shown:
            outgoing.change(bundle.bundle_hash, {"state": SHOWN})
            hashes = [str(row["hash"]) for row in bundle.rows]
            outgoing.mark_records(hashes, SHOWN, bundle.bundle_hash)


def enter_code(vault: "Vault", bundle_hash: str, typed: str) -> None:
    """Take the clinic's receipt code for one bundle."""


def take_receipt(vault: "Vault", signed: bytes) -> None:
    """Take a signed receipt."""


def keep_arrived(vault: "Vault", contents: Iterable[bytes]) -> None:
    """Take receipts and day packs, whichever they are."""


def deletable(vault: "Vault", bundle: OutgoingBundle) -> tuple[str, ...]:
    """Return the exams of a bundle that may be deleted here."""
    outcomes = dict(bundle.outcomes)
    return tuple(
        str(row["exam_id"])
        for row in bundle.rows
        if is_deletable(bundle.state, outcomes.get(str(row.get("hash")), ""))
        and vault.exchange.may_delete(str(row["exam_id"]))
    )


def delete_received(vault: "Vault", exam_ids: Iterable[str]) -> None:
    """Delete exams that the clinic signed for."""


Settings = dict[str, Any]

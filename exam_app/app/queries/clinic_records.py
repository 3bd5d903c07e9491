"""What the clinic's screens read from the store, and nothing of how it is shown."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from exam_app.app.queries.kept_records import KeptRecord, read_kept
from exam_app.app.view.clinic_identity_presenter import (
    ClashQuestion,
    JoinQuestion,
    clash_question,
    join_question,
    seen_words,
)
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.identity import aside_words
from exam_app.exchange.merge import flat
from exam_app.exchange.signed_notes import SignedNote, notes_of
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault

LOOKED_THROUGH = 2000
HISTORY = 30
_BUNDLES_SHOWN = 8


@dataclass(frozen=True, slots=True)
class RecordPage:
    """One record as the veterinarian reads it.

    Attributes:
        notes: Verified notes, oldest first.
        unread_notes: How many notes here cannot be verified.
        versions: Projections of the records nothing revises; two are a fork.
        rows: Projections of the animal's records.
        history: The animal's newest records, this one included.
    """

    kept: KeptRecord
    row: ClosedExam
    notes: tuple[SignedNote, ...]
    unread_notes: int
    versions: tuple[ClosedExam, ...]
    rows: tuple[ClosedExam, ...]
    history: tuple[KeptRecord, ...]


def is_clinic(vault: Vault) -> bool:
    """Return whether this computer was set up as the clinic's."""
    return bool(vault.settings.get("role") == "clinic")


def received_rows(vault: Vault) -> list[ClosedExam]:
    """Return the projections of what arrived here, newest first."""
    rows = vault.closed.latest(LOOKED_THROUGH)
    ends = Counter(row.exam_id for row in rows)
    forks = [(row, ends[row.exam_id] > 1) for row in rows if row.is_received]
    return [
        row if row.is_fork == is_fork else replace(row, is_fork=is_fork)
        for row, is_fork in forks
    ]


def device_names(vault: Vault) -> dict[str, str]:
    """Return the names of the devices known here, by their ids."""
    return {d["device_id"]: d["name"] for d in Exchange(vault).pairing.devices()}


def read_record(
    vault: Vault, exam_id: str, record_hash: str | None = None
) -> RecordPage | None:
    """Verify and read a record with everything that stands beside it.

    Returns:
        None when no such record is here.

    Raises:
        RecordError: A signed record does not verify or cannot be read.
    """
    kept = read_kept(vault, exam_id, record_hash)
    if kept is None:
        return None
    notes, unread = notes_of(vault, exam_id)
    rows = rows_of_animal(vault, kept.exam.animal.animal_id)
    history = (read_kept(vault, row.exam_id) for row in rows[:HISTORY])
    its = (row for row in rows if row.record_hash == kept.exam_hash)
    return RecordPage(
        kept,
        next(its, ClosedExam(exam_id=exam_id)),
        notes,
        unread,
        tuple(vault.closed.tips(exam_id)),
        tuple(rows),
        tuple(record for record in history if record is not None),
    )


def rows_of_animal(vault: Vault, animal_id: str) -> list[ClosedExam]:
    """Return the rows of an animal and of every one that a person called the same."""
    ids = Exchange(vault).identity.same_as(animal_id)
    rows = [row for one in ids for row in vault.closed.for_animal(one)]
    return sorted(rows, key=lambda row: row.started, reverse=True)


def device_rows(vault: Vault) -> list[dict[str, Any]]:
    """Return every device with what came of it: last number, gaps, clock."""
    rows = []
    for device in Exchange(vault).pairing.devices():
        came = Exchange(vault).incoming.of_device(device["device_id"])
        last = max(came, key=lambda row: int(row["sequence"]), default=None)
        came_last = max(came, key=lambda row: int(row["received_ms"]), default=None)
        rows.append(
            {
                **device,
                "last_sequence": int(last["sequence"]) if last else 0,
                "missing": Exchange(vault).incoming.missing(device["device_id"]),
                "skew_ms": int(came_last["skew_ms"]) if came_last else 0,
            }
        )
    return rows


def paired_devices(vault: Vault) -> list[Mapping[str, Any]]:
    """Return the devices that are trusted now."""
    return [d for d in Exchange(vault).pairing.devices() if d.get("state") == "paired"]


@dataclass(frozen=True, slots=True)
class PairsAside:
    """Pairs of one bundle that may be the same animal and are not asked yet."""

    key: str
    count: int
    words: str


def pairs_aside(vault: Vault) -> list[PairsAside]:
    """Return what was set aside of each bundle, oldest first."""
    names, found = device_names(vault), []
    for key, row in Exchange(vault).identity.joins_aside():
        device = names.get(str(row["device_id"]), "a device")
        said = aside_words(int(row["count"]), int(row["uncompared"]))
        words = f"Bundle {row['sequence']} from {device}: {said}."
        found.append(PairsAside(key, int(row["count"]), words))
    return found


def join_questions(vault: Vault) -> list[JoinQuestion]:
    """Return every pair of animals that may be one and waits for a person."""
    names, exchange = device_names(vault), Exchange(vault)
    questions = []
    for proposal in exchange.identity.joins():
        ids = (proposal["first"], proposal["second"])
        first, second = (flat(vault.animals.get(key) or {}) for key in ids)
        seen = [seen_words(vault.closed.for_animal(i), names) for i in ids]
        questions.append(join_question(proposal, first, second, (seen[0], seen[1])))
    return questions


def clash_questions(vault: Vault) -> list[ClashQuestion]:
    """Return every field that two sides changed and that waits for a person."""
    names = device_names(vault)
    return [
        clash_question(
            clash,
            shown.name if (shown := vault.animals.shown(clash["animal_id"])) else "",
            names.get(str(clash.get("device_id")), ""),
        )
        for clash in Exchange(vault).identity.clashes()
    ]


@dataclass(frozen=True, slots=True)
class Overview:
    """What the clinic's first screen shows.

    Attributes:
        rows: Projections of what arrived, newest first.
        devices: As ``device_rows``.
        bundles: The newest received bundles, newest first.
        held: How much was set aside and waits.
        questions: How many questions of identity wait.
    """

    rows: tuple[ClosedExam, ...]
    devices: tuple[Mapping[str, Any], ...]
    bundles: tuple[Mapping[str, Any], ...]
    held: int
    questions: int


def overview(vault: Vault) -> Overview:
    """Read what the clinic's first screen shows."""
    exchange = Exchange(vault)
    return Overview(
        tuple(received_rows(vault)),
        tuple(device_rows(vault)),
        tuple(exchange.incoming.latest(_BUNDLES_SHOWN)),
        len(exchange.quarantine.held()),
        sum(
            len(waiting)
            for waiting in (
                exchange.identity.joins(),
                exchange.identity.clashes(),
                exchange.identity.joins_aside(),
            )
        ),
    )

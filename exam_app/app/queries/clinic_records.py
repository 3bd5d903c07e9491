"""What the clinic's screens read from the store, and nothing of how it is shown."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from exam_app.app.queries.history import read_history
from exam_app.app.queries.kept_records import KeptRecord, read_kept
from exam_app.app.queries.record_chain import open_requests
from exam_app.app.view.clinic_identity_presenter import (
    ClashQuestion,
    JoinQuestion,
    clash_question,
    join_question,
    seen_words,
)
from exam_app.domain.animal.history import AnimalHistory
from exam_app.domain.exam.exam import words_for
from exam_app.domain.wording.pressing_words import pressing_lines
from exam_app.domain.wording.visible_text import visible
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.identity import JoinsAside, aside_words
from exam_app.exchange.incoming import Incoming
from exam_app.exchange.merge import flat
from exam_app.exchange.pairings import PAIRED, Device
from exam_app.exchange.signed_notes import SignedNote, notes_of
from exam_app.language.catalogue import in_english, tr
from exam_app.record.errors import RecordError
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault

# Read once for each signed record of a version whose rows do not hold it.
_pressing_of_record: dict[str, tuple[str, ...]] = {}
LOOKED_THROUGH = 2000
MOST_PRESSING = 200
_BUNDLES_SHOWN = 8


@dataclass(frozen=True, slots=True)
class RecordPage:
    """One record as the veterinarian reads it.

    Attributes:
        notes: Verified notes, oldest first.
        unread_notes: How many notes here cannot be verified.
        versions: Projections of the records nothing revises; two are a fork.
        rows: Projections of the animal's records.
        history: What the animal's newest records say, this one included.
        read_elsewhere: Who has it open at other stations of a register.
    """

    kept: KeptRecord
    row: ClosedExam
    notes: tuple[SignedNote, ...]
    unread_notes: int
    versions: tuple[ClosedExam, ...]
    rows: tuple[ClosedExam, ...]
    history: AnimalHistory
    read_elsewhere: tuple[str, ...] = ()

    @property
    def elsewhere_words(self) -> tuple[str, ...]:
        """Say of each who has it open at another station that they do."""
        return tuple(
            tr("{name} has it open at another station.", name=visible(name))
            for name in self.read_elsewhere
        )


def is_clinic(vault: Vault) -> bool:
    """Return whether this computer was set up as the clinic's."""
    return bool(vault.settings.get("role") == "clinic")


def received_rows(vault: Vault) -> list[ClosedExam]:
    """Return the projections of what arrived here, newest first.

    In a register of several stations what presses stands behind them, where it is
    older than these.
    """
    rows = vault.closed.latest(LOOKED_THROUGH)
    shown = {row.record_hash for row in rows}
    pressing = vault.closed.pressing(MOST_PRESSING)
    rows += [row for row in pressing if row.record_hash not in shown]
    ends = Counter(row.exam_id for row in rows)
    forks = [(row, ends[row.exam_id] > 1) for row in rows if row.is_received]
    return [
        row if row.is_fork == is_fork else replace(row, is_fork=is_fork)
        for row, is_fork in forks
    ]


def pressing_of(vault: Vault, row: ClosedExam) -> tuple[str, ...]:
    """Return what presses in a record, in the finding's own words.

    A row of an earlier version does not hold it: its record is read, once.
    """
    if row.pressing is not None:
        return row.pressing
    if row.record_hash not in _pressing_of_record:
        try:
            kept = read_kept(vault, row.exam_id, row.record_hash)
        except RecordError:
            # Opening that record says what is wrong with it.
            return ()
        with in_english():
            lines = pressing_lines(kept.exam, kept.loaded.protocol) if kept else ()
        _pressing_of_record[row.record_hash] = lines
    return _pressing_of_record[row.record_hash]


def rechecks_asked(vault: Vault, rows: Iterable[ClosedExam]) -> dict[str, str]:
    """Return by exam what is still to be looked at again, of those with a request."""
    shown = list(rows)
    noted = vault.notes.counts_of(row.exam_id for row in shown)
    animals = {row.animal_id for row in shown if row.exam_id in noted}
    found: dict[str, list[str]] = {}
    for animal_id in sorted(animals):
        for request in open_requests(vault, animal_id):
            found.setdefault(request.exam_id, []).append(
                request.parts or tr("all of it")
            )
    return {exam_id: "; ".join(parts) for exam_id, parts in found.items()}


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
    exam = kept.exam
    past = read_history(vault, exam.animal.animal_id, words_for(exam))
    its = (row for row in past.rows if row.record_hash == kept.exam_hash)
    return RecordPage(
        kept,
        next(its, ClosedExam(exam_id=exam_id)),
        notes,
        unread,
        tuple(vault.closed.tips(exam_id)),
        past.rows,
        past.history,
        vault.read_elsewhere(exam_id),
    )


@dataclass(frozen=True, slots=True)
class DeviceNow:
    """A device with what came of it.

    Attributes:
        last_sequence: 0 where nothing came.
        missing: As ``IncomingBundles.missing``.
        skew_ms: Of what came last.
    """

    device: Device
    last_sequence: int = 0
    missing: tuple[int, ...] = ()
    skew_ms: int = 0


def devices_now(vault: Vault) -> list[DeviceNow]:
    """Return every device with what came of it: last number, gaps, clock."""
    found, incoming = [], Exchange(vault).incoming
    for device in Exchange(vault).pairing.devices():
        came = incoming.of_device(device.device_id)
        last = max((one.sequence for one in came), default=0)
        newest = max(came, key=lambda one: one.received_ms, default=None)
        missing = incoming.missing(device.device_id)
        found.append(DeviceNow(device, last, missing, newest.skew_ms if newest else 0))
    return found


def paired_devices(vault: Vault) -> list[Device]:
    """Return the devices that are trusted now."""
    return [d for d in Exchange(vault).pairing.devices() if d.state == PAIRED]


def pairs_aside(vault: Vault) -> list[tuple[JoinsAside, str]]:
    """Return what was set aside of each bundle, oldest first, each with its words."""
    names, found = Exchange(vault).pairing.names(), []
    for one in Exchange(vault).identity.joins_aside():
        device = names.get(one.device_id) or tr("a device")
        said = aside_words(one.count, one.uncompared)
        told = tr(
            "Bundle {number} from {device}: {said}.",
            number=one.sequence,
            device=device,
            said=said,
        )
        found.append((one, told))
    return found


def join_questions(vault: Vault) -> list[JoinQuestion]:
    """Return every pair of animals that may be one and waits for a person."""
    names, exchange = Exchange(vault).pairing.names(), Exchange(vault)
    questions = []
    for proposal in exchange.identity.joins():
        ids = (proposal.first, proposal.second)
        first, second = (flat(vault.animals.get(key) or {}) for key in ids)
        seen = [seen_words(vault.closed.for_animal(i), names) for i in ids]
        questions.append(join_question(proposal, first, second, (seen[0], seen[1])))
    return questions


def clash_questions(vault: Vault) -> list[ClashQuestion]:
    """Return every field that two sides changed and that waits for a person."""
    names = Exchange(vault).pairing.names()
    return [
        clash_question(
            clash,
            shown.name if (shown := vault.animals.shown(clash.animal_id)) else "",
            names.get(clash.device_id, ""),
        )
        for clash in Exchange(vault).identity.clashes()
    ]


@dataclass(frozen=True, slots=True)
class Overview:
    """What the clinic's first screen shows.

    Attributes:
        rows: Projections of what arrived, newest first.
        devices: As ``devices_now``.
        bundles: The newest received bundles, newest first.
        held: How much was set aside and waits.
        questions: How many questions of identity wait.
    """

    rows: tuple[ClosedExam, ...]
    devices: tuple[DeviceNow, ...]
    bundles: tuple[Incoming, ...]
    held: int
    questions: int


def overview(vault: Vault) -> Overview:
    """Read what the clinic's first screen shows."""
    exchange = Exchange(vault)
    return Overview(
        tuple(received_rows(vault)),
        tuple(devices_now(vault)),
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

"""Hand-overs that are whole, and files, on their way in; what was answered to them.

Every import is one save of the store and gives one receipt; the same bytes again give
the same receipt. What was answered stays in memory for the receipt screen, since the
typed code cannot be derived from what the store keeps.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from weakref import WeakKeyDictionary

from exam_app.app.clinic.reception import Reception
from exam_app.app.clinic.shared_folder import (
    folder_of,
    own_folder,
    put_for_device,
    tell_of_photographs,
)
from exam_app.app.view.clinic_arrival_presenter import (
    spool_lines,
    spool_waiting_words,
)
from exam_app.app.view.photograph_presenter import put_off_words
from exam_app.crypto import door
from exam_app.domain.errors import ExamError
from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import Received, admit, receive
from exam_app.exchange.incoming import DROPPED
from exam_app.exchange.photographs import (
    REFUSED_FOR_NOW,
    PhotographArrival,
    receive_photograph,
)
from exam_app.exchange.spool import import_spool
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.store.errors import VaultUnreachableError
from exam_app.store.vault.vault import Vault
from sync.errors import FolderError, SyncError
from sync.photographs import is_photograph
from sync.transport.folder import Ending
from sync.transport.folder_reading import MOST_HELD, FolderReader, Look

MOST_REFUSED = 50
_KEPT_APART = to_translate("It is kept whole under “Set aside” until somebody decides.")


@dataclass(frozen=True, slots=True)
class Answered:
    """What became of one sealed hand-over.

    Attributes:
        received: None when it was refused.
        problem: Why it was refused, or why its receipt is not in the folder.
        device: The device's name, or empty.
        photograph: What came, where it was a photograph and was kept.
        waits: Whether it was refused for now only: it may come again.
    """

    bundle_hash: str
    received: Received | None = None
    problem: str = ""
    device: str = ""
    photograph: PhotographArrival | None = None
    waits: bool = False


@dataclass(slots=True)
class Receiving:
    """What this run of the app read and answered.

    Attributes:
        reception: Codes read so far.
        waiting: Complete hand-overs that are not imported yet, oldest first.
        later: Photographs chosen as files that were refused for now; they are tried
            again once a hand-over came.
        answered: By bundle hash, the newest last.
        spool_told: What became of hand-overs that came while the exams were locked.
        spool_waits: Files of such that are tried again once a hand-over came.
        reader: Of the folder named in the settings, once it was looked into.
        look: What the last look into the folder found.
        photographs: By hash, those that came; they have no receipt of their own.
        told_in: The folder in which the devices were told of all that came; empty once
            more has come.
    """

    reception: Reception = field(default_factory=Reception)
    waiting: list[bytes] = field(default_factory=list)
    later: list[bytes] = field(default_factory=list)
    answered: dict[str, Answered] = field(default_factory=dict)
    spool_told: tuple[str, ...] = ()
    spool_waits: frozenset[str] = frozenset()
    reader: FolderReader | None = None
    look: Look | None = None
    photographs: dict[str, PhotographArrival] = field(default_factory=dict)
    told_in: str = ""

    @property
    def spool(self) -> tuple[str, ...]:
        """What became of all that came while the exams were locked, in sentences."""
        waiting = spool_waiting_words(len(self.spool_waits))
        return (*self.spool_told, waiting) if waiting else self.spool_told

    def photograph_words(self, vault: Vault) -> str:
        """Say how many photographs came, and how many wait; empty for none."""
        came = self.photographs.keys()
        unnamed = len(came & {row.sha256 for row in vault.photographs.unnamed()})
        said, n = [], len(came)
        if n:
            told = tr_plural("{count} photograph came.", "{count} photographs came.", n)
            said.append(told)
        if unnamed:
            said.append(
                tr("{n} of them will be shown once the record is here.", n=unnamed)
            )
        if self.look and self.look.put_off:
            said.append(put_off_words(self.look.put_off))
        return " ".join(said)


_receiving: WeakKeyDictionary[Vault, Receiving] = WeakKeyDictionary()


def receiving_of(vault: Vault) -> Receiving:
    """Return what was read and answered since the vault was opened."""
    return _receiving.setdefault(vault, Receiving())


def import_sealed(vault: Vault, sealed: bytes, now: Moment) -> Answered:
    """Import one hand-over; a refusal is an answer too, and nothing is kept of it.

    Raises:
        VaultError: The store could not save; nothing was kept.
    """
    bundle_hash = door.sha256(sealed).hex()
    try:
        if is_photograph(sealed):
            came = receive_photograph(sealed, Exchange(vault))
            _note_photographs(vault, [came])
            receiving_of(vault).answered.pop(bundle_hash, None)
            return Answered(bundle_hash, device=came.device.name, photograph=came)
        received = receive(sealed, Exchange(vault), now)
    except REFUSED_FOR_NOW as error:
        answered = Answered(bundle_hash, None, tr(error.advice), waits=True)
    except SyncError as error:
        apart = f" {tr(_KEPT_APART)}" if _is_set_apart(vault, bundle_hash) else ""
        answered = Answered(bundle_hash, None, tr(error.advice) + apart)
    else:
        answered = _with_folder(vault, bundle_hash, received)
    kept = receiving_of(vault).answered
    kept.pop(bundle_hash, None)
    kept[bundle_hash] = answered
    # The oldest are forgotten: a foreign code can show another one each second.
    refused = [key for key, one in kept.items() if one.received is None]
    for key in refused[:-MOST_REFUSED]:
        del kept[key]
    return answered


def import_waiting(vault: Vault, now: Moment) -> tuple[Answered, ...]:
    """Import what waits, each in a save of its own; what could not be saved waits on.

    Raises:
        VaultError: The store could not save; nothing was lost.
    """
    receiving, answered = receiving_of(vault), []
    while waiting := receiving.waiting:
        try:
            one = import_sealed(vault, waiting[0], now)
        except VaultUnreachableError:
            vault.keep_for_later(waiting)
            raise
        sealed = waiting.pop(0)
        if one.waits and sum(map(len, receiving.later)) <= MOST_HELD:
            receiving.later.append(sealed)
        answered.append(one)
    _tell_of_photographs(vault, now)
    return tuple(answered)


def take_in_spool(vault: Vault, folder: Path, now: Moment) -> None:
    """Import what came while the exams were locked or held; it is told once.

    Raises:
        VaultError: The store could not save; the rest still waits.
    """
    receiving = receiving_of(vault)
    report = import_spool(vault, folder, now, receiving.spool_waits)
    for received in report.received:
        key = received.receipt_view.bundle_hash
        receiving.answered[key] = _with_folder(vault, key, received)
    _note_photographs(vault, report.photographs)
    told = spool_lines(len(report.received), report.refused)
    receiving.spool_told = (*receiving.spool_told, *told)
    receiving.spool_waits |= {name for name, _ in report.waiting}
    _tell_of_photographs(vault, now)


def look_into_folder(vault: Vault, now: Moment) -> tuple[Answered, ...]:
    """Import what is new in the folder; what cannot be opened yet waits there.

    Raises:
        FolderError: The folder cannot be reached.
    """
    receiving = receiving_of(vault)
    root = Path(folder_of(vault))
    reader = receiving.reader
    if reader is None or reader.root != root:
        reader = receiving.reader = FolderReader(root, skipped=own_folder(vault))
    look = receiving.look = reader.look(_Known(vault), now)
    answered = []
    for found in sorted(look.ready, key=lambda one: is_photograph(one.content)):
        one = import_sealed(vault, found.content, now)
        if one.waits:
            # It is said with the folder, and not among what was refused.
            receiving.answered.pop(found.sha256, None)
            reader.put_off(found.sha256, now)
            look = replace(look, put_off=look.put_off + 1)
            continue
        is_kept = one.received is not None or one.photograph is not None
        if not is_kept and not _is_set_apart(vault, found.sha256):
            reader.set_aside(found.sha256)
        answered.append(one)
    receiving.look = look
    _tell_of_photographs(vault, now)
    return tuple(answered)


def _tell_of_photographs(vault: Vault, now: Moment) -> None:
    """Tell the devices in the folder, if something came since they were told there.

    Where it cannot be written, the next look tries again.
    """
    receiving, path = receiving_of(vault), folder_of(vault)
    if path and receiving.told_in != path:
        with suppress(FolderError):
            tell_of_photographs(vault, Path(path), now)
            receiving.told_in = path


def admit_set_apart(vault: Vault, key: str, now: Moment, by: str, why: str) -> Answered:
    """Import a hand-over that was set apart, because a person says so.

    Raises:
        VaultError: The store could not save; it is still set apart.
    """
    try:
        received = admit(key, Exchange(vault), now, by)
    except SyncError as error:
        return Answered(key, None, error.advice)
    Exchange(vault).quarantine.explain(key, why)
    answered = _with_folder(vault, key, received)
    receiving_of(vault).answered[key] = answered
    _tell_of_photographs(vault, now)
    return answered


def drop_set_apart(vault: Vault, key: str, now: Moment, by: str, why: str) -> None:
    """Let go of what was set apart; who and why is kept, in one save."""
    with vault.transaction():
        Exchange(vault).quarantine.decide(key, DROPPED, by, now.utc_ms)
        Exchange(vault).quarantine.explain(key, why)


def _note_photographs(vault: Vault, came: Sequence[PhotographArrival]) -> None:
    receiving = receiving_of(vault)
    receiving.photographs |= {one.sha256: one for one in came}
    receiving.told_in = "" if came else receiving.told_in


def _note_hand_over(receiving: Receiving) -> None:
    """Try again what was refused for now: the records that came may name it."""
    receiving.told_in = ""
    receiving.waiting.extend(receiving.later)
    receiving.later.clear()
    receiving.spool_waits = frozenset()
    if receiving.reader is not None:
        receiving.reader.offer_again()


def _with_folder(vault: Vault, bundle_hash: str, received: Received) -> Answered:
    """Put the receipt of a hand-over that came into the folder, where there is one."""
    _note_hand_over(receiving_of(vault))
    device_id = received.receipt_view.device_id
    device = Exchange(vault).pairing.device(device_id)
    problem, path = "", folder_of(vault)
    if path:
        try:
            put_for_device(
                vault, Path(path), device_id, received.receipt, Ending.RECEIPT
            )
        except ExamError as error:
            advice = tr(error.advice)
            problem = tr("The receipt is not in the folder. {advice}", advice=advice)
    return Answered(bundle_hash, received, problem, device.name if device else "")


def _is_set_apart(vault: Vault, digest: str) -> bool:
    return Exchange(vault).quarantine.get(digest) is not None


class _Known:
    """Hashes of what was stored or set apart before."""

    def __init__(self, vault: Vault) -> None:
        self._vault = vault
        self._photographs = vault.photographs.came_in()

    def __contains__(self, digest: object) -> bool:
        exchange, key = Exchange(self._vault), str(digest)
        if key in self._photographs:
            return True
        return bool(exchange.incoming.get(key) or exchange.quarantine.get(key))

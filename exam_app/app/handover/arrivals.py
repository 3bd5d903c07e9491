"""Receipts and day packs that come from the clinic, by folder or as files."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from weakref import WeakKeyDictionary

from exam_app.app.exam_sessions import now
from exam_app.app.view.photograph_presenter import put_off_words
from exam_app.crypto.door import sha256
from exam_app.domain.errors import ExamError
from exam_app.exchange.day_pack import DayPack, take_day_pack
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outbox import take_receipt
from exam_app.exchange.outgoing import Outgoing
from exam_app.exchange.photographs import (
    REFUSED_FOR_NOW,
    take_list,
    take_photograph,
)
from exam_app.exchange.signed_notes import SignedNote, signer_of
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.record.cose import claimed_key_id
from exam_app.store.vault.vault import Vault
from sync.errors import NotABundleError
from sync.photographs import PhotographList, is_list, is_photograph
from sync.transport.folder import Ending, FolderWriter, clinic_folder, device_folder
from sync.transport.folder_reading import FolderReader

FOLDER = "hand_over_folder"
TAKEN = "arrivals_taken"
SAID = "arrivals_said"
_MOST_TAKEN = 300
_SHORT = 32
NOTHING_NEW = to_translate("Nothing new from the clinic.")
PICTURE_CAME = to_translate("A photograph of an earlier record.")
PICTURE_BEFORE = to_translate("A photograph; it will be shown once its record is here.")


@dataclass(frozen=True, slots=True)
class Arrived:
    """What became of one piece of content.

    Attributes:
        is_taken: Whether it need not be looked at again.
        waits: Whether it was refused for now only: it may come again.
    """

    digest: str
    words: str
    is_taken: bool
    waits: bool = False


_readers: WeakKeyDictionary[Vault, FolderReader] = WeakKeyDictionary()


def put_bundles(vault: Vault, root: Path, found: Sequence[Outgoing]) -> None:
    """Write sealed bundles into this device's own part of the folder.

    Raises:
        FolderError: The folder is gone, full, or may not be written.
    """
    writer = FolderWriter(device_folder(root, vault.settings.get("device_id")))
    for bundle in found:
        writer.put(bundle.sealed, Ending.BUNDLE)


def arrival_words(vault: Vault) -> tuple[str, ...]:
    """Say what came with the last look."""
    return tuple(vault.settings.get(SAID, []))


def look(vault: Vault, root: Path) -> None:
    """Take what the clinic put into the folder for this device.

    Raises:
        FolderError: The folder cannot be reached.
    """
    reader = _reader(vault, root)
    found = reader.look(_Known(vault), now())
    contents = [one.content for one in found.ready]
    arrived = [take(vault, one) for one in sorted(contents, key=is_photograph)]
    waiting = [one for one in arrived if one.waits]
    for one in waiting:
        reader.put_off(one.digest, now())
    refused = [one for one in arrived if not (one.is_taken or one.waits)]
    for one in refused:
        reader.set_aside(one.digest)
    late = [w.name for w in found.waiting if w.is_overdue]
    waits = tr("Cannot be opened yet: {names}.", names=", ".join(late)) if late else ""
    put_off = put_off_words(found.put_off + len(waiting))
    told = [one for one in arrived if not one.waits]
    _keep(vault, told, waits, put_off)


def keep_arrived(vault: Vault, contents: Iterable[bytes]) -> None:
    """Take receipts and day packs that were chosen as files."""
    _keep(vault, [take(vault, one) for one in sorted(contents, key=is_photograph)])


def take(vault: Vault, content: bytes) -> Arrived:
    """Take one content by what it is, whatever its name said; each in one save."""
    digest, exchange = sha256(content).hex(), Exchange(vault)
    try:
        return Arrived(digest, _taken(exchange, content), is_taken=True)
    except REFUSED_FOR_NOW as refusal:
        return Arrived(digest, tr(refusal.advice), is_taken=False, waits=True)
    except ExamError as refusal:
        return Arrived(digest, tr(refusal.advice), is_taken=False)


def _taken(exchange: Exchange, content: bytes) -> str:
    vault = exchange.vault
    if is_list(content):
        return list_words(take_list(exchange, content))
    if is_photograph(content):
        is_named = take_photograph(exchange, content)
        return tr(PICTURE_CAME if is_named else PICTURE_BEFORE)
    try:
        with exchange.vault.turn, vault.transaction():
            pack = take_day_pack(exchange, content, now())
            _mark_acknowledged(vault, pack)
    except NotABundleError:
        receipt = take_receipt(exchange, content)
        return tr("Signed receipt for hand-over {number}.", number=receipt.sequence)
    if reader := _readers.get(vault):
        reader.offer_again()
    return pack_words(pack)


def list_words(said: PhotographList) -> str:
    """Say what the clinic holds of this device's photographs, and what it asks for."""
    held = tr_plural("{count} photograph", "{count} photographs", len(said.held))
    if not said.wanted:
        return tr("The clinic holds {photographs}.", photographs=held)
    return tr_plural(
        "The clinic holds {photographs}; {count} more is asked for.",
        "The clinic holds {photographs}; {count} more are asked for.",
        len(said.wanted),
        photographs=held,
    )


def _mark_acknowledged(vault: Vault, pack: DayPack) -> None:
    """Let the lists say who at the clinic acknowledged which record."""
    for arrived in pack.notes:
        note = arrived.note
        signer = signer_of(vault, claimed_key_id(arrived.signed))
        if SignedNote(note, signer).acknowledges:
            name = note.author.name
            vault.closed.acknowledge(note.exam_id, note.exam_hash, name)


def pack_words(pack: DayPack) -> str:
    """Say what a day pack brought."""
    counted = (
        (
            tr_plural("{count} animal", "{count} animals", len(pack.animals)),
            pack.animals,
        ),
        (
            tr_plural("{count} record", "{count} records", len(pack.records)),
            pack.records,
        ),
        (tr_plural("{count} note", "{count} notes", len(pack.notes)), pack.notes),
        (
            tr_plural("{count} receipt", "{count} receipts", pack.receipts),
            pack.receipts,
        ),
    )
    brought = ", ".join(words for words, came in counted if came) or tr("nothing new")
    number = pack.opened.manifest.sequence
    said = [tr("Day pack {number}: {brought}.", number=number, brought=brought)]
    if pack.refused:
        said.append(
            tr(
                "{count} could not be verified and were left out.",
                count=pack.refused,
            )
        )
    if pack.private:
        said.append(
            tr_plural(
                "{count} record of another device held a private note and stayed with "
                "the clinic.",
                "{count} records of another device held a private note and stayed with "
                "the clinic.",
                pack.private,
            )
        )
    return " ".join(said)


def _keep(vault: Vault, arrived: Sequence[Arrived], *waits: str) -> None:
    at = f"{now().local():%Y-%m-%d %H:%M}"
    counted = Counter(one.words for one in arrived)
    said = [
        " ".join((words, tr("{count} of them.", count=number))) if number > 1 else words
        for words, number in counted.items()
    ]
    said = said or [tr(NOTHING_NEW)]
    lines = [f"{at} · {line}" for line in (*said, *waits) if line]
    # Photographs know by themselves what they came in; there are many.
    came = vault.photographs.came_in()
    fresh = [one.digest for one in arrived if one.is_taken and one.digest not in came]
    taken = [digest[:_SHORT] for digest in fresh]
    with vault.transaction():
        vault.settings.put(SAID, lines)
        if taken:
            kept = [*vault.settings.get(TAKEN, []), *taken]
            vault.settings.put(TAKEN, kept[-_MOST_TAKEN:])


def _reader(vault: Vault, root: Path) -> FolderReader:
    clinic = Exchange(vault).pairing.clinic()
    device_id = str(vault.settings.get("device_id"))
    place = clinic_folder(Path(), clinic.clinic_id if clinic else "0", device_id)
    kept = _readers.get(vault)
    if kept is None or (kept.root, kept.within) != (root, place.as_posix()):
        kept = _readers[vault] = FolderReader(root, within=place.as_posix())
    return kept


class _Known:
    """Hashes of what was taken before; but for photographs, by their first digits."""

    def __init__(self, vault: Vault) -> None:
        self._taken = frozenset(vault.settings.get(TAKEN, []))
        self._photographs = vault.photographs.came_in()

    def __contains__(self, digest: object) -> bool:
        return str(digest)[:_SHORT] in self._taken or digest in self._photographs

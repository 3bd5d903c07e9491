"""Photographs between a device and its clinic: handed over, received, told of.

They come beside the records and in any order. One that comes before the record which
names it is kept and shown nowhere, as many as ``MOST_UNNAMED``; one that a record names
is awaited until it comes. The device offers each until the clinic's signed list says
that it is held; one that the list wants is offered again. Beside a day pack in a folder
go the pictures of its records, sealed to the device.
"""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass

from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import public_key_of
from exam_app.exchange.pairings import PAIRED, REVOKED, Device
from exam_app.exchange.protocols import protocol_lookup
from exam_app.exchange.returns import records_for
from exam_app.language.catalogue import to_translate
from exam_app.record.cose import key_id_of
from exam_app.record.errors import RecordError
from exam_app.record.records import read_exam
from exam_app.store.errors import NoRoomForPhotographError, PhotographMissingError
from exam_app.store.repositories.photographs import PhotographRow
from sync.errors import (
    BadManifestError,
    DemoRefusedError,
    NotAReceiptError,
    RevokedDeviceError,
    SyncError,
)
from sync.photographs import (
    MOST_NAMED,
    OpenedPhotograph,
    PhotographLabel,
    PhotographList,
    open_photograph,
    read_list,
    seal_photograph,
    sign_list,
)

MOST_UNNAMED = 200
MOST_RETURNED = 100
LAST_LIST = "photographs_told_ms"


class UnnamedPhotographError(SyncError):
    """A photograph that no record names, and too many such are kept already."""

    advice = to_translate(
        "No record here names this photograph yet, and as many such are kept as may "
        "be. It was not kept. Take in the records first, then this photograph again."
    )


REFUSED_FOR_NOW = (UnnamedPhotographError, NoRoomForPhotographError)
"""Refusals of a photograph that may be kept later, as it is."""


@dataclass(frozen=True, slots=True)
class PhotographArrival:
    """What became of a photograph that came.

    Attributes:
        device: The device that handed it over.
        is_named: Whether a record here names it; until then it is shown nowhere.
        was_known: Whether it was here already.
    """

    sha256: str
    device: Device
    is_named: bool
    was_known: bool


def to_hand_over(exchange: Exchange) -> list[PhotographRow]:
    """Give the own photographs of closed exams that the clinic has not said it holds.

    Oldest first. Those of open exams wait until they are closed, and those that were
    added in a correction until it is signed.
    """
    drafts = {one.exam_id for one in exchange.vault.drafts.every()}
    return [
        row
        for row in exchange.vault.photographs.unsent()
        if any(
            _is_own(exchange, exam_id)
            and (exam_id not in drafts or _names(exchange, exam_id, row.sha256))
            for exam_id in row.exam_ids
        )
    ]


def _is_own(exchange: Exchange, exam_id: str) -> bool:
    rows = exchange.vault.closed.revisions(exam_id)
    return any(not row.is_received for row in rows)


def sealed_photograph(exchange: Exchange, row: PhotographRow) -> bytes:
    """Seal an own photograph to the clinic; again it gives the same bytes.

    Raises:
        NotPairedError: There is no confirmed clinic.
        PhotographMissingError: Its picture is not here, or was damaged.
    """
    key = exchange.pairing.confirmed_clinic().agreement_key
    return _sealed(exchange, key, row.sha256, row.exam_ids[0])


def _sealed(
    exchange: Exchange, agreement_key: bytes, sha256: str, exam_id: str
) -> bytes:
    picture, identity = exchange.vault.photographs.get(sha256), exchange.own_identity()
    label = PhotographLabel(
        identity.own_ids[0],
        agreement_key,
        sha256,
        len(picture),
        exam_id,
        exchange.is_demo,
    )
    return seal_photograph(label, picture, identity.signing_seed)


def receive_photograph(sealed: bytes, exchange: Exchange) -> PhotographArrival:
    """Keep a photograph that a paired device sealed to this clinic, once.

    Raises:
        SyncError: Refused; nothing was kept.
        VaultError: It could not be kept; it may come again.
    """
    return exchange.vault.attempt(lambda: _receive(sealed, exchange))


def _receive(sealed: bytes, exchange: Exchange) -> PhotographArrival:
    opened, device = open_known_photograph(exchange, sealed)
    key = opened.label.sha256
    was_known = exchange.vault.photographs.has(key)
    if device.state == REVOKED and not _is_named(exchange, opened):
        raise RevokedDeviceError("a photograph that no record here names")
    is_named = _keep(exchange, opened)
    return PhotographArrival(key, device, is_named, was_known)


def _is_named(exchange: Exchange, opened: OpenedPhotograph) -> bool:
    label = opened.label
    known = exchange.vault.photographs.row(label.sha256)
    is_known = bool(known and known.exam_ids)
    return is_known or _names(exchange, label.exam_id, label.sha256)


def _keep(exchange: Exchange, opened: OpenedPhotograph) -> bool:
    """Keep a picture; whether a record here names it.

    The exam that its label says is noted where a record of that exam names it.
    """
    photographs, label = exchange.vault.photographs, opened.label
    known = photographs.row(label.sha256)
    is_proved = _names(exchange, label.exam_id, label.sha256)
    is_named = is_proved or bool(known and known.exam_ids)
    is_new = known is None or not known.size
    if not is_named and is_new and len(photographs.unnamed()) >= MOST_UNNAMED:
        raise UnnamedPhotographError("as many are kept as may be")
    exam_id = label.exam_id if is_proved else ""
    photographs.add(exam_id, opened.picture, label.device_id)
    photographs.mark_sealed(label.sha256, opened.sealed_hash)
    return is_named


def open_known_photograph(
    exchange: Exchange, sealed: bytes
) -> tuple[OpenedPhotograph, Device]:
    """Open what a confirmed device, revoked or not, sealed to this clinic.

    Raises:
        SyncError: It cannot be opened, or is of another demo than this.
    """
    found: list[Device] = []
    opened = open_photograph(
        sealed,
        exchange.own_identity().agreement_private,
        public_key_of(exchange, found),
    )
    device = found[-1]
    if opened.label.device_id not in device.sender_ids:
        raise BadManifestError("its sender is not the device that signed it")
    if opened.label.is_demo is not exchange.is_demo:
        raise DemoRefusedError("demo and real do not meet")
    return opened, device


def _names(exchange: Exchange, exam_id: str, sha256: str) -> bool:
    """Whether a record kept here names a photograph.

    Records that an earlier version received are known by their exam alone.
    """
    keys, lookup = exchange.signing_keys(), protocol_lookup(exchange.vault)
    for row in exchange.vault.closed.revisions(exam_id):
        signed = exchange.vault.closed.get(exam_id, row.record_hash) or b""
        try:
            exam = read_exam(signed, keys, lookup).exam
        except RecordError:
            continue
        if any(one.sha256 == sha256 for one in exam.photos):
            return True
    return False


def photographs_for(
    exchange: Exchange, device_id: str, animal_ids: Sequence[str]
) -> Iterator[bytes]:
    """Seal to a device, each once, the pictures of the records in its day pack.

    Args:
        device_id: Of a paired device; of any other nothing is sealed.
        animal_ids: As for the day pack.
    """
    device = exchange.pairing.device(device_id)
    if device is None or device.state != PAIRED:
        return
    photographs = exchange.vault.photographs
    shown: dict[str, str] = {}
    for exam in records_for(exchange, animal_ids):
        for one in exam.photos:
            shown.setdefault(one.sha256, exam.exam_id)
    here = [one for one in shown.items() if photographs.has(one[0])]
    for sha256, exam_id in here[:MOST_RETURNED]:
        with suppress(PhotographMissingError):
            yield _sealed(exchange, device.agreement_key, sha256, exam_id)


def take_photograph(exchange: Exchange, sealed: bytes) -> bool:
    """Keep on a device a picture that its clinic sealed to it, once.

    Returns:
        Whether a record here names it; until then it is shown nowhere.

    Raises:
        NotPairedError: There is no confirmed clinic.
        SyncError: Refused; nothing was kept.
        VaultError: It could not be kept; it may come again.
    """
    with exchange.vault.turn:
        clinic = exchange.pairing.confirmed_clinic()
        known = {key_id_of(clinic.signing_key): clinic.signing_key}
        private = exchange.own_identity().agreement_private
        opened = open_photograph(sealed, private, known.get)
        label = opened.label
        if label.device_id != clinic.clinic_id:
            raise BadManifestError("its sender is not the clinic that signed it")
        if label.is_demo is not exchange.is_demo:
            raise DemoRefusedError("demo and real do not meet")
        return _keep(exchange, opened)


def list_for(exchange: Exchange, device: Device, at: Moment) -> PhotographList:
    """Return which of a device's photographs are held here and which are wanted.

    They are those that it brought and those that a record of it names, which another
    device may have brought.
    """
    photographs = exchange.vault.photographs
    rows = [row for row in photographs.rows() if row.exam_ids]
    named = [row for row in rows if _is_of(exchange, row, device)]
    here = {row.sha256 for row in photographs.here(named)}
    held = [row.sha256 for row in named if row.sha256 in here]
    wanted = [row.sha256 for row in named if row.sha256 not in here]
    return PhotographList(
        exchange.own_identity().own_ids[0],
        device.device_id,
        at,
        tuple(held[-MOST_NAMED:]),
        tuple(wanted[-MOST_NAMED:]),
        exchange.is_demo,
    )


def _is_of(exchange: Exchange, row: PhotographRow, device: Device) -> bool:
    if row.device_id in device.sender_ids:
        return True
    kept = map(exchange.vault.closed.revisions, row.exam_ids)
    return any(one.device_id in device.sender_ids for rows in kept for one in rows)


def signed_list(exchange: Exchange, said: PhotographList) -> bytes:
    """Sign a list with this clinic's key."""
    return sign_list(said, exchange.own_identity().signing_seed)


def take_list(exchange: Exchange, signed: bytes) -> PhotographList:
    """Take the clinic's list: what it holds is received, what it wants is offered.

    An earlier list than the last one taken changes nothing.

    Raises:
        NotPairedError: There is no confirmed clinic.
        ReceiptError: It is none of this clinic for this device.
    """
    vault = exchange.vault
    with vault.turn:
        clinic = exchange.pairing.confirmed_clinic()
        said = read_list(signed, clinic.signing_key)
        if said.device_id not in exchange.own_identity().own_ids:
            raise NotAReceiptError("it is for another device")
        if said.is_demo is not exchange.is_demo:
            raise NotAReceiptError("demo and real do not meet")
        last = int(vault.settings.get(LAST_LIST, 0))
        if said.at.utc_ms >= last:
            with vault.transaction():
                vault.photographs.mark_received(said.held, said.at.utc_ms)
                vault.photographs.mark_received(said.wanted, 0)
                vault.settings.put(LAST_LIST, said.at.utc_ms)
        return said

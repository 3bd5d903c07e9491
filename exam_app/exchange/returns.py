"""Make what goes back to a device: animals, latest records, notes, receipts.

The clinic seals it like any bundle and vouches, by signing the manifest, for the keys
that signed the records in it: ``record_keys`` beside each animal, in hexadecimal.
"""

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.exam import Exam
from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.merge import RECORD_KEYS, flat
from exam_app.exchange.pairings import PAIRED, Device, NotPairedError
from exam_app.exchange.protocols import (
    protocol_by_hash,
    protocol_lookup,
    shipped_protocol,
)
from exam_app.record.cose import claimed_key_id, key_id_of
from exam_app.record.plain_form import from_plain
from exam_app.record.records import ReadExam, read_exam
from exam_app.record.salted_blocks import owner_block
from sync.bundle.bundle import MOST_SIGNERS, BundleKind, SealedBundle, seal_bundle
from sync.bundle.contents import Contents, OwnerPart
from sync.bundle.packing import OLDEST_PACKING
from sync.bundle.sealing import Random

MOST_RECEIPTS = 100
MOST_NOTES = 500


class _Shared(NamedTuple):
    """A signed record that is known here, and what it says."""

    signed: bytes
    read: ReadExam


def make_day_pack(
    exchange: Exchange,
    device_id: str,
    animal_ids: Sequence[str],
    now: Moment,
    random: Random,
) -> SealedBundle:
    """Seal a day pack to a device.

    Args:
        animal_ids: Whose latest records go along; the receipts, and the notes on
            what the device itself examined, go in any case.

    Raises:
        NotPairedError: The device is not confirmed, or revoked.
        BundleNotMadeError, BundleTooLargeError: Nothing was kept.
    """
    return exchange.vault.attempt(
        lambda: _made(exchange, device_id, animal_ids, now, random)
    )


def _made(
    exchange: Exchange,
    device_id: str,
    animal_ids: Sequence[str],
    now: Moment,
    random: Random,
) -> SealedBundle:
    device, identity = exchange.pairing.device(device_id), exchange.own_identity()
    if device is None or device.state != PAIRED:
        raise NotPairedError("the device is not paired here")
    contents = contents_for(exchange, device, animal_ids)
    sequence = exchange.outgoing.next_sequence(device_id)
    sealed = seal_bundle(
        BundleKind.DAY_PACK,
        contents,
        sequence=sequence,
        made=now,
        sender_id=identity.own_ids[0],
        seed=identity.signing_seed,
        recipient_key=device.agreement_key,
        is_demo=exchange.is_demo,
        random=random,
        signers=_signers(exchange, contents),
        packing=device.packing or OLDEST_PACKING,
    )
    with exchange.vault.transaction():
        exchange.outgoing.use_sequence(device_id, sequence)
        for animal in contents.animals:
            values = flat({k: v for k, v in animal.items() if k != RECORD_KEYS})
            animal_id, side = animal["animal_id"], f"sent:{device_id}"
            exchange.identity.put_version(animal_id, side, values, sequence)
    return sealed


def contents_for(
    exchange: Exchange, device: Device, animal_ids: Sequence[str]
) -> Contents:
    """Return what goes to a device.

    Of each animal, and of those a person said are the same, the newest record that
    holds no private note inside, as those of older versions do; notes on these
    records and on what the device examined; its last receipts.
    """
    newest = _newest(exchange, animal_ids)
    latest = [one for one in newest.values() if one is not None]
    animals = (_animal(exchange, key, one) for key, one in newest.items())
    exam_ids = {one.read.exam.exam_id for one in latest}
    return Contents(
        tuple(one.signed for one in latest),
        tuple(_notes(exchange, device, exam_ids)),
        tuple(_owners(exchange, latest)),
        tuple(_protocols(exchange, latest)),
        tuple(animal for animal in animals if animal),
        tuple(_receipts(exchange, device)),
    )


def records_for(exchange: Exchange, animal_ids: Sequence[str]) -> list[Exam]:
    """Return what the records say that go along for these animals."""
    newest = _newest(exchange, animal_ids).values()
    return [one.read.exam for one in newest if one is not None]


def _newest(exchange: Exchange, animal_ids: Sequence[str]) -> dict[str, _Shared | None]:
    return {key: _shareable(exchange, key) for key in _with_same(exchange, animal_ids)}


def _signers(exchange: Exchange, contents: Contents) -> tuple[tuple[bytes, str], ...]:
    """Return the keys of devices that signed a part, with what they are called."""
    signed = (*contents.records, *contents.notes)
    wanted = set(map(claimed_key_id, signed))
    found = [
        (key, device.name)
        for device in exchange.pairing.trusted()
        for key in device.signing_keys
        if key_id_of(key) in wanted
    ]
    return tuple(found[:MOST_SIGNERS])


def left_out(exchange: Exchange, animal_ids: Sequence[str]) -> int:
    """Count animals whose newest record stays here for a private note inside."""
    newest = (
        next(_records(exchange, key), None) for key in _with_same(exchange, animal_ids)
    )
    return sum(bool(one and one.read.exam.private_notes) for one in newest)


def _with_same(exchange: Exchange, animal_ids: Sequence[str]) -> tuple[str, ...]:
    """Return the animals with those a person said are the same, each once."""
    same = exchange.identity.same_as
    return tuple(dict.fromkeys(one for key in animal_ids for one in same(key)))


def _records(exchange: Exchange, animal_id: str) -> Iterator[_Shared]:
    """Read the records of an animal, newest first, each when it is asked for."""
    keys, lookup = exchange.signing_keys(), protocol_lookup(exchange.vault)
    for row in exchange.vault.closed.for_animal(animal_id):
        signed = exchange.vault.closed.get(row.exam_id, row.record_hash) or b""
        yield _Shared(signed, read_exam(signed, keys, lookup))


def _shareable(exchange: Exchange, animal_id: str) -> _Shared | None:
    records = _records(exchange, animal_id)
    return next((one for one in records if not one.read.exam.private_notes), None)


def _animal(
    exchange: Exchange, animal_id: str, shared: _Shared | None
) -> dict[str, Any]:
    animal = exchange.vault.animals.get(animal_id)
    if animal is None:
        return {}
    key_ids = [shared.read.key_id] if shared else []
    keys = [k.hex() for k in exchange.signing_keys() if key_id_of(k) in key_ids]
    return {**animal, RECORD_KEYS: keys}


def _notes(exchange: Exchange, device: Device, exam_ids: set[str]) -> list[bytes]:
    own = set(map(key_id_of, device.signing_keys))
    found = []
    for _, exam_id, signed in exchange.vault.notes.all():
        rows = exchange.vault.closed.revisions(exam_id)
        senders = {row.device_id for row in rows}
        is_meant = exam_id in exam_ids or senders & set(device.sender_ids)
        if is_meant and claimed_key_id(signed) not in own:
            found.append(signed)
    return found[-MOST_NOTES:]


def _owners(exchange: Exchange, latest: Sequence[_Shared]) -> Iterator[OwnerPart]:
    for one in latest:
        beside = exchange.vault.owners.get(one.read.exam.exam_id)
        if beside is not None:
            block = owner_block(from_plain(Owner, beside[1]))
            yield OwnerPart(one.read.exam_hash, beside[0], block)


def _protocols(exchange: Exchange, latest: Sequence[_Shared]) -> Iterator[bytes]:
    for content_hash in dict.fromkeys(one.read.exam.protocol_hash for one in latest):
        loaded = protocol_by_hash(exchange.vault, content_hash)
        if loaded is not None and shipped_protocol(content_hash) is None:
            yield loaded.content


def _receipts(exchange: Exchange, device: Device) -> list[bytes]:
    incoming = exchange.incoming
    rows = [r for key in device.sender_ids for r in incoming.of_device(key)]
    found = (incoming.receipt(row.bundle_hash) for row in rows[-MOST_RECEIPTS:])
    return [receipt for receipt in found if receipt]

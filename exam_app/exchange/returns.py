"""The open store as ``sync.clinic.returns`` sees it: what a day pack is made from."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any

from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import known_device
from exam_app.exchange.merge import RECORD_KEYS, flat
from exam_app.exchange.outbox import own_identity
from exam_app.exchange.pairings import PAIRED
from exam_app.exchange.protocols import protocol_by_hash, shipped_protocol
from exam_app.record.cose import claimed_key_id, key_id_of
from exam_app.record.draft_codec import owner_from_plain
from exam_app.record.owners import owner_block
from exam_app.record.records import read_exam
from exam_app.store.lineage import signing_keys_of
from exam_app.store.vault import Vault
from sync.bundle.bundle import Contents, OwnerPart
from sync.bundle.manifest import MOST_SIGNERS
from sync.clinic.inbox import KnownDevice
from sync.device.outgoing import OwnIdentity, Recipient

MOST_RECEIPTS = 100
MOST_NOTES = 500
Row = Mapping[str, Any]


class VaultReturns:
    """Satisfies ``sync.clinic.returns.DayPackSource`` over an open vault."""

    def __init__(self, vault: Vault, *, is_demo: bool = False) -> None:
        """Make day packs from this vault.

        Args:
            vault: Open.
            is_demo: Whether this clinic holds invented records only.
        """
        self._vault = vault
        self._exchange = Exchange(vault)
        self._is_demo = is_demo

    def turn(self) -> AbstractContextManager[None]:
        """Hold off imports meanwhile."""
        return self._exchange.turn()

    def identity(self) -> OwnIdentity:
        """Return this clinic."""
        return own_identity(self._vault, is_demo=self._is_demo)

    def device(self, device_id: str) -> Recipient | None:
        """Return a confirmed device that is not revoked."""
        kept = self._exchange.pairing.device(device_id)
        if kept is None or kept.get("state") != PAIRED:
            return None
        device = known_device(kept)
        return Recipient(device_id, device.signing_keys[0], device.agreement_key)

    def contents(self, device_id: str, animal_ids: Sequence[str]) -> Contents:
        """Return what goes to a device.

        Of each animal, and of those a person said are the same, the newest record that
        holds no private note inside, as those of older versions do; notes on these
        records and on what the device examined; its last receipts.
        """
        kept = self._exchange.pairing.device(device_id) or {}
        device = known_device(kept)
        wanted = self._with_same(animal_ids)
        rows = {key: self._shareable(key) for key in wanted}
        latest = [row for found in rows.values() for row in found]
        animals = (self._animal(key, rows[key]) for key in wanted)
        return Contents(
            tuple(self._signed(row) for row in latest),
            tuple(self._notes(device, {row["exam_id"] for row in latest})),
            tuple(self._owners(latest)),
            tuple(self._protocols(latest)),
            tuple(animal for animal in animals if animal),
            tuple(self._receipts(device)),
        )

    def signers(self, contents: Contents) -> tuple[tuple[bytes, str], ...]:
        """Return the keys of devices that signed a part, with what they are called."""
        signed = (*contents.records, *contents.notes)
        wanted = set(map(claimed_key_id, signed))
        found = [
            (key, str(device.get("name") or ""))
            for device in self._exchange.pairing.trusted()
            for key in signing_keys_of(device)
            if key_id_of(key) in wanted
        ]
        return tuple(found[:MOST_SIGNERS])

    def next_sequence(self, device_id: str) -> int:
        """Return the number of the next day pack."""
        return self._exchange.outgoing.next_sequence(device_id)

    def keep_sent(self, device_id: str, contents: Contents, sequence: int) -> None:
        """Use up the number and keep how the animals were sent, in one save."""
        with self._vault.transaction():
            self._exchange.outgoing.use_sequence(device_id, sequence)
            for animal in contents.animals:
                plain = {k: v for k, v in animal.items() if k != RECORD_KEYS}
                self._exchange.identity.put_version(
                    animal["animal_id"], f"sent:{device_id}", flat(plain), sequence
                )

    def left_out(self, animal_ids: Sequence[str]) -> int:
        """Count animals whose newest record stays here for a private note inside."""
        wanted = self._with_same(animal_ids)
        newest = (self._vault.closed.for_animal(key)[:1] for key in wanted)
        return sum(self._tells(row) for found in newest for row in found)

    def _with_same(self, animal_ids: Sequence[str]) -> tuple[str, ...]:
        """Return the animals with those a person said are the same, each once."""
        same = self._exchange.identity.same_as
        return tuple(dict.fromkeys(one for key in animal_ids for one in same(key)))

    def _shareable(self, animal_id: str) -> list[Row]:
        rows = self._vault.closed.for_animal(animal_id)
        newest = next((row for row in rows if not self._tells(row)), None)
        return [] if newest is None else [newest]

    def _tells(self, row: Row) -> bool:
        """Whether the signed bytes of a record hold a private note."""

        def lookup(content_hash: str) -> SpeciesProtocol | None:
            loaded = protocol_by_hash(self._vault, content_hash)
            return loaded.protocol if loaded else None

        keys = self._exchange.signing_keys()
        return bool(read_exam(self._signed(row), keys, lookup).exam.private_notes)

    def _signed(self, row: Row) -> bytes:
        return self._vault.closed.get(row["exam_id"], row.get("hash")) or b""

    def _animal(self, animal_id: str, rows: Sequence[Row]) -> dict[str, Any]:
        animal = self._vault.animals.get(animal_id)
        if animal is None:
            return {}
        by_id = {key_id_of(key).hex(): key for key in self._exchange.signing_keys()}
        ids = (row.get("key_id") or self._key_id(row) for row in rows)
        keys = [by_id[key_id].hex() for key_id in ids if key_id in by_id]
        return {**animal, RECORD_KEYS: keys}

    def _key_id(self, row: Row) -> str:
        return claimed_key_id(self._signed(row)).hex()

    def _notes(self, device: KnownDevice, exam_ids: set[str]) -> list[bytes]:
        own = set(map(key_id_of, device.signing_keys))
        found = []
        for _, exam_id, signed in self._vault.notes.all():
            rows = self._vault.closed.claims(exam_id)
            senders = {row.get("device_id") for row in rows}
            is_meant = exam_id in exam_ids or senders & set(device.sender_ids)
            if is_meant and claimed_key_id(signed) not in own:
                found.append(signed)
        return found[-MOST_NOTES:]

    def _owners(self, rows: Sequence[Row]) -> Iterator[OwnerPart]:
        for row in rows:
            beside = self._vault.owners.get(row["exam_id"])
            if beside is not None:
                block = owner_block(owner_from_plain(beside[1]))
                yield OwnerPart(row["hash"], beside[0], block)

    def _protocols(self, rows: Sequence[Row]) -> list[bytes]:
        needed: dict[str, bytes] = {}

        def lookup(content_hash: str) -> SpeciesProtocol | None:
            loaded = protocol_by_hash(self._vault, content_hash)
            if loaded is not None and shipped_protocol(content_hash) is None:
                needed[content_hash] = loaded.content
            return loaded.protocol if loaded else None

        keys = self._exchange.signing_keys()
        for row in rows:
            read_exam(self._signed(row), keys, lookup)
        return list(needed.values())

    def _receipts(self, device: KnownDevice) -> list[bytes]:
        incoming = self._exchange.incoming
        rows = [r for key in device.sender_ids for r in incoming.of_device(key)]
        found = (incoming.receipt(row["bundle_hash"]) for row in rows[-MOST_RECEIPTS:])
        return [receipt for receipt in found if receipt]

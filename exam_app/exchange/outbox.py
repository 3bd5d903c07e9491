"""The open store as ``sync.device.outbox`` sees it: what a device hands over from."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any

from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.exchange.arrivals import SHARED, TOLD
from exam_app.exchange.exchange import Exchange, is_received
from exam_app.exchange.merge import CHANGED_FROM, OWNER, changes_since, flat
from exam_app.exchange.outgoing import RECEIVED
from exam_app.exchange.pairings import PAIRED
from exam_app.exchange.protocols import protocol_by_hash, shipped_protocol
from exam_app.record.cose import claimed_key_id, key_id_of
from exam_app.record.draft_codec import (
    animal_to_plain,
    owner_from_plain,
)
from exam_app.record.owners import owner_block, owner_matches
from exam_app.record.records import ReadExam, read_exam
from exam_app.store.lineage import signing_keys_of
from exam_app.store.vault import Vault
from sync.bundle.bundle import OwnerPart, PrivatePart
from sync.device.outgoing import (
    HandOverState,
    Outgoing,
    OwnIdentity,
    OwnRecord,
    Recipient,
)
from sync.receipts import Outcome, Receipt


def own_identity(vault: Vault, *, is_demo: bool) -> OwnIdentity:
    """Return this device's or clinic's ids and secrets."""
    settings = vault.settings
    former = [entry["device_id"] for entry in settings.get("former_keys", [])]
    return OwnIdentity(
        (settings.get("device_id", ""), *reversed(former)),
        settings.get("signing_key"),
        settings.get("agreement_key"),
        is_demo,
    )


def row_of(bundle: Outgoing) -> dict[str, Any]:
    """Return a sealed bundle as the store keeps it."""
    return {
        "bundle_hash": bundle.bundle_hash,
        "recipient_id": bundle.recipient_id,
        "sequence": bundle.sequence,
        "kind": bundle.kind,
        "made_ms": bundle.made.utc_ms,
        "made_offset_min": bundle.made.offset_min,
        "exam_ids": list(bundle.exam_ids),
        "record_hashes": list(bundle.record_hashes),
        "signed_hashes": list(bundle.signed_hashes),
    }


def outgoing_from(kept: Mapping[str, Any], sealed: bytes) -> Outgoing:
    """Return a sealed bundle from what the store kept."""
    return Outgoing(
        kept["bundle_hash"],
        kept["recipient_id"],
        int(kept["sequence"]),
        kept["kind"],
        HandOverState(kept["state"]),
        Moment(kept["made_ms"], kept["made_offset_min"]),
        sealed,
        kept["code"],
        tuple(kept["exam_ids"]),
        tuple(kept["record_hashes"]),
        tuple(kept["signed_hashes"]),
        int(kept["wrong_codes"]),
        kept.get("outcomes"),
    )


KNOWN_PROTOCOLS = "clinic_protocols"


class VaultOutbox:
    """Satisfies ``sync.device.outgoing.Outbox`` over an open vault."""

    def __init__(self, vault: Vault, *, is_demo: bool = False) -> None:
        """Hand over from this vault.

        Args:
            vault: Open.
            is_demo: Whether this device holds invented records only.
        """
        self._vault = vault
        self._exchange = Exchange(vault)
        self._is_demo = is_demo

    def turn(self) -> AbstractContextManager[None]:
        """Hold off other hand-overs."""
        return self._exchange.turn()

    def identity(self) -> OwnIdentity:
        """Return this device."""
        return own_identity(self._vault, is_demo=self._is_demo)

    def clinic(self) -> Recipient | None:
        """Return the confirmed clinic."""
        kept = self._exchange.pairing.clinic()
        if kept is None or kept.get("state") != PAIRED:
            return None
        keys = (kept["signing_key"], kept["agreement_key"])
        return Recipient(kept["clinic_id"], *map(bytes.fromhex, keys))

    def records(self, exam_ids: Sequence[str]) -> Sequence[OwnRecord]:
        """Return every own record of these exams without receipt."""
        return [
            self._own_record(exam_id, str(row["hash"]))
            for exam_id in exam_ids
            for row in self._vault.closed.revisions(exam_id)
            if not is_received(row) and not self._is_received(str(row["hash"]))
        ]

    def notes(self) -> Sequence[OwnRecord]:
        """Return every note written here without receipt."""
        own = set(map(key_id_of, self._own_keys()))
        found = []
        for note_hash, exam_id, signed in self._vault.notes.all():
            if claimed_key_id(signed) in own and not self._is_received(note_hash):
                found.append(OwnRecord(exam_id, note_hash, signed))
        return found

    def animals(self, exam_ids: Sequence[str]) -> Sequence[Mapping[str, Any]]:
        """Return animals that stand here otherwise than the records say."""
        told: dict[str, Mapping[str, Any]] = {}
        for exam_id in exam_ids:
            animal = self._read(exam_id, None).exam.animal
            beside = self._vault.owners.get(exam_id)
            owner = {OWNER: beside[1]} if beside else {}
            told[animal.animal_id] = {**animal_to_plain(animal), **owner}
        return list(self._untold(told))

    def protocol_contents(self, records: Sequence[OwnRecord]) -> Sequence[bytes]:
        """Return protocols that are not shipped, or that the clinic asked for."""
        known = self._vault.settings.get(KNOWN_PROTOCOLS, [])
        found = {}
        for record in records:
            content_hash = record.protocol_hash
            outcome = self._exchange.outgoing.record_outcome(record.record_hash)
            was_apart = outcome == Outcome.QUARANTINED
            is_shipped = shipped_protocol(content_hash) is not None
            if was_apart or not (is_shipped or content_hash in known):
                loaded = protocol_by_hash(self._vault, content_hash)
                found[content_hash] = loaded.content if loaded else b""
        return [content for content in found.values() if content]

    def outgoing(self, bundle_hash: str) -> Outgoing | None:
        """Return one bundle."""
        kept = self._exchange.outgoing.get(bundle_hash)
        if kept is None:
            return None
        return outgoing_from(kept, self._exchange.outgoing.sealed(bundle_hash) or b"")

    def outstanding(self, recipient_id: str) -> Sequence[Outgoing]:
        """Return the bundles to a recipient without signed receipt, by number."""
        waiting = [
            self.outgoing(row["bundle_hash"])
            for row in self._exchange.outgoing.all()
            if row["recipient_id"] == recipient_id and row["state"] != RECEIVED
        ]
        found = [bundle for bundle in waiting if bundle is not None]
        return sorted(found, key=lambda bundle: bundle.sequence)

    def next_sequence(self, recipient_id: str) -> int:
        """Return the number of the next bundle."""
        return self._exchange.outgoing.next_sequence(recipient_id)

    def keep(self, bundles: Sequence[Outgoing]) -> None:
        """Keep sealed bundles and what of animals they tell, in one save."""
        exam_ids = [exam_id for bundle in bundles for exam_id in bundle.exam_ids]
        ids = {self._read(exam_id, None).exam.animal.animal_id for exam_id in exam_ids}
        shared = {key: flat(self._vault.animals.get(key) or {}) for key in ids}
        with self._vault.transaction():
            for bundle in bundles:
                row = row_of(bundle)
                self._exchange.outgoing.put(row, bundle.sealed, bundle.receipt_code)
            for animal_id, values in shared.items():
                sequence = bundles[-1].sequence
                identity = self._exchange.identity
                identity.put_version(animal_id, SHARED, values, sequence)
                identity.put_version(animal_id, TOLD, values, sequence)

    def mark(self, bundle_hash: str, state: HandOverState) -> None:
        """Move a bundle and all that is in it on."""
        outgoing = self._exchange.outgoing
        kept = outgoing.get(bundle_hash)
        if kept is None:
            return
        with self._vault.transaction():
            outgoing.change(bundle_hash, {"state": state.value})
            outgoing.mark_records(kept["signed_hashes"], state.value, bundle_hash)

    def count_wrong_code(self, bundle_hash: str) -> None:
        """Count a wrong code."""
        kept = self._exchange.outgoing.get(bundle_hash)
        if kept is not None:
            count = {"wrong_codes": int(kept["wrong_codes"]) + 1}
            self._exchange.outgoing.change(bundle_hash, count)

    def keep_receipt(
        self, receipt: Receipt, signed: bytes, received: Sequence[str]
    ) -> None:
        """Keep a signed receipt in one save."""
        outgoing, bundle_hash = self._exchange.outgoing, receipt.bundle_hash
        kept = outgoing.get(bundle_hash)
        if kept is None:
            return
        outcomes = {line.record_hash: line.outcome.value for line in receipt.lines}
        known = self._vault.settings.get(KNOWN_PROTOCOLS, [])
        records = [
            record
            for exam_id in kept["exam_ids"]
            for record in self.records([exam_id])
            if record.record_hash in received
        ]
        protocols = {record.protocol_hash for record in records} - {*known}
        fields = {
            "state": RECEIVED,
            "outcomes": outcomes,
            "receipt": signed.hex(),
            "receipted_ms": receipt.received.utc_ms,
        }
        with self._vault.transaction():
            outgoing.change(bundle_hash, fields)
            outgoing.put_outcomes(outcomes)
            outgoing.mark_records(received, RECEIVED, bundle_hash)
            if protocols:
                everything = [*known, *sorted(protocols)]
                self._vault.settings.put(KNOWN_PROTOCOLS, everything)

    def _own_record(self, exam_id: str, record_hash: str) -> OwnRecord:
        signed = self._vault.closed.get(exam_id, record_hash) or b""
        read = self._read(exam_id, record_hash)
        part, beside = None, self._vault.owners.get(exam_id)
        if beside is not None:
            salt, owner = beside[0], owner_from_plain(beside[1])
            if owner_matches(read.owner_hash, salt, owner):
                part = OwnerPart(record_hash, salt, owner_block(owner))
        kept = self._vault.privates.get(record_hash)
        private = None if kept is None else PrivatePart(record_hash, *kept)
        protocol_hash = read.exam.protocol_hash
        return OwnRecord(exam_id, record_hash, signed, part, protocol_hash, private)

    def _read(self, exam_id: str, record_hash: str | None) -> ReadExam:
        def lookup(content_hash: str) -> SpeciesProtocol | None:
            loaded = protocol_by_hash(self._vault, content_hash)
            return loaded.protocol if loaded else None

        signed = self._vault.closed.get(exam_id, record_hash) or b""
        return read_exam(signed, self._own_keys(), lookup)

    def _own_keys(self) -> tuple[bytes, ...]:
        return signing_keys_of(self._exchange.own_device())

    def _is_received(self, signed_hash: str) -> bool:
        return self._exchange.outgoing.record_state(signed_hash) == RECEIVED

    def _untold(
        self, told: Mapping[str, Mapping[str, Any]]
    ) -> Iterator[Mapping[str, Any]]:
        for animal_id, said in told.items():
            animal = self._vault.animals.get(animal_id)
            if animal is None:
                continue
            shared = self._exchange.identity.version(animal_id, SHARED)
            changed = changes_since(animal, shared["values"]) if shared else {}
            if changed:
                yield {**animal, CHANGED_FROM: changed}
            elif changes_since(animal, flat(said)):
                yield animal

"""The open store as ``sync.clinic.receiving`` sees it: what records are taken into."""

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any

from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.exchange.arrivals import apart_entry, keep_arrival, keep_day_pack
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.protocols import protocol_by_hash, read_protocol
from exam_app.store.lineage import signing_keys_of
from exam_app.store.vault import Vault
from sync.clinic.inbox import (
    Arrival,
    ClinicIdentity,
    KeptRevision,
    KnownDevice,
    SetApart,
    Waiting,
)
from sync.device.day_pack import DayPack

MOST_UNKNOWN = 50
MOST_UNKNOWN_BYTES = 32 * 2**20


class VaultInbox:
    """An ``Inbox`` and ``DayPackInbox`` of ``sync`` over an open vault."""

    def __init__(self, vault: Vault, *, is_demo: bool = False) -> None:
        """Import into this vault.

        Args:
            vault: Open.
            is_demo: Whether this clinic holds invented records only.
        """
        self._vault = vault
        self._exchange = Exchange(vault)
        self._is_demo = is_demo

    def turn(self) -> AbstractContextManager[None]:
        """Hold off other imports."""
        return self._exchange.turn()

    def clinic(self) -> ClinicIdentity:
        """Return this clinic."""
        settings = self._vault.settings
        return ClinicIdentity(
            settings.get("device_id", ""),
            settings.get("signing_key"),
            settings.get("agreement_key"),
            self._is_demo,
        )

    def device(self, key_id: bytes) -> KnownDevice | None:
        """Return the confirmed device that has or had this key."""
        kept = self._exchange.pairing.device_of_key(key_id)
        return None if kept is None else known_device(kept)

    def kept_receipt(self, bundle_hash: str) -> bytes | None:
        """Return the receipt of a bundle that was stored."""
        return self._exchange.incoming.receipt(bundle_hash)

    def outcomes(self, bundle_hash: str) -> Mapping[str, str]:
        """Return what became of the parts of a stored bundle."""
        kept = self._exchange.incoming.get(bundle_hash)
        return kept["outcomes"] if kept else {}

    def protocol(self, content_hash: str) -> SpeciesProtocol | None:
        """Return a protocol that is shipped or kept."""
        found = protocol_by_hash(self._vault, content_hash)
        return found.protocol if found else None

    def read_protocol(self, content: bytes) -> SpeciesProtocol:
        """Check a whole protocol."""
        return read_protocol(content).protocol

    def kept_records(self, exam_id: str) -> Sequence[KeptRevision]:
        """Return what is kept of an exam."""
        return [_revision(row) for row in self._vault.closed.claims(exam_id)]

    def kept_note(self, note_id: str) -> bytes | None:
        """Return a note's signed bytes."""
        return self._vault.notes.get(note_id)

    def waiting(self, wanted: frozenset[str]) -> Sequence[Waiting]:
        """Return held records that wait for one of these."""
        found = []
        for row in self._exchange.quarantine.waiting_for(wanted):
            signed = self._exchange.quarantine.content(row["key"])
            device = self._device_of(row["device_id"])
            if signed is not None and device is not None:
                keys = device.signing_keys
                found.append(Waiting(row["key"], signed, row["device_id"], keys))
        return found

    def is_number_used(self, device_id: str, sequence: int, but: str) -> bool:
        """Say whether another bundle of the device had this number."""
        return any(
            row["sequence"] == sequence and row["bundle_hash"] != but
            for row in self._exchange.incoming.of_device(device_id)
        )

    def missing_sequences(self, device_id: str) -> tuple[int, ...]:
        """Return the numbers that never came."""
        return self._exchange.incoming.missing(device_id)

    def set_apart(self, item: SetApart, now: Moment) -> None:
        """Keep a whole bundle; of unknown devices only while there is room."""
        if not item.device_id and not self._has_room_for(item):
            return
        self._exchange.quarantine.put(apart_entry(item, now), item.content)

    def quarantined(self, key: str) -> bytes | None:
        """Return the bytes of something held."""
        return self._exchange.quarantine.content(key)

    def commit(self, arrival: Arrival) -> None:
        """Keep everything in one save."""
        keep_arrival(self._vault, arrival)

    def own_keys(self) -> Sequence[bytes]:
        """Return the public keys this computer has and had."""
        return signing_keys_of(self._exchange.own_device())

    def keep_day_pack(self, pack: DayPack) -> None:
        """Keep what a day pack brought, in one save."""
        keep_day_pack(self._vault, pack)

    def _device_of(self, sender_id: str) -> KnownDevice | None:
        devices = map(known_device, self._exchange.pairing.trusted())
        return next((d for d in devices if sender_id in d.sender_ids), None)

    def _has_room_for(self, item: SetApart) -> bool:
        held = self._exchange.quarantine.held()
        sizes = [row["size"] for row in held if not row.get("device_id")]
        is_few = len(sizes) < MOST_UNKNOWN
        return is_few and sum(sizes) + len(item.content) <= MOST_UNKNOWN_BYTES


def known_device(kept: Mapping[str, Any]) -> KnownDevice:
    """Return a device as kept by ``Pairings``."""
    former = [entry["device_id"] for entry in kept.get("former") or ()]
    return KnownDevice(
        kept["device_id"],
        str(kept.get("name", "")),
        signing_keys_of(kept),
        (kept["device_id"], *former),
        bytes.fromhex(kept["agreement_key"]),
        kept.get("revoked_after"),
    )


def _revision(row: Mapping[str, Any]) -> KeptRevision:
    return KeptRevision(
        row["hash"],
        int(row.get("revision") or 0),
        str(row.get("parent_hash") or ""),
        bytes.fromhex(row.get("key_id") or ""),
        str(row.get("closed_role") or ""),
    )

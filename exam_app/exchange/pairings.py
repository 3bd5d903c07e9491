"""Who this computer exchanges with: offers and devices, or the one clinic.

Documents are plain; keys, tokens, nonces and hashes are hexadecimal text, cards are
kept as bytes beside them. A device is ``paired`` once a person has compared the
words on both screens, and may become ``revoked``; a field device keeps one clinic in
the same way.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from exam_app.record.cose import key_id_of
from exam_app.record.lineage import signing_keys_of
from exam_app.store.engine.documents import Document
from exam_app.store.engine.tables import SealedTables, required_id
from sync.errors import SyncError

PAIRED = "paired"
REVOKED = "revoked"
_CLINIC = "clinic"


class NotPairedError(SyncError):
    """There is no clinic, or no such device, that a person confirmed."""

    advice: ClassVar[str] = (
        "This device is not paired with a clinic. The exams stay here. "
        "Pair it with the clinic's computer, then hand over."
    )


@dataclass(frozen=True, slots=True)
class Recipient:
    """Whom bundles are sealed to; keys are public, 32 bytes."""

    recipient_id: str
    signing_key: bytes
    agreement_key: bytes


@dataclass(frozen=True, slots=True)
class KnownDevice:
    """A confirmed device.

    Attributes:
        signing_keys: Its Ed25519 public key, then former ones vouched for.
        sender_ids: Its id, then the ids it had before it was restored.
        revoked_after: Last good sequence of a revoked device; ``None`` of a good one.
    """

    device_id: str
    name: str
    signing_keys: tuple[bytes, ...]
    sender_ids: tuple[str, ...]
    agreement_key: bytes
    revoked_after: int | None = None


class Pairings:
    """Open offers and known devices (clinic), the clinic (field device)."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of offers, devices and the clinic."""
        self._offers = tables.open_table("offers", body_fields=())
        self._devices = tables.open_table("devices", body_fields=())
        self._clinic = tables.open_table("paired_clinic", body_fields=())

    def put_offer(self, offer: Mapping[str, Any]) -> None:
        """Keep an offer under its ``token``."""
        self._offers.put(required_id(offer, "token"), offer)

    def offers(self) -> list[Document]:
        """Give every offer, oldest first."""
        return [offer for _, offer in self._offers.rows()]

    def drop_offer(self, token: str) -> None:
        """Forget an offer; one attempt uses it up."""
        self._offers.discard(token)

    def put_device(self, device: Mapping[str, Any]) -> None:
        """Keep a device under its ``device_id``.

        Args:
            device: ``device_id``, ``name``, ``signing_key``, ``agreement_key``,
                ``former`` (list of ``device_id``, ``signing_key``,
                ``agreement_key``, ``vouched``), ``state``, ``is_demo``; what else
                the caller wants to remember stays with it.
        """
        self._devices.put(required_id(device, "device_id"), device)

    def device(self, device_id: str) -> Document | None:
        """Give one device, or None."""
        return self._devices.fetch(device_id)

    def devices(self) -> list[Document]:
        """Give every device, in the order they were first kept."""
        return [device for _, device in self._devices.rows()]

    def names(self) -> dict[str, str]:
        """Give what each device is called, by its id; empty for one without a name."""
        return {d["device_id"]: str(d.get("name") or "") for d in self.devices()}

    def device_of_key(self, key_id: bytes) -> Document | None:
        """Give the confirmed device that has or had the key of this id, or None.

        A revoked device is given; one whose words nobody confirmed is not. A device
        that has the key now counts before one that had it once.
        """
        trusted = self.trusted()
        ids = [[key_id_of(key) for key in signing_keys_of(d)] for d in trusted]
        now = [d for d, own in zip(trusted, ids, strict=True) if own[0] == key_id]
        once = [d for d, own in zip(trusted, ids, strict=True) if key_id in own]
        return next(iter(now + once), None)

    def trusted(self) -> list[Document]:
        """Give the devices that a person confirmed, revoked ones with them."""
        return [d for d in self.devices() if d.get("state") in (PAIRED, REVOKED)]

    def revoke_device(
        self, device_id: str, last_good_sequence: int, when_ms: int, by: str
    ) -> None:
        """Trust nothing more of a device after one bundle; what came is kept.

        Args:
            last_good_sequence: Later bundles go to quarantine; 0 for all of them.
            when_ms: UTC milliseconds.
        """
        kept = self.device(device_id)
        if kept is not None:
            revoked = {"revoked_after": last_good_sequence, "revoked_ms": when_ms}
            entry = {**kept, "state": REVOKED, "revoked_by": by, **revoked}
            self._devices.put(device_id, entry)

    def put_clinic(self, clinic: Mapping[str, Any]) -> None:
        """Keep the one clinic of a field device, in place of any before.

        Args:
            clinic: ``clinic_id``, ``name``, ``phone``, ``signing_key``,
                ``agreement_key``, ``state``, ``is_demo``.
        """
        required_id(clinic, "clinic_id")
        self._clinic.put(_CLINIC, clinic)

    def clinic(self) -> Document | None:
        """Give the clinic, confirmed or not, or None."""
        return self._clinic.fetch(_CLINIC)

    def confirmed_clinic(self) -> Recipient:
        """Give the clinic that a person has confirmed.

        Raises:
            NotPairedError: There is none.
        """
        kept = self.clinic()
        if kept is None or kept.get("state") != PAIRED:
            raise NotPairedError("no confirmed clinic")
        keys = (kept["signing_key"], kept["agreement_key"])
        return Recipient(kept["clinic_id"], *map(bytes.fromhex, keys))


def known_device(kept: Mapping[str, Any]) -> KnownDevice:
    """Return a device as ``Pairings`` keeps it."""
    former = [entry["device_id"] for entry in kept.get("former") or ()]
    return KnownDevice(
        kept["device_id"],
        str(kept.get("name", "")),
        signing_keys_of(kept),
        (kept["device_id"], *former),
        bytes.fromhex(kept["agreement_key"]),
        kept.get("revoked_after"),
    )

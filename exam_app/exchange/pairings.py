"""Who this computer exchanges with: offers and devices, or the one clinic.

A device is ``paired`` once a person has compared the
words on both screens, and may become ``revoked``; a field device keeps one clinic in
the same way.
"""

from dataclasses import dataclass, replace
from typing import ClassVar

from exam_app.language.catalogue import to_translate
from exam_app.record.cose import key_id_of
from exam_app.record.lineage import FormerKey, signing_keys_of
from exam_app.store.engine.documents import read_row, stored_row
from exam_app.store.engine.tables import SealedTables
from sync.bundle.packing import OLDEST_PACKING
from sync.errors import SyncError

PAIRED = "paired"
REVOKED = "revoked"
_CLINIC = "clinic"


class NotPairedError(SyncError):
    """There is no clinic, or no such device, that a person confirmed."""

    advice: ClassVar[str] = to_translate(
        "This device is not paired with a clinic. The exams stay here. "
        "Pair it with the clinic's computer, then hand over."
    )


@dataclass(frozen=True, slots=True)
class OpenOffer:
    """A card that can still be answered; ``card`` is signed."""

    token: bytes
    card: bytes
    expires_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Clinic:
    """The clinic of a field device, whom bundles are sealed to; keys are public.

    Attributes:
        state: ``paired`` once a person has compared the words.
        packing: The newest packing of bundles that it is known to read; None for
            the oldest.
    """

    clinic_id: str
    name: str = ""
    phone: str = ""
    signing_key: bytes
    agreement_key: bytes
    state: str = PAIRED
    is_demo: bool = False
    packing: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """Who trusted the key of a device and who ended that, each with the moment.

    Attributes:
        signing_key: Ed25519 public key.
        revoked_after: Last good sequence of a revoked device; ``None`` of a good one.
    """

    name: str = ""
    signing_key: bytes
    paired_ms: int | None = None
    paired_by: str | None = None
    revoked_after: int | None = None
    revoked_ms: int | None = None
    revoked_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FormerTrust(Trust):
    """What a device was here until it was paired again, by whom."""

    until_ms: int
    until_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Device(Trust):
    """A device that was answered by a card.

    Attributes:
        agreement_key: X25519 public key.
        former: Keys it had before it was restored, newest last.
        state: ``paired`` or ``revoked`` once a person has compared the words.
        before: What it was here before it was paired again, oldest first.
        packing: The newest packing of bundles that it is known to read; None for
            the oldest.
    """

    device_id: str
    agreement_key: bytes
    former: tuple[FormerKey, ...] = ()
    state: str = ""
    is_demo: bool = False
    before: tuple[FormerTrust, ...] | None = None
    packing: int | None = None

    @property
    def signing_keys(self) -> tuple[bytes, ...]:
        """Its Ed25519 public key, then former ones vouched for."""
        return signing_keys_of(self.signing_key, self.agreement_key, self.former)

    @property
    def sender_ids(self) -> tuple[str, ...]:
        """Its id, then the ids it had before it was restored."""
        return (self.device_id, *(one.device_id for one in self.former))


class Pairings:
    """Open offers and known devices (clinic), the clinic (field device)."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of offers, devices and the clinic."""
        self._offers = tables.open_table("offers", body_fields=())
        self._devices = tables.open_table("devices", body_fields=())
        self._clinic = tables.open_table("paired_clinic", body_fields=())

    def put_offer(self, offer: OpenOffer) -> None:
        """Keep an offer."""
        self._offers.put(offer.token.hex(), stored_row(offer))

    def offers(self) -> list[OpenOffer]:
        """Give every offer, oldest first."""
        return [read_row(OpenOffer, row) for _, row in self._offers.rows()]

    def drop_offer(self, token: bytes) -> None:
        """Forget an offer; one attempt uses it up."""
        self._offers.discard(token.hex())

    def put_device(self, device: Device) -> None:
        """Keep a device, in place of what was kept of it."""
        self._devices.put(device.device_id, stored_row(device))

    def device(self, device_id: str) -> Device | None:
        """Give one device, or None."""
        kept = self._devices.fetch(device_id)
        return None if kept is None else read_row(Device, kept)

    def devices(self) -> list[Device]:
        """Give every device, in the order they were first kept."""
        return [read_row(Device, row) for _, row in self._devices.rows()]

    def names(self) -> dict[str, str]:
        """Give what each device is called, by its id; empty for one without a name."""
        return {one.device_id: one.name for one in self.devices()}

    def device_of_key(self, key_id: bytes) -> Device | None:
        """Give the confirmed device that has or had the key of this id, or None.

        A revoked device is given; one whose words nobody confirmed is not. A device
        that has the key now counts before one that had it once.
        """
        trusted = self.trusted()
        ids = [[key_id_of(key) for key in one.signing_keys] for one in trusted]
        now = [d for d, own in zip(trusted, ids, strict=True) if own[0] == key_id]
        once = [d for d, own in zip(trusted, ids, strict=True) if key_id in own]
        return next(iter(now + once), None)

    def trusted(self) -> list[Device]:
        """Give the devices that a person confirmed, revoked ones with them."""
        return [one for one in self.devices() if one.state in (PAIRED, REVOKED)]

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
            after = last_good_sequence
            ended = replace(kept, revoked_after=after, revoked_ms=when_ms)
            self.put_device(replace(ended, state=REVOKED, revoked_by=by))

    def device_reads(self, device: Device, packing: int) -> None:
        """Keep that a device reads a newer packing than was known of it."""
        if packing > (device.packing or OLDEST_PACKING):
            self.put_device(replace(device, packing=packing))

    def clinic_reads(self, clinic: Clinic, packing: int) -> None:
        """Keep that the clinic reads a newer packing than was known of it."""
        if packing > (clinic.packing or OLDEST_PACKING):
            self.put_clinic(replace(clinic, packing=packing))

    def put_clinic(self, clinic: Clinic) -> None:
        """Keep the one clinic of a field device, in place of any before."""
        self._clinic.put(_CLINIC, stored_row(clinic))

    def clinic(self) -> Clinic | None:
        """Give the clinic that a person has confirmed, or None."""
        kept = self._clinic.fetch(_CLINIC)
        found = None if kept is None else read_row(Clinic, {"state": "", **kept})
        return found if found and found.state == PAIRED else None

    def confirmed_clinic(self) -> Clinic:
        """Give the clinic that a person has confirmed.

        Raises:
            NotPairedError: There is none.
        """
        if (clinic := self.clinic()) is None:
            raise NotPairedError("no confirmed clinic")
        return clinic

"""Make what goes back to a device: animals, latest records, notes, receipts.

The clinic seals it like any bundle and vouches, by signing the manifest, for the keys
that signed the records in it: ``record_keys`` beside each animal, in hexadecimal.
"""

from collections.abc import Sequence
from contextlib import AbstractContextManager
from typing import Protocol

from exam_app.domain.moments import Moment
from sync.bundle.bundle import BundleKind, Contents, SealedBundle, seal_bundle
from sync.bundle.sealing import Random
from sync.device.outbox import NotPairedError
from sync.device.outgoing import OwnIdentity, Recipient


class DayPackSource(Protocol):
    """The clinic's store as a day pack is made from it."""

    def turn(self) -> AbstractContextManager[None]:
        """Hold off imports meanwhile."""
        ...

    def identity(self) -> OwnIdentity:
        """Return this clinic."""
        ...

    def device(self, device_id: str) -> Recipient | None:
        """Return a confirmed device that is not revoked."""
        ...

    def contents(self, device_id: str, animal_ids: Sequence[str]) -> Contents:
        """Return what goes to a device."""
        ...

    def signers(self, contents: Contents) -> tuple[tuple[bytes, str], ...]:
        """Return the keys of devices that signed a part, with what they are called."""
        ...

    def next_sequence(self, device_id: str) -> int:
        """Return the number of the next day pack."""
        ...

    def keep_sent(self, device_id: str, contents: Contents, sequence: int) -> None:
        """Use up the number and keep how the animals were sent, in one save."""
        ...


def make_day_pack(
    source: DayPackSource,
    device_id: str,
    animal_ids: Sequence[str],
    now: Moment,
    random: Random,
) -> SealedBundle:
    """Seal a day pack to a device.

    Args:
        source: The clinic's store.
        device_id: Of a confirmed device.
        animal_ids: Whose latest records go along; the receipts, and the notes on
            what the device itself examined, go in any case.
        now: The present moment.
        random: Draws bytes.

    Raises:
        NotPairedError: The device is not confirmed, or revoked.
        BundleNotMadeError, BundleTooLargeError: Nothing was kept.
    """
    with source.turn():
        device, identity = source.device(device_id), source.identity()
        if device is None:
            raise NotPairedError("the device is not paired here")
        contents = source.contents(device_id, animal_ids)
        sequence = source.next_sequence(device_id)
        sealed = seal_bundle(
            BundleKind.DAY_PACK,
            contents,
            sequence=sequence,
            made=now,
            sender_id=identity.own_ids[0],
            seed=identity.signing_seed,
            recipient_key=device.agreement_key,
            is_demo=identity.is_demo,
            random=random,
            signers=source.signers(contents),
        )
        source.keep_sent(device_id, contents, sequence)
        return sealed

"""Hold what a card claims to be against the devices that are known already.

An id belongs to the key it was paired with, and a key to the id it was paired under.
A device that was restored has a new id and new keys, and names the former ones with
their signatures; so a known id with another key, or a known key under another id, is
somebody else's claim unless the known key vouches for the card's.
"""

from collections.abc import Iterable

from sync.cards import DeviceCard
from sync.errors import KnownDeviceKeyError

Claim = tuple[str, bytes]


def claims_of(card: DeviceCard) -> tuple[Claim, ...]:
    """Return the ids a card claims, each with its Ed25519 key: present, then former.

    The former ones vouch for the present one: ``read_device_card`` checked that.
    """
    former = ((one.device_id, one.signing_key) for one in card.former)
    return ((card.device_id, card.signing_key), *former)


def check_claims(card: DeviceCard, known: Iterable[Claim]) -> None:
    """Refuse a card whose ids or keys are known otherwise.

    Args:
        card: As its seal and signature proved it.
        known: Ids and keys of every device that a person confirmed, with those that
            it had before, revoked ones too.

    Raises:
        KnownDeviceKeyError: A known id comes with another key and none that vouches
            for it, or a known key under another id.
    """
    claims = claims_of(card)
    for device_id, key in known:
        keys_of_id = {k for i, k in claims if i == device_id}
        ids_of_key = {i for i, k in claims if k == key}
        if (keys_of_id and key not in keys_of_id) or ids_of_key - {device_id}:
            raise KnownDeviceKeyError("a known device has another key")

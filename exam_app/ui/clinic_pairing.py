"""Pair a device, on the clinic's side: offer a card, open the answer, trust or not.

A card is good for ten minutes and one answer: it is dropped from the store before the
six words are shown, whatever the answer held. Until a person has said that both
screens show the same words, the device is kept in memory only, so that a device that
was paired before loses nothing by a second, false answer.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from exam_app.crypto.door import random_bytes
from exam_app.domain.moments import Moment
from sync.cards import DeviceCard, from_text, read_clinic_card
from sync.errors import CardError, NotACardError
from sync.pairing import Accepted, ClinicKeys, Offer, accept, offer

if TYPE_CHECKING:
    from exam_app.store.vault import Vault

CARD_ENDING = ".exam-card"
_waiting: "WeakKeyDictionary[Vault, Accepted]" = WeakKeyDictionary()


@dataclass(frozen=True, slots=True)
class Waiting:
    """An answer whose words no person has compared yet."""

    name: str
    words: tuple[str, ...]
    is_known: bool


def clinic_keys(vault: "Vault", *, is_demo: bool) -> ClinicKeys:
    """Return this clinic's name and private keys."""
    settings = vault.settings
    return ClinicKeys(
        settings.get("device_id"),
        settings.get("practice", ""),
        settings.get("signing_key"),
        settings.get("agreement_key"),
        is_demo,
        settings.get("clinic_phone", ""),
    )


def new_offer(vault: "Vault", now: Moment, *, is_demo: bool) -> Offer:
    """Make a fresh card in place of every one before it, in one save."""
    offered = offer(clinic_keys(vault, is_demo=is_demo), now, random_bytes)
    with vault.transaction():
        for before in vault.exchange.pairing.offers():
            vault.exchange.pairing.drop_offer(before["token"])
        vault.exchange.pairing.put_offer(
            {
                "token": offered.view.token.hex(),
                "card": offered.card.hex(),
                "expires_ms": offered.view.expires_ms,
            }
        )
    _waiting.pop(vault, None)
    return offered


def open_offer(vault: "Vault", now: Moment) -> Offer | None:
    """Return the card that can still be answered, if there is one."""
    for kept in reversed(vault.exchange.pairing.offers()):
        if kept["expires_ms"] > now.utc_ms:
            card = bytes.fromhex(kept["card"])
            return Offer(card, read_clinic_card(card, now))
    return None


def content_of(text_or_file: str | bytes) -> bytes:
    """Return the bytes of an answer that was pasted, typed or came as a file.

    Raises:
        CardError: It is no card in any of these forms.
    """
    if isinstance(text_or_file, str):
        return from_text(text_or_file)
    try:
        return from_text(text_or_file.decode("ascii"))
    except (UnicodeDecodeError, CardError):
        return text_or_file


def take_answer(vault: "Vault", sealed: bytes, now: Moment) -> Waiting:
    """Open an answer; it uses up the card, whatever comes out.

    Raises:
        NotACardError: It is no answer at all; the card can still be answered.
        CardError: It is refused, and a new card has to be shown.
    """
    offered = open_offer(vault, now)
    if offered is None:
        raise NotACardError("no card is open here")
    try:
        accepted = accept(sealed, offered, vault.settings.get("agreement_key"), now)
    except NotACardError:
        raise
    except CardError:
        vault.exchange.pairing.drop_offer(offered.view.token.hex())
        raise
    vault.exchange.pairing.drop_offer(offered.view.token.hex())
    _waiting[vault] = accepted
    return _shown(vault, accepted)


def waiting(vault: "Vault") -> Waiting | None:
    """Return the answer whose words wait for a person, if there is one."""
    accepted = _waiting.get(vault)
    return None if accepted is None else _shown(vault, accepted)


def trust(vault: "Vault", now: Moment, by: str) -> str:
    """Pair the device: a person found the same six words on both screens.

    Returns:
        The device's name; empty when no answer waits any more.
    """
    accepted = _waiting.pop(vault, None)
    if accepted is None:
        return ""
    card = accepted.device
    known = vault.exchange.pairing.device(card.device_id) or {}
    paired = {"paired_ms": now.utc_ms, "paired_by": by, "state": "paired"}
    kept = {k: v for k, v in known.items() if not k.startswith("revoked")}
    vault.exchange.pairing.put_device({**kept, **_plain(card), **paired})
    return card.name


def distrust(vault: "Vault") -> None:
    """Forget the answer: the words differed."""
    _waiting.pop(vault, None)


def _shown(vault: "Vault", accepted: Accepted) -> Waiting:
    known = vault.exchange.pairing.device(accepted.device.device_id)
    return Waiting(accepted.device.name, accepted.words, known is not None)


def _plain(card: DeviceCard) -> dict[str, Any]:
    former = [
        {
            "device_id": key.device_id,
            "signing_key": key.signing_key.hex(),
            "agreement_key": key.agreement_key.hex(),
            "vouched": key.vouched.hex(),
        }
        for key in card.former
    ]
    return {
        "device_id": card.device_id,
        "name": card.name,
        "signing_key": card.signing_key.hex(),
        "agreement_key": card.agreement_key.hex(),
        "former": former,
        "is_demo": card.is_demo,
    }

"""Pair a device, on the clinic's side: offer a card, open the answer, trust or not.

A card is good for ten minutes and one answer: it is dropped from the store before the
six words are shown, whatever the answer held. Until a person has said that both
screens show the same words, the device is kept in memory only, so that a device that
was paired before loses nothing by a second, false answer.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

from exam_app.crypto.door import KeyDerivation, random_bytes
from exam_app.domain.moments import Moment
from exam_app.domain.wording.visible_text import visible
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.pairings import PAIRED, REVOKED
from exam_app.store.vault.vault import Vault
from sync.errors import CardError, NotACardError, RevokedPairingError
from sync.trust.cards import DeviceCard, read_clinic_card
from sync.trust.pairing import (
    Accepted,
    Claim,
    Offer,
    OwnKeys,
    accept,
    check_claims,
    claims_of,
    offer,
    pairing_words,
)
from sync.trust.words import WORDS_DERIVATION

# What is said of a device until it is paired again; then it stands in its past.
_PAST = (
    *("name", "signing_key", "paired_ms", "paired_by"),
    *("revoked_after", "revoked_ms", "revoked_by"),
)
_waiting: WeakKeyDictionary[Vault, Accepted] = WeakKeyDictionary()
_words: WeakKeyDictionary[Vault, tuple[str, ...]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True)
class Waiting:
    """An answer whose words no person has compared yet.

    Attributes:
        is_known: Whether it, or one it was restored from, was paired here before.
        revoked: The devices it is or was that a person ended the trust in.
        has_namesake: Whether another device here has the same name.
    """

    name: str
    words: tuple[str, ...]
    is_known: bool
    revoked: tuple[Mapping[str, Any], ...] = ()
    has_namesake: bool = False


def clinic_keys(vault: Vault, *, is_demo: bool) -> OwnKeys:
    """Return this clinic's name and private keys."""
    settings = vault.settings
    return OwnKeys(
        settings.get("device_id"),
        settings.get("practice", ""),
        settings.get("signing_key"),
        settings.get("agreement_key"),
        is_demo,
        settings.get("clinic_phone", ""),
    )


def new_offer(vault: Vault, now: Moment, *, is_demo: bool) -> Offer:
    """Make a fresh card in place of every one before it, in one save."""
    offered = offer(clinic_keys(vault, is_demo=is_demo), now, random_bytes)
    with vault.transaction():
        for before in Exchange(vault).pairing.offers():
            Exchange(vault).pairing.drop_offer(before["token"])
        Exchange(vault).pairing.put_offer(
            {
                "token": offered.view.token.hex(),
                "card": offered.card.hex(),
                "expires_ms": offered.view.expires_ms,
            }
        )
    _waiting.pop(vault, None)
    return offered


def open_offer(vault: Vault, now: Moment) -> Offer | None:
    """Return the card that can still be answered, if there is one."""
    for kept in reversed(Exchange(vault).pairing.offers()):
        if kept["expires_ms"] > now.utc_ms:
            card = bytes.fromhex(kept["card"])
            return Offer(card, read_clinic_card(card, now))
    return None


def take_answer(vault: Vault, sealed: bytes, now: Moment) -> None:
    """Open an answer; it uses up the card, whatever comes out.

    ``find_words`` has to be awaited before anything waits for a person.

    Raises:
        NotACardError: It is no answer at all; the card can still be answered.
        CardError: It is refused, and a new card has to be shown.
    """
    offered = open_offer(vault, now)
    if offered is None:
        raise NotACardError("no card is open here")
    try:
        accepted = accept(sealed, offered, vault.settings.get("agreement_key"), now)
        trusted = Exchange(vault).pairing.trusted()
        known = [claim for device in trusted for claim in _claims(device)]
        check_claims(accepted.device, known)
    except NotACardError:
        raise
    except CardError:
        Exchange(vault).pairing.drop_offer(offered.view.token.hex())
        raise
    Exchange(vault).pairing.drop_offer(offered.view.token.hex())
    _words.pop(vault, None)
    _waiting[vault] = accepted


async def find_words(
    vault: Vault, derivation: KeyDerivation = WORDS_DERIVATION
) -> None:
    """Find the six words of the answer that was opened last; this takes a moment.

    Any derivation but the default is for tests and the demonstration.
    """
    accepted = _waiting.get(vault)
    if accepted is None:
        return
    words = await pairing_words(accepted.cards, derivation)
    if _waiting.get(vault) is accepted:
        _words[vault] = words


def waiting(vault: Vault) -> Waiting | None:
    """Return the answer whose words wait for a person, if there is one."""
    accepted, words = _waiting.get(vault), _words.get(vault)
    if accepted is None or words is None:
        return None
    return _shown(vault, accepted, words)


def trust(vault: Vault, now: Moment, by: str, *, again: bool = False) -> str:
    """Pair the device: a person found the same six words on both screens.

    Args:
        by: Name of the person.
        again: Whether that person was told that the trust in it was ended, and means
            to trust it all the same.

    Returns:
        The device's name; empty when no answer waits any more.

    Raises:
        RevokedPairingError: It was revoked, and nobody said so; it waits on.
    """
    accepted, shown = _waiting.get(vault), waiting(vault)
    if accepted is None or shown is None:
        return ""
    if shown.revoked and not again:
        raise RevokedPairingError("it was revoked")
    card = accepted.device
    known = Exchange(vault).pairing.device(card.device_id)
    paired = {"paired_ms": now.utc_ms, "paired_by": by, "state": PAIRED}
    before = [*known.get("before", []), _past(known, now, by)] if known else []
    kept = {k: v for k, v in (known or {}).items() if k not in _PAST}
    past = {"before": before} if before else {}
    Exchange(vault).pairing.put_device({**kept, **_plain(card), **paired, **past})
    _waiting.pop(vault, None)
    return visible(card.name)


def distrust(vault: Vault) -> None:
    """Forget the answer: the words differed."""
    _waiting.pop(vault, None)


def _shown(vault: Vault, accepted: Accepted, words: tuple[str, ...]) -> Waiting:
    claims = set(claims_of(accepted.device))
    trusted = Exchange(vault).pairing.trusted()
    known = [device for device in trusted if claims & set(_claims(device))]
    revoked = tuple(device for device in known if device.get("state") == REVOKED)
    name = visible(accepted.device.name)
    others = (d for d in trusted if d not in known)
    has_namesake = any(str(d.get("name", "")).strip() == name.strip() for d in others)
    return Waiting(name, words, bool(known), revoked, has_namesake)


def _claims(device: Mapping[str, Any]) -> tuple[Claim, ...]:
    """Return the ids and keys of a device as kept, as ``claims_of`` does of a card."""
    former = device.get("former") or ()
    return tuple(
        (str(one["device_id"]), bytes.fromhex(one["signing_key"]))
        for one in (device, *former)
    )


def _past(known: Mapping[str, Any], now: Moment, by: str) -> dict[str, Any]:
    """Return what a device was here until it was paired again."""
    past = {name: known[name] for name in _PAST if name in known}
    return {**past, "until_ms": now.utc_ms, "until_by": by}


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
        "name": visible(card.name),
        "signing_key": card.signing_key.hex(),
        "agreement_key": card.agreement_key.hex(),
        "former": former,
        "is_demo": card.is_demo,
    }

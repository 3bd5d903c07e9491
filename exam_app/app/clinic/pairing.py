"""Pair a device, on the clinic's side: offer a card, open the answer, trust or not.

A card is good for ten minutes and one answer: it is dropped from the store before the
six words are shown, whatever the answer held. Until a person has said that both
screens show the same words, the device is kept in memory only, so that a device that
was paired before loses nothing by a second, false answer.
"""

from dataclasses import dataclass, fields
from weakref import WeakKeyDictionary

from exam_app.crypto.door import KeyDerivation, random_bytes
from exam_app.domain.moments import Moment
from exam_app.domain.wording.visible_text import visible
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.pairings import (
    PAIRED,
    REVOKED,
    Device,
    FormerTrust,
    OpenOffer,
    Trust,
)
from exam_app.store.vault.vault import Vault
from sync.errors import CardError, NotACardError, RevokedPairingError
from sync.trust.cards import read_clinic_card
from sync.trust.pairing import (
    Accepted,
    Claim,
    Offer,
    accept,
    check_claims,
    claims_of,
    offer,
    pairing_words,
)
from sync.trust.words import WORDS_DERIVATION

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
    revoked: tuple[Device, ...] = ()
    has_namesake: bool = False


def new_offer(vault: Vault, now: Moment) -> Offer:
    """Make a fresh card in place of every one before it, in one save."""
    offered = offer(Exchange(vault).own_identity(), now, random_bytes)
    with vault.transaction():
        for before in Exchange(vault).pairing.offers():
            Exchange(vault).pairing.drop_offer(before.token)
        card = offered.view
        kept = OpenOffer(card.token, offered.card, card.expires_ms)
        Exchange(vault).pairing.put_offer(kept)
    _waiting.pop(vault, None)
    return offered


def open_offer(vault: Vault, now: Moment) -> Offer | None:
    """Return the card that can still be answered, if there is one."""
    for kept in reversed(Exchange(vault).pairing.offers()):
        if kept.expires_ms > now.utc_ms:
            return Offer(kept.card, read_clinic_card(kept.card, now))
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
        Exchange(vault).pairing.drop_offer(offered.view.token)
        raise
    Exchange(vault).pairing.drop_offer(offered.view.token)
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
    past = (*(known.before or ()), _past(known, now, by)) if known else None
    device = Device(
        device_id=card.device_id,
        name=visible(card.name),
        signing_key=card.signing_key,
        agreement_key=card.agreement_key,
        former=card.former,
        state=PAIRED,
        is_demo=card.is_demo,
        paired_ms=now.utc_ms,
        paired_by=by,
        before=past,
        packing=card.packing,
    )
    Exchange(vault).pairing.put_device(device)
    _waiting.pop(vault, None)
    return visible(card.name)


def distrust(vault: Vault) -> None:
    """Forget the answer: the words differed."""
    _waiting.pop(vault, None)


def _shown(vault: Vault, accepted: Accepted, words: tuple[str, ...]) -> Waiting:
    claims = set(claims_of(accepted.device))
    trusted = Exchange(vault).pairing.trusted()
    known = [device for device in trusted if claims & set(_claims(device))]
    revoked = tuple(device for device in known if device.state == REVOKED)
    name = visible(accepted.device.name)
    others = (one for one in trusted if one not in known)
    has_namesake = any(one.name.strip() == name.strip() for one in others)
    return Waiting(name, words, bool(known), revoked, has_namesake)


def _claims(device: Device) -> tuple[Claim, ...]:
    """Return the ids and keys of a device as kept, as ``claims_of`` does of a card."""
    former = ((one.device_id, one.signing_key) for one in device.former)
    return ((device.device_id, device.signing_key), *former)


def _past(known: Device, now: Moment, by: str) -> FormerTrust:
    """Return what a device was here until it was paired again."""
    held = {one.name: getattr(known, one.name) for one in fields(Trust)}
    return FormerTrust(**held, until_ms=now.utc_ms, until_by=by)

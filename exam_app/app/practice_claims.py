"""What a practice adds to its routine sentences, kept for every exam it starts.

An exam takes it over at its start and keeps it, so that a record says the same for
ever; a change here holds from the next exam on. It stays on this device.
"""

from dataclasses import dataclass, replace

from exam_app.app.exam_start import ExamOrder
from exam_app.app.session import Session
from exam_app.store.vault.vault import Vault

SETTING = "practice_claims"


@dataclass(frozen=True, slots=True)
class PracticeClaims:
    """The claims of one species that a practice says otherwise than the protocol.

    Attributes:
        added: Names of claims that a routine exam does not make (``ears/drum``).
        instead: Names of claims in whose place their ``strike_as`` is said.
    """

    added: tuple[str, ...] = ()
    instead: tuple[str, ...] = ()


def claims_kept(vault: Vault, species: str) -> PracticeClaims:
    """Return what the practice of a store has chosen for a species."""
    return every_kept(vault).get(species, PracticeClaims())


def every_kept(vault: Vault) -> dict[str, PracticeClaims]:
    """Return what was chosen, by species; a species without a choice is left out."""
    kept: dict[str, dict[str, list[str]]] = vault.settings.get(SETTING) or {}
    return {
        species: PracticeClaims(
            tuple(told.get("added", ())), tuple(told.get("instead", ()))
        )
        for species, told in sorted(kept.items())
        if any(told.values())
    }


def switched(chosen: PracticeClaims, name: str, *, is_result: bool) -> PracticeClaims:
    """Return the choice with one claim put in, or taken out where it stood.

    Args:
        name: As ``ears/drum``.
        is_result: Whether its result is said in its place, rather than it is added.
    """
    field = "instead" if is_result else "added"
    before: tuple[str, ...] = getattr(chosen, field)
    others = tuple(n for n in before if n != name)
    after = others if name in before else (*others, name)
    return replace(chosen, **{field: after})


async def keep(session: Session, species: str, chosen: PracticeClaims) -> None:
    """Keep a choice for the exams that are started from now on."""
    told = {"added": list(chosen.added), "instead": list(chosen.instead)}
    settings = session.vault.settings
    kept = {**(settings.get(SETTING) or {}), species: told}
    await session.save(lambda: settings.put(SETTING, kept))


def with_practice_claims(vault: Vault, order: ExamOrder) -> ExamOrder:
    """Return an order that takes over what the practice has chosen."""
    chosen = claims_kept(vault, order.animal.species)
    return replace(order, added_claims=chosen.added, instead_claims=chosen.instead)

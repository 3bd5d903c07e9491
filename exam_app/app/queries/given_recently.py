"""What was given lately to animals of a species: offered, so that it is not typed.

A dose is offered beside its field and never filled in with the product: it is for one
animal.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields

from exam_app.language.catalogue import tr
from exam_app.store.vault.vault import Vault

_KEPT, _SHOWN = "given_recently", 4
_MOST = 40


@dataclass(frozen=True, slots=True)
class GivenBefore:
    """One product as it was given last.

    Attributes:
        dose: Dose and unit as typed then.
        withdrawal: As on the label then.
    """

    species: str
    product: str
    dose: str = ""
    route: str = ""
    lot: str = ""
    expiry: str = ""
    withdrawal: str = ""

    @property
    def label(self) -> str:
        """Name the product and the lot it was of."""
        return (
            tr("{product}, lot {lot}", product=self.product, lot=self.lot)
            if self.lot
            else self.product
        )

    def texts(self) -> dict[str, str]:
        """Return what a tap fills in: everything of the pack, and no dose."""
        names = ("product", "route", "lot", "expiry", "withdrawal")
        return {name: getattr(self, name) for name in names}


def given_before(vault: Vault, species: str) -> tuple[GivenBefore, ...]:
    """Return what was given to this species on this device, newest first."""
    rows = vault.settings.get(_KEPT, [])
    return tuple(GivenBefore(**row) for row in rows if row["species"] == species)


def offered(vault: Vault, species: str) -> tuple[GivenBefore, ...]:
    """Return the few that are offered: each product with its newest lot once."""
    products: dict[str, GivenBefore] = {}
    for one in given_before(vault, species):
        products.setdefault(one.product.casefold(), one)
    return tuple(products.values())[:_SHOWN]


def doses_of(vault: Vault, species: str, product: str) -> tuple[str, ...]:
    """Return the doses in which a product was given, newest first."""
    same = product.strip().casefold()
    before = given_before(vault, species)
    doses = (one.dose for one in before if one.product.casefold() == same)
    return tuple(dict.fromkeys(filter(None, doses)))[:_SHOWN]


def keep_given(vault: Vault, species: str, texts: Mapping[str, str]) -> None:
    """Remember what was given just now."""
    names = {field.name for field in fields(GivenBefore)}
    said = {n: text.strip() for n, text in texts.items() if n in names}
    now = GivenBefore(**{**said, "species": species})
    rows = [asdict(now)]
    rows += [row for row in vault.settings.get(_KEPT, []) if row != rows[0]]
    vault.settings.put(_KEPT, rows[:_MOST])

"""The animal as the record names it: signalment, identity, age."""

from collections.abc import Collection
from dataclasses import dataclass, field
from enum import StrEnum

from exam_app.domain.protocol.protocol import LifeStage
from exam_app.language.catalogue import to_translate, tr


class Sex(StrEnum):
    """Sex and neuter status as seen or told."""

    FEMALE = to_translate("female")
    FEMALE_NEUTERED = to_translate("female, neutered")
    MALE = to_translate("male")
    MALE_NEUTERED = to_translate("male, neutered")
    UNKNOWN = to_translate("not known")

    @property
    def kind(self) -> str:
        """``female``, ``male``, or empty when not known."""
        return "" if self is Sex.UNKNOWN else self.value.partition(",")[0]

    def may_have(self, sexes: Collection[str]) -> bool:
        """Whether it can have what these sexes have; none named is for every sex."""
        return not sexes or not self.kind or self.kind in sexes


class AgeBasis(StrEnum):
    """How an age is known."""

    BIRTH_DATE = to_translate("birth date")
    TOLD = to_translate("as told")
    ESTIMATED = to_translate("estimated")
    UNKNOWN = to_translate("not known")


@dataclass(frozen=True, slots=True)
class Animal:
    """Signalment and identity of one animal.

    Attributes:
        animal_id: UUID as 32 hexadecimal digits.
        species: Protocol species, as ``dog``.
        age_days: Age on ``age_on``; ``None`` when not known.
        age_on: ISO date the age refers to, or empty.
        birth_date: ISO date, or empty.
        chip: Fifteen digits or as read; empty when none is recorded.
        behaviour: How it behaves with people, as typed.
        dangers: What can hurt the examiner, as typed.
        absent: Region keys known to be gone (an eye, the tail).
        is_group: The patient is a flock, a pen or a litter.
        dam: The mother, as known.
        age_method: How an age was estimated, in words: teeth, weight, eyes.
        age_number, age_unit: The age in the words it was told or estimated in on
            ``age_on``, as ``2.5`` and ``years``; empty where only days are known.
    """

    animal_id: str
    name: str
    species: str
    breed: str = ""
    sex: Sex = Sex.UNKNOWN
    age_days: int | None = None
    age_on: str = ""
    age_basis: AgeBasis = AgeBasis.UNKNOWN
    birth_date: str = ""
    colour: str = ""
    chip: str = ""
    tag: str = ""
    place: str = ""
    behaviour: str = ""
    dangers: str = ""
    absent: tuple[str, ...] = ()
    is_demo: bool = False
    is_group: bool = False
    dam: str = ""
    age_method: str = ""
    age_number: str = ""
    age_unit: str = ""


@dataclass(frozen=True, slots=True)
class Owner:
    """Owner details; they stand beside a record, never inside it."""

    name: str = ""
    phone: str = ""
    address: str = ""
    other: dict[str, str] = field(default_factory=dict)


def species_words(species: str) -> str:
    """Return a protocol's species as words: ``guinea_pig`` is a guinea pig."""
    return species.replace("_", " ")


_SPECIES = (
    to_translate("camelid"),
    to_translate("cat"),
    to_translate("cattle"),
    to_translate("chicken"),
    to_translate("dog"),
    to_translate("donkey"),
    to_translate("ferret"),
    to_translate("goat"),
    to_translate("guinea pig"),
    to_translate("horse"),
    to_translate("pig"),
    to_translate("rabbit"),
    to_translate("sheep"),
    to_translate("animal"),
)


def species_shown(species: str) -> str:
    """Return the same as it is shown; that of a practice's own protocol as it is."""
    words = species_words(species)
    return tr(words) if words in _SPECIES else words


def life_stage_of(stages: tuple[LifeStage, ...], age_days: int | None) -> str:
    """Return the id of the stage an age falls in; empty when the age is not known.

    Args:
        stages: The protocol's stages, youngest first.
        age_days: Age in days.
    """
    if age_days is None:
        return ""
    for stage in stages:
        if age_days >= stage.from_days and (
            stage.until_days is None or age_days < stage.until_days
        ):
            return stage.stage_id
    return ""

"""A group of animals is a patient too: a flock, a pen, a litter.

The group has an exam of its own, which says how many were there, how many were looked
at and how those were chosen, and looks at the whole group from a distance. Each animal
looked at has an exam of its own that names the group's. Nothing is filled down: what is
said of the group is said of no animal in it.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import count

from exam_app.domain.animal.signalment import AgeBasis, Animal, Sex
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam, require_open
from exam_app.domain.exam.visit import GroupFacts
from exam_app.language.catalogue import to_translate, tr


def open_facts(facts: GroupFacts) -> tuple[str, ...]:
    """Return what a group's exam cannot close without, in words."""
    asked = (
        (facts.present is None, tr("how many were present")),
        (facts.examined is None, tr("how many were examined")),
        (not facts.chosen.strip(), tr("how the animals were chosen")),
    )
    return tuple(words for is_open, words in asked if is_open)


def group_lines(facts: GroupFacts) -> tuple[str, ...]:
    """Write the group's facts; what was not said is not written."""
    told = (
        (tr("Present"), facts.present),
        (tr("Examined"), facts.examined),
        (tr("Affected"), facts.affected),
        (tr("Dead"), facts.dead),
        (tr("How they were chosen"), facts.chosen),
        (tr("Feed"), facts.feed),
        (tr("Housing"), facts.housing),
        (tr("Note"), facts.note),
    )
    return tuple(f"{label}: {said}" for label, said in told if said not in {None, ""})


LONGEST_LITTER = 30  # as many as sows are known to have; common practice, no source
_YOUNG = {
    "camelid": to_translate("Cria"),
    "cat": to_translate("Kitten"),
    "cattle": to_translate("Calf"),
    "chicken": to_translate("Chick"),
    "dog": to_translate("Puppy"),
    "donkey": to_translate("Foal"),
    "ferret": to_translate("Kit"),
    "goat": to_translate("Kid"),
    "guinea_pig": to_translate("Pup"),
    "horse": to_translate("Foal"),
    "pig": to_translate("Piglet"),
    "rabbit": to_translate("Kit"),
    "sheep": to_translate("Lamb"),
}


class GroupNumbersError(ExamError):
    """The numbers of a group cannot all be right."""

    advice = to_translate(
        "These numbers cannot all be right. Nothing was changed. "
        "Count again, or leave a number out and say why in the note."
    )

    def __init__(self, reason: str, name: str = "") -> None:
        """Keep which number it is in ``name``, as ``GroupFacts`` calls it."""
        super().__init__(reason)
        self.name = name


@dataclass(frozen=True, slots=True)
class LitterMate:
    """What differs between one animal of a litter and the next; the rest is shared."""

    name: str
    sex: Sex = Sex.UNKNOWN
    colour: str = ""
    tag: str = ""


_MORE_THAN_PRESENT = {
    "examined": to_translate("more were examined than were present"),
    "affected": to_translate("more were affected than were present"),
}


def set_group(exam: Exam, facts: GroupFacts) -> Exam:
    """Record what is known of the group.

    Raises:
        ExamClosedError: The exam is closed.
        GroupNumbersError: A number is below zero, or more were examined than present.
    """
    require_open(exam)
    numbers = (facts.present, facts.examined, facts.affected, facts.dead)
    if any(number is not None and number < 0 for number in numbers):
        raise GroupNumbersError(tr("a number is not below zero"))
    for name, message in _MORE_THAN_PRESENT.items():
        number = getattr(facts, name)
        if facts.present is not None and (number or 0) > facts.present:
            raise GroupNumbersError(tr(message), name)
    return replace(exam, group=facts)


def row_animal(group: Animal, animal_id: str, tag: str) -> Animal:
    """Return a new animal of a group: signalment and place, nothing it must show.

    Args:
        group: The group as a patient.
        tag: As read off the animal; its name until it gets another.
    """
    return Animal(
        animal_id=animal_id,
        name=tag.strip(),
        species=group.species,
        breed=group.breed,
        sex=group.sex,
        age_days=group.age_days,
        age_on=group.age_on,
        age_basis=group.age_basis,
        birth_date=group.birth_date,
        age_number=group.age_number,
        age_unit=group.age_unit,
        tag=tag.strip(),
        place=group.place,
        is_demo=group.is_demo,
    )


def young_word(species: str) -> str:
    """Return what one of a litter is called, such as "Piglet"; else "Number".

    In English, since animals are named by it; ``tr`` shows it.
    """
    return _YOUNG.get(species, to_translate("Number"))


def litter_names(
    typed: Sequence[str], young: str, taken: Collection[str] = ()
) -> tuple[str, ...]:
    """Return a name for each of a litter: as typed, or the young's word and a number.

    Args:
        typed: One entry an animal, empty where it has no name.
        young: What one of them is called.
        taken: Names that others have; none of them is given here.
    """
    has = {*taken, *(name.strip() for name in typed)}
    free = (f"{young} {number}" for number in count(1))
    given = (name for name in free if name not in has)
    return tuple(name.strip() or next(given) for name in typed)


def litter(
    first: Animal,
    mates: tuple[LitterMate, ...],
    animal_ids: tuple[str, ...],
    dam: str = "",
) -> tuple[Animal, ...]:
    """Return the animals of a litter from what one of them shares with all.

    Signalment is copied, never a finding, a chip number or what is absent.

    Args:
        first: What the litter shares: species, breed, age, place.
        mates: One entry an animal, at least two.
        animal_ids: A UUID for each.
        dam: The mother as known; may be empty.

    Raises:
        GroupNumbersError: Fewer than two, too many, or one without a name.
    """
    if not 2 <= len(mates) <= LONGEST_LITTER or len(mates) != len(animal_ids):
        raise GroupNumbersError(
            tr("a litter is 2 to {most} animals", most=LONGEST_LITTER)
        )
    if any(not mate.name.strip() for mate in mates):
        raise GroupNumbersError(
            tr("every animal needs a name or a word it is known by")
        )
    shared = replace(first, chip="", absent=(), dam=dam.strip(), is_group=False)
    return tuple(
        replace(
            shared,
            animal_id=animal_id,
            name=mate.name.strip(),
            sex=mate.sex,
            colour=mate.colour or first.colour,
            tag=mate.tag,
        )
        for mate, animal_id in zip(mates, animal_ids, strict=True)
    )


def with_age_by_teeth(animal: Animal, age_days: int, on: str, method: str) -> Animal:
    """Return an animal with an age estimated from its teeth.

    Args:
        age_days: Estimated age on the day ``on``.
        on: ISO date.
        method: What was seen, in words: which teeth, worn or through.
    """
    return replace(
        animal,
        age_days=age_days,
        age_on=on,
        age_basis=AgeBasis.ESTIMATED,
        age_method=f"teeth: {method.strip()}",
        birth_date="",
    )

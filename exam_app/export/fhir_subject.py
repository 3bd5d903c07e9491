"""The animal, the people and the urgent signs as resources.

Owner details stand beside a record, never in it, and so are in no export. People are
what the device was told of them: a name and a role, proved by nothing.
"""

from collections.abc import Iterator
from uuid import UUID

from exam_app.domain.animal.ages import known_date
from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.exam.people import Person
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.wording.exam_wording import describe_urgent
from exam_app.export.fhir_shapes import (
    DEMO_WORDS,
    URI,
    Exported,
    Resource,
    coding,
    concept,
    narrative,
    when,
)

ANIMAL = "http://hl7.org/fhir/StructureDefinition/patient-animal"
_GENDER_STATUS = "http://hl7.org/fhir/animal-genderstatus"
_CLAIM = "The signature proves the device, not the person."


def subject(exported: Exported, lines: tuple[str, ...]) -> Resource:
    """Return the animal as a patient; a flock, a pen or a litter as a group.

    Args:
        lines: What the written record says of the animal.
    """
    animal = exported.exam.animal
    text = narrative([_demo(exported)], lines)
    if animal.is_group:
        return _group(exported, text)
    return {
        **exported.resource("Patient", "subject"),
        "text": text,
        "extension": [_animal_extension(exported)],
        "identifier": _identifiers(animal),
        "name": [{"text": animal.name}] if animal.name else [],
        "gender": animal.sex.kind or "unknown",
        "birthDate": _whole_date(animal.birth_date),
    }


def _group(exported: Exported, text: Resource) -> Resource:
    animal, facts = exported.exam.animal, exported.exam.group
    return {
        **exported.resource("Group", "subject"),
        "text": text,
        "identifier": _identifiers(animal),
        "type": "animal",
        "actual": True,
        "code": concept(exported.protocol.label),
        "name": animal.name,
        "quantity": facts.present if facts else None,
    }


def _animal_extension(exported: Exported) -> Resource:
    """Return species, breed and, where it was said, that the animal is neutered.

    A female or male of which nothing more was said is not called intact.
    """
    animal = exported.exam.animal
    parts = [("species", concept(exported.protocol.label))]
    if animal.breed:
        parts.append(("breed", concept(animal.breed)))
    if animal.sex in (Sex.FEMALE_NEUTERED, Sex.MALE_NEUTERED):
        neutered = coding(_GENDER_STATUS, "neutered", "Neutered")
        parts.append(("genderStatus", concept("neutered", neutered)))
    named = [{"url": url, "valueCodeableConcept": said} for url, said in parts]
    return {"url": ANIMAL, "extension": named}


def _identifiers(animal: Animal) -> list[Resource]:
    own = {"system": URI, "value": UUID(animal.animal_id).urn}
    worn = (("Microchip", animal.chip), ("Tag", animal.tag))
    return [
        own,
        *({"type": concept(kind), "value": value} for kind, value in worn if value),
    ]


def _whole_date(text: str) -> str:
    day = known_date(text)
    return day.isoformat() if day else ""


def practitioner(exported: Exported, person: Person) -> Resource:
    """Return a person as the device was told of them: a claim."""
    role = f"{person.role.value}, as entered on the device"
    return {
        **exported.resource("Practitioner", f"person/{person.person_id}"),
        "text": narrative([_demo(exported), f"{person.name}: {role}. {_CLAIM}"]),
        "name": [{"text": person.name}],
        "qualification": [{"code": concept(role)}],
    }


def flags(exported: Exported) -> Iterator[Resource]:
    """Yield every urgent sign, then what concerns bites and rabies."""
    for entry in exported.exam.urgent:
        yield _urgent(exported, entry)
    bite = exported.exam.bite
    if bite and bite.concern:
        yield {
            **exported.resource("Flag", "bite"),
            "text": narrative([_demo(exported), bite.concern]),
            "status": "active",
            "category": [concept("Bite, scratch or rabies")],
            "code": concept(bite.concern),
            "subject": exported.subject(),
            "period": {"start": when(exported.exam.started)},
        }


def _urgent(exported: Exported, entry: UrgentEntry) -> Resource:
    by = entry.attribution
    return {
        **exported.resource("Flag", f"urgent/{entry.entry_id}"),
        "text": narrative([_demo(exported), describe_urgent(entry)]),
        "status": "active",
        "category": [concept("Urgent sign")],
        "code": concept(entry.label),
        "subject": exported.subject(),
        "period": {"start": when(by.observed)},
        "author": exported.person(by.examined_by),
    }


def _demo(exported: Exported) -> str:
    return DEMO_WORDS if exported.exam.is_demo else ""

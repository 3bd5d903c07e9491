"""One closed exam as a document of HL7 FHIR R4 (4.0.1), which R4B reads as well.

A bundle of the written record as text, the animal, the people, and an observation for
each vital and each part. The signed record stays the record: this is a view of it for
other programs, unsigned, and it names the record by its hash. The bundle bears the
time of closing, for it follows from the record alone; no clock is read.

Private notes are written only when asked for by name, as in the written record.
Owner details stand beside a record, never in it, and so are in no export. People are
what the device was told of them: a name and a role, proved by nothing.
"""

import json
from base64 import urlsafe_b64encode
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import ClassVar
from uuid import UUID

from exam_app.domain.animal.ages import known_date
from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Closing, Correction, Exam
from exam_app.domain.exam.people import Person
from exam_app.domain.exam.photographs import MEDIA_TYPE, settled_photos
from exam_app.domain.exam.review import part_label
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.exam_wording import describe_urgent
from exam_app.domain.wording.photo_wording import (
    is_taking_told,
    photo_line,
    photo_words,
)
from exam_app.domain.wording.written_record import Section, WrittenRecord, write_record
from exam_app.export.fhir_findings import findings_in_parts
from exam_app.export.fhir_observations import region_observations, vital_observations
from exam_app.export.fhir_provenance import provenance
from exam_app.export.fhir_shapes import (
    DEMO_WORDS,
    LOINC_NOTICE,
    OWN,
    URI,
    Exported,
    Resource,
    coding,
    concept,
    narrative,
    tidy,
    when,
)
from exam_app.language.catalogue import in_english

ANIMAL = "http://hl7.org/fhir/StructureDefinition/patient-animal"
_GENDER_STATUS = "http://hl7.org/fhir/animal-genderstatus"
_IN_PARTS = (
    "The record above, one resource for each urgent sign, vital, part, finding and "
    "photograph."
)
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
        by = entry.attribution
        name, words = f"urgent/{entry.entry_id}", describe_urgent(entry)
        yield {
            **_flag(exported, name, words, "Urgent sign", entry.label, by.observed),
            "author": exported.person(by.examined_by),
        }
    bite = exported.exam.bite
    if bite and bite.concern:
        category, since = "Bite, scratch or rabies", exported.exam.started
        yield _flag(exported, "bite", bite.concern, category, bite.concern, since)


def photographs(exported: Exported) -> Iterator[Resource]:
    """Yield a description of every photograph; the picture itself is in no export.

    Its SHA-256 is its identifier, as an ``ni`` URI of RFC 6920: the hash that FHIR R4
    has for an attachment is SHA-1. When and by whom it was taken is written only where
    somebody said so, as in the record's words; when it was added, always.
    """
    exam, protocol = exported.exam, exported.protocol
    for photo in settled_photos(exam):
        by = photo.attribution
        told = by if by and is_taking_told(by) else None
        digest = urlsafe_b64encode(bytes.fromhex(photo.sha256)).rstrip(b"=")
        named = f"ni:///sha-256;{digest.decode()}"
        part = part_label(exam, protocol, photo.key) if photo.key else ""
        line = photo_line(exam, protocol, photo)
        yield {
            **exported.resource("Media", f"photograph/{photo.sha256}"),
            "text": narrative([_demo(exported), line]),
            "identifier": [{"system": URI, "value": named}],
            "status": "completed",
            "type": concept("Photograph"),
            "subject": exported.subject(),
            "createdDateTime": when(told.observed) if told else "",
            "issued": when(by.entered) if by else "",
            "operator": exported.person(told.examined_by) if told else {},
            "bodySite": concept(part) if part else {},
            "height": photo.height or None,
            "width": photo.width or None,
            "content": {
                "contentType": MEDIA_TYPE,
                "size": photo.size or None,
                "title": photo_words(exam, protocol, photo),
            },
        }


def _flag(
    exported: Exported, name: str, words: str, category: str, code: str, since: Moment
) -> Resource:
    return {
        **exported.resource("Flag", name),
        "text": narrative([_demo(exported), words]),
        "status": "active",
        "category": [concept(category)],
        "code": concept(code),
        "subject": exported.subject(),
        "period": {"start": when(since)},
    }


def _demo(exported: Exported) -> str:
    return DEMO_WORDS if exported.exam.is_demo else ""


THE_RECORD = (
    "The signed record is the record, not this export. This export is unsigned; the "
    "record it was made from has the SHA-256"
)


class DraftExportError(ExamError):
    """An exam that is not closed was to be exported."""

    advice: ClassVar[str] = (
        "This exam is not closed, so there is no signed record to export. Close it "
        "first, then export it."
    )


@in_english()
def exam_bundle(
    exam: Exam,
    protocol: SpeciesProtocol,
    exam_hash: str,
    *,
    for_veterinarian: bool = False,
    notes: Sequence[Section] = (),
    corrections: Sequence[Correction] = (),
    key_id: bytes = b"",
    signed: bytes = b"",
) -> Resource:
    """Return a closed exam as a FHIR R4 bundle of the type ``document``.

    Args:
        protocol: The protocol the exam names by hash.
        exam_hash: SHA-256 of the signed bytes, in hexadecimal.
        for_veterinarian: Whether private notes are written too.
        notes: Signed notes beside the record: who signed it, then the words.
        corrections: What those notes say should read otherwise.
        key_id: Of the key that signed the record; without it nothing is said of it.
        signed: The signed record, to go along in the document.

    Returns:
        Plain dictionaries and lists; numbers are decimals with their digits as typed.

    Raises:
        DraftExportError: The exam is not closed.
    """
    if exam.closing is None:
        raise DraftExportError
    exported = Exported(exam, protocol, exam_hash, tuple(corrections))
    written = write_record(
        exam, protocol, for_veterinarian=for_veterinarian, beside=corrections
    )
    in_parts = [
        *flags(exported),
        *vital_observations(exported),
        *region_observations(exported),
        *findings_in_parts(exported),
        *photographs(exported),
    ]
    beside = written.with_notes(notes)
    composition = _composition(exported, exam.closing, beside, in_parts)
    if for_veterinarian:
        composition["confidentiality"] = "R"
    named = {composition["author"][0].get("reference"), *_performers(in_parts)}
    animal = next((s.lines for s in written.sections if s.heading == "Animal"), ())
    people = [
        practitioner(exported, person)
        for person in exam.people
        if exported.person(person.person_id)["reference"] in named
    ]
    resources = [composition, subject(exported, animal), *people, *in_parts]
    if key_id:
        resources.append(provenance(exported, exam.closing, key_id, signed))
    variant = "+private-notes" if for_veterinarian else ""
    bundle = {
        **exported.resource("Bundle", f"bundle{variant}"),
        "identifier": {"system": OWN, "value": f"{exam_hash}{variant}"},
        "type": "document",
        "timestamp": when(exam.closing.at),
        "entry": [
            {"fullUrl": f"urn:uuid:{resource['id']}", "resource": resource}
            for resource in resources
        ],
    }
    return tidy(bundle)


def _composition(
    exported: Exported,
    closing: Closing,
    written: WrittenRecord,
    in_parts: list[Resource],
) -> Resource:
    said = f"{THE_RECORD} {exported.exam_hash}."
    exam = exported.exam
    return {
        **exported.resource("Composition", "composition"),
        "text": narrative([written.title, *written.headline, said]),
        "identifier": {"system": URI, "value": UUID(exam.exam_id).urn},
        "status": exported.status,
        "type": concept("Record of a physical examination of an animal"),
        "subject": exported.subject(),
        "date": when(closing.at),
        "author": [exported.person(closing.closed_by)],
        "title": written.title,
        "relatesTo": list(_related(exported)),
        "section": [
            *(
                {"title": part.heading, "text": narrative([], part.lines)}
                for part in written.sections
            ),
            {
                "title": "In parts",
                "text": narrative([_IN_PARTS]),
                "entry": [{"reference": f"urn:uuid:{part['id']}"} for part in in_parts],
            },
            {"title": "About this export", "text": narrative([said, LOINC_NOTICE])},
        ],
    }


def _related(exported: Exported) -> Iterator[Resource]:
    """Name the signed record this was made from, what it revises and continues."""
    exam = exported.exam
    related = (
        ("transforms", OWN, exported.exam_hash),
        ("replaces", OWN, exam.parent_hash),
        ("appends", URI, exam.continues and UUID(exam.continues).urn),
    )
    for code, system, value in related:
        if value:
            target = {"system": system, "value": value}
            yield {"code": code, "targetIdentifier": target}


def _performers(resources: list[Resource]) -> Iterator[str | None]:
    for resource in resources:
        one = (resource.get("author", {}), resource.get("operator", {}))
        for who in (*resource.get("performer", ()), *one):
            yield who.get("reference")


_TEXT = json.JSONEncoder(ensure_ascii=False).encode


def as_json(resource: Resource) -> bytes:
    """Write a resource as JSON in UTF-8, decimals with their digits as typed."""
    return (_json(resource, "\n") + "\n").encode()


def _json(value: object, line: str) -> str:
    """Write one value; ``line`` begins a line at its depth."""
    if isinstance(value, str):
        return _TEXT(value)
    if isinstance(value, Decimal):
        return format(value, "f")
    deeper = f"{line} "
    if isinstance(value, dict):
        pairs = (f"{_TEXT(k)}: {_json(v, deeper)}" for k, v in value.items())
        return f"{{{deeper}{f',{deeper}'.join(pairs)}{line}}}"
    if isinstance(value, list):
        return f"[{deeper}{f',{deeper}'.join(_json(v, deeper) for v in value)}{line}]"
    return json.dumps(value, ensure_ascii=False)

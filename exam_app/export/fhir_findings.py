"""Findings as observations of their own, lumps and marked places as body structures.

A finding says the same as in the part it belongs to, in parts that a program can read:
side, place, size of a lump with its unit as typed, grades, the examiner's call. A lump,
or a find that was marked, is also a structure of the body, so that the same one is
found again in a later document by its identifier. A group of animals has none: FHIR
keeps them for one patient.

Places and kinds are words: the code systems for them need a licence.
"""

from collections.abc import Iterator
from uuid import UUID

from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.photographs import settled_photos
from exam_app.domain.exam.review import region_label
from exam_app.domain.lumps.lumps import LUMP_LENGTH, Lump
from exam_app.domain.protocol.protocol import split_key
from exam_app.domain.wording.exam_wording import (
    describe_finding,
    join_words,
    mark_words,
    side_words,
)
from exam_app.domain.wording.region_wording import all_findings
from exam_app.export.fhir_shapes import (
    EXAM,
    URI,
    Exported,
    Resource,
    concept,
    narrative,
    quantity,
    worded,
)
from exam_app.export.tables import lengths


def finding_reference(exported: Exported, found: Finding) -> Resource:
    """Point to the observation of a finding."""
    return exported.reference(f"finding/{found.finding_id}")


def findings_in_parts(exported: Exported) -> Iterator[Resource]:
    """Yield an observation for every finding, its body structure before it."""
    for key, found in all_findings(exported.exam, exported.protocol):
        if has_structure(exported, found):
            yield _structure(exported, key, found)
        yield _observation(exported, key, found)


def has_structure(exported: Exported, found: Finding) -> bool:
    """Whether a find is a structure of one body: a lump, or marked on a drawing."""
    is_placed = found.lump is not None or found.mark is not None
    return is_placed and not exported.exam.animal.is_group


def _structure(exported: Exported, key: str, found: Finding) -> Resource:
    part, side = _part(exported, key), _side(key, found)
    ids = (found.finding_id, found.same_as)
    place = mark_words(found.mark)
    return {
        **exported.resource("BodyStructure", f"structure/{found.finding_id}"),
        "text": narrative([join_words(found.words, part, side, found.place, place)]),
        "identifier": [{"system": URI, "value": UUID(one).urn} for one in ids if one],
        "morphology": concept(found.words),
        "location": concept(part),
        "locationQualifier": [concept(text) for text in (side, found.place) if text],
        "description": place,
        "patient": exported.subject(),
    }


def _observation(exported: Exported, key: str, found: Finding) -> Resource:
    exam, side = exported.exam, _side(key, found)
    structure = exported.reference(f"structure/{found.finding_id}")
    shown = (p for p in settled_photos(exam) if p.finding_id == found.finding_id)
    words = describe_finding(found, exported.protocol)
    return {
        **exported.resource("Observation", f"finding/{found.finding_id}"),
        "status": exported.status,
        "category": [EXAM],
        "code": concept(found.words),
        "subject": exported.subject(),
        "focus": [structure] if has_structure(exported, found) else [],
        **exported.seen(found.attribution),
        "valueString": words,
        "bodySite": concept(join_words(_part(exported, key), side, found.place)),
        "derivedFrom": [
            exported.reference(f"photograph/{photo.sha256}") for photo in shown
        ],
        "component": [
            *_said(exported, found, side),
            *(_of_lump(found.lump) if found.lump else ()),
            *_of_mark(found),
        ],
    }


def _part(exported: Exported, key: str) -> str:
    region = split_key(key)[0]
    return region_label(exported.protocol, region, words_for(exported.exam))


def _side(key: str, found: Finding) -> str:
    return side_words(found.side or split_key(key)[1])


def _said(exported: Exported, found: Finding, side: str) -> Iterator[Resource]:
    scales = {scale.scale_id: scale.label for scale in exported.protocol.scales}
    labelled = (
        ("Side", side),
        *(("Kind", quality) for quality in found.qualities),
        ("Place", found.place),
        ("Extent", found.extent),
        ("Severity", found.severity.value if found.severity else ""),
        ("Since", found.since),
        ("Note", found.note),
        ("Call of the examiner", found.call.value),
        *(
            (scales.get(one.scale_id, one.scale_id), f"{one.value}: {one.label}")
            for one in found.grades
        ),
    )
    return (worded(label, text) for label, text in labelled if text)


def _of_lump(lump: Lump) -> Iterator[Resource]:
    """Yield every length as typed, with how it was measured, then how it feels."""
    for name, reading, way in lengths(lump):
        label = f"{name[0].upper()}{name[1:]} of the lump, {way}"
        number = quantity(reading.value, reading.unit, LUMP_LENGTH)
        yield {"code": concept(label), "valueQuantity": number}
    felt = (
        ("Depth", lump.depth),
        ("Consistency", lump.consistency),
        ("Mobility", lump.mobility),
        ("Surface", lump.surface),
        ("Pain on touch", lump.pain),
    )
    for label, said in felt:
        if said is not None:
            yield worded(label, said.value.replace("_", " "))


def _of_mark(found: Finding) -> Iterator[Resource]:
    """Yield the number of a mark, and its places in thousandths of each drawing."""
    mark = found.mark
    if mark is None:
        return
    yield {"code": concept("Number of the mark"), "valueInteger": mark.number}
    places = [(mark.view.words, mark.x, mark.y)]
    if mark.closer:
        places.append((mark.closer.words, mark.closer.x, mark.closer.y))
    for drawing, across, down in places:
        of = f"thousandths of the drawing: {drawing}"
        yield {"code": concept(f"Across, {of}"), "valueInteger": across}
        yield {"code": concept(f"Down, {of}"), "valueInteger": down}

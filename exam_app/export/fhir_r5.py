"""The document of one exam in HL7 FHIR R5 (5.0.0), made from the one in R4.

Says the same with the same ids; only what R5 names otherwise is changed: photographs
are document references, a composition has lists where it had one, a body structure its
included structure, a group its membership.
"""

from collections.abc import Callable

from exam_app.export.fhir_shapes import Resource, coding, tidy

_CONFIDENTIALITY = "http://terminology.hl7.org/CodeSystem/v3-Confidentiality"
_LATERALITY = ("left", "right")


def as_r5(bundle: Resource) -> Resource:
    """Return the R5 document that says what an R4 document says.

    Args:
        bundle: As ``exam_bundle`` makes it.
    """
    entries = [
        {**entry, "resource": _resource(entry["resource"])} for entry in bundle["entry"]
    ]
    return tidy({**bundle, "entry": entries})


def _resource(r4: Resource) -> Resource:
    change = _CHANGES.get(r4["resourceType"])
    return change(dict(r4)) if change else r4


def _composition(one: Resource) -> Resource:
    if one.pop("confidentiality", ""):
        meta = one.get("meta", {})
        restricted = coding(_CONFIDENTIALITY, "R", "restricted")
        one["meta"] = {**meta, "security": [*meta.get("security", ()), restricted]}
    related = [
        {"type": r["code"], "resourceReference": {"identifier": r["targetIdentifier"]}}
        for r in one.get("relatesTo", ())
    ]
    return {
        **one,
        "identifier": [one["identifier"]],
        "subject": [one["subject"]],
        "relatesTo": related,
    }


def _group(one: Resource) -> Resource:
    del one["actual"]
    return {**one, "membership": "enumerated"}


def _structure(one: Resource) -> Resource:
    qualifiers = one.pop("locationQualifier", [])
    sides = [said for said in qualifiers if said["text"] in _LATERALITY][:1]
    included = {
        "structure": one.pop("location"),
        "laterality": sides[0] if sides else {},
        "qualifier": [said for said in qualifiers if said not in sides],
    }
    return {**one, "includedStructure": [included]}


def _photograph(one: Resource) -> Resource:
    pixels = {name: one.pop(name) for name in ("height", "width") if name in one}
    site, who = one.pop("bodySite", None), one.pop("operator", None)
    content, taken = one.pop("content"), one.pop("createdDateTime", "")
    kept = one.pop("issued", "")
    return {
        **one,
        "resourceType": "DocumentReference",
        "status": "current",
        "date": kept,
        "author": [who] if who else [],
        "description": content.get("title", ""),
        "bodySite": [{"concept": site}] if site else [],
        "content": [{"attachment": {**content, "creation": taken, **pixels}}],
    }


_CHANGES: dict[str, Callable[[Resource], Resource]] = {
    "Composition": _composition,
    "Group": _group,
    "BodyStructure": _structure,
    "Media": _photograph,
}

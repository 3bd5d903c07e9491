"""Check that a protocol holds together; every fault is returned, none stops the rest.

Rules kept here: ids are unique words; every id that is referred to exists; every
number, scale and caution has a source; stages of life follow each other from birth;
every scope that contains a region has a claim to make about it; a claim is made only
in a scope that contains the region; what a volunteer reads has plain words; a claim is
a phrase that a sentence can hold, without its full stop.
"""

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.exam import fits_sex
from exam_app.domain.protocol.intervals import COMPUTED, ReferenceInterval
from exam_app.domain.protocol.protocol import (
    Caution,
    Choice,
    Clause,
    LifeStage,
    Region,
    Scope,
    Source,
    SpeciesProtocol,
    Term,
    Vital,
)
from exam_app.domain.protocol.scales import Scale, scale_problems
from exam_app.domain.protocol.urgent_signs import Trigger, UrgentSign
from exam_app.protocols.codec import Fault
from exam_app.protocols.validate_said import said_faults
from exam_app.protocols.validate_vitals import (
    VOLUNTEER_SCOPES,
    Keyed,
    interval_faults,
    met,
    sign_faults,
    vital_faults,
)

# What has an id of its own, and what of it must say something.
_TEXTS: dict[type, tuple[str, ...]] = {
    SpeciesProtocol: ("species", "label"),
    LifeStage: (),
    Region: ("label", "plain_label", "group"),
    Clause: (),
    Term: (),
    Vital: (),
    Choice: (),
    Scale: (),
    ReferenceInterval: (),
    UrgentSign: ("label", "plain", "action"),
    Caution: ("text",),
    Source: ("title",),
}
_LISTS: dict[type, tuple[str, ...]] = {
    SpeciesProtocol: ("life_stages", "regions", "vitals"),
    Region: ("scopes", "terms"),
    Vital: ("scopes",),
}
_WORD = re.compile(r"[a-z0-9][a-z0-9_]*")
_SIDES = ((), ("left", "right"))
_SEXES = frozenset({"male", "female"})


def check_protocol(name: str, protocol: SpeciesProtocol) -> tuple[Fault, ...]:
    """Return every fault of a protocol.

    Args:
        name: File name, for the faults.
        protocol: A protocol whose values have the right kinds.
    """
    found = (
        *_part_faults(protocol),
        *_stage_faults(protocol),
        *_region_faults(protocol),
        *vital_faults(protocol),
        *said_faults(protocol),
        *interval_faults(protocol),
        *sign_faults(protocol),
    )
    return tuple(Fault(name, key, reason) for key, reason in found)


def _parts(whole: Any, key: str = "") -> Iterator[tuple[str, Any]]:  # noqa: ANN401
    """Yield every table below one, at any depth, with its key as the file has it."""
    for field in fields(whole):
        found = getattr(whole, field.name)
        for part in found if isinstance(found, tuple) else (found,):
            if is_dataclass(part):
                named = f"({_id_of(part)})" if type(part) in _TEXTS else ""
                yield f"{key}{field.name}{named}", part
                yield from _parts(part, f"{key}{field.name}{named}.")


def _id_of(part: Any) -> str:  # noqa: ANN401 - any table; its id comes first
    return str(getattr(part, fields(part)[0].name))


def _part_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield what any table can have: ids, empty words, sexes, sources."""
    if protocol.version < 1:
        yield "version", "starts at 1"
    for word in (protocol.protocol_id, protocol.species):
        if not _WORD.fullmatch(word):
            yield "protocol_id", f"{word!r} is no id: small letters, digits, _"
    provenances = {source.source_id: source.provenance for source in protocol.sources}
    for key, part in (("", protocol), *_parts(protocol)):
        start = f"{key}." if key else ""
        found = (*_field_faults(part), *_source_faults(part, provenances))
        yield from ((f"{start}{name}", why) for name, why in found)
        if isinstance(part, Scale):
            yield from _scale_faults(key, part)


def _field_faults(part: Any) -> Iterator[Keyed]:  # noqa: ANN401 - any table
    for field in fields(part):
        found = getattr(part, field.name)
        if field.name in _TEXTS.get(type(part), ()) and not found.strip():
            yield field.name, "empty"
        if field.name in _LISTS.get(type(part), ()) and not found:
            yield field.name, "none given"
        if isinstance(found, tuple) and found and type(found[0]) in _TEXTS:
            ids = [_id_of(one) for one in found]
            yield from ((field.name, why) for why in _id_faults(ids))
    if isinstance(part, Region | UrgentSign) and not _SEXES.issuperset(part.sexes):
        yield "sexes", "are male, female, or none"


def _id_faults(ids: list[str]) -> Iterator[str]:
    for word in sorted(set(ids)):
        if ids.count(word) > 1:
            yield f"id {word} appears more than once"
        if not _WORD.fullmatch(word):
            yield f"{word!r} is no id: small letters, digits, _"


def _source_faults(part: Any, known: dict[str, str]) -> Iterator[Keyed]:  # noqa: ANN401
    """Yield what is wrong with where a table's numbers and words come from.

    Args:
        known: Whether each source was read or recalled, by id.
    """
    told = getattr(part, "provenance", "")
    if isinstance(part, Source | Scale) and told not in {"read", "memory"}:
        yield "provenance", "is neither read nor memory"
    is_citing = hasattr(part, "source_id") and not isinstance(part, Source)
    cited: tuple[str, ...] = (part.source_id,) if is_citing else ()
    if isinstance(part, ReferenceInterval):
        cited = part.every_source()
    for source_id in cited:
        if source_id not in known and (source_id or not isinstance(part, Trigger)):
            yield "source_id", f"no source {source_id!r}"
    recalled = [known.get(source_id) == "memory" for source_id in cited]
    yield from met(
        (
            told == "read" and any(recalled[:1]),
            ("provenance", "read, though its source is only recalled"),
        ),
        (
            told == COMPUTED and any(recalled),
            ("provenance", "computed, though a source of it is only recalled"),
        ),
    )


def _scale_faults(key: str, scale: Scale) -> Iterator[Keyed]:
    yield from ((key, reason) for reason in scale_problems(scale))
    if not scale.label.strip() or not scale.plain_label.strip():
        yield key, "label or plain label empty"
    if not all(rule.ends.strip() for rule in scale.conversions):
        yield f"{key}.conversions", "names no ends of the other scale"


def _stage_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    expected: int | None = 0
    for stage in protocol.life_stages:
        key = f"life_stages({stage.stage_id})"
        if stage.from_days != expected:
            yield f"{key}.from_days", "does not begin where the stage before it ends"
        if stage.until_days is not None and stage.until_days <= stage.from_days:
            yield f"{key}.until_days", "ends before it begins"
        expected = stage.until_days
    if protocol.life_stages and expected is not None:
        yield "life_stages", "the last stage has an end"


def _region_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    finds = {f"{r.region_id}/{t.term_id}" for r in protocol.regions for t in r.terms}
    groups: list[str] = []
    for region in protocol.regions:
        key = f"regions({region.region_id})"
        if region.group in groups[:-1]:
            yield f"{key}.group", f"{region.group!r} is interrupted by another group"
        if region.group not in groups[-1:]:
            groups.append(region.group)
        if Scope.FOCUSED in region.scopes:
            told = "a focused exam chooses its regions, no region names it"
            yield f"{key}.scopes", told
        if region.sides not in _SIDES:
            yield f"{key}.sides", "are left and right, in this order, or none"
        yield from ((f"{key}.clauses", why) for why in _unclaimed(region))
        for clause in region.clauses:
            part = f"{key}.clauses({clause.clause_id})"
            yield from ((part, why) for why in _clause_faults(clause, region))
            unknown = (n for n in clause.denied_by if not _denies(n, finds, protocol))
            yield from (
                (part, f"denied by nothing known: {name!r}") for name in unknown
            )
        for term in region.terms:
            part = f"{key}.terms({term.term_id})"
            yield from ((part, why) for why in _term_faults(term, region, protocol))


def _unclaimed(region: Region) -> Iterator[str]:
    """Yield the scopes, or their sexes, in which nothing is said of the part."""
    for scope in region.scopes:
        clauses = [clause for clause in region.clauses if scope in clause.scopes]
        if not clauses:
            yield f"no claim for the scope {scope.value}"
            continue
        for sex in Sex:
            has_part = not region.sexes or not sex.kind or sex.kind in region.sexes
            if has_part and not any(fits_sex(c, region, sex) for c in clauses):
                yield f"no claim for the scope {scope.value} and sex {sex.value!r}"


def _clause_faults(clause: Clause, region: Region) -> Iterator[str]:
    spoken = (clause.text.rstrip(), clause.plain.rstrip())
    is_plain = VOLUNTEER_SCOPES.isdisjoint(clause.scopes) or clause.plain.strip()
    outside = [scope for scope in clause.scopes if scope not in region.scopes]
    yield from (f"scope {scope.value} does not contain the region" for scope in outside)
    yield from met(
        (not clause.scopes, "holds in no scope"),
        (not is_plain, "no plain words for volunteers"),
        (not clause.text.strip(), "no text"),
        (
            any(text.endswith((".", ";")) for text in spoken),
            "ends with a full stop or semicolon",
        ),
        (not _SEXES.issuperset(clause.sexes), "sexes are male, female, or none"),
        (clause.neutered not in {"", "yes", "no"}, "neutered is yes, no, or empty"),
        (
            bool(clause.caution) and not clause.opt_in,
            "a caution stands beside what is opted in",
        ),
    )


def _denies(name: str, finds: set[str], protocol: SpeciesProtocol) -> bool:
    """Whether a name of ``denied_by`` is a find or an answer of the protocol."""
    kind, _, rest = name.partition("/")
    is_vital = kind == "vital" and protocol.vital(rest.partition("/")[0]) is not None
    return is_vital or name in finds


def _term_faults(
    term: Term, region: Region, protocol: SpeciesProtocol
) -> Iterator[str]:
    scale, sign = protocol.scale(term.scale_id), term.urgent_sign_id
    grades = {grade.value for grade in scale.grades} if scale else set()
    known = {clause.clause_id for clause in region.clauses}
    is_plain = VOLUNTEER_SCOPES.isdisjoint(region.scopes) or term.plain.strip()
    first = term.urgent_from
    yield from met(
        (not term.label.strip(), "no label"),
        (not is_plain, "no plain words for volunteers"),
        (bool(term.scale_id) and scale is None, f"no scale {term.scale_id!r}"),
        (bool(sign) and protocol.sign(sign) is None, f"no urgent sign {sign!r}"),
        (
            bool(first or term.urgent_qualities) and not sign,
            "names when it is urgent, but no urgent sign",
        ),
        (
            bool(first) and first not in grades,
            f"urgent_from: no grade {first!r} of its scale",
        ),
        *(
            (word not in term.qualities, f"urgent_qualities: no quality {word!r}")
            for word in term.urgent_qualities
        ),
        *((word not in known, f"negates no claim {word!r}") for word in term.negates),
    )
    for part in ("qualities", "places"):
        words = getattr(term, part)
        if len(set(words)) < len(words) or not all(word.strip() for word in words):
            yield f"{part} are empty or repeated"

"""Check the regions of a protocol: sides, sexes, sentences, plain words, references.

Rules kept here: every scope that contains a region has a claim to make about it; a
claim is made only in a scope that contains the region; what a volunteer reads has
plain words; a claim is a phrase that a sentence can hold, without its full stop.
"""

from collections.abc import Iterator

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.claims import fits_sex
from exam_app.domain.protocol.protocol import (
    Clause,
    Region,
    Scope,
    SpeciesProtocol,
    Term,
)

Keyed = tuple[str, str]
VOLUNTEER_SCOPES = frozenset({Scope.INTAKE, Scope.GROUP})
SIDES = ((), ("left", "right"))
SEXES = frozenset({"male", "female"})
NEUTERED = ("", "yes", "no")


def region_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield every fault of the regions, as key and reason."""
    yield from _group_faults(protocol)
    for region in protocol.regions:
        key = f"regions({region.region_id})"
        yield from ((f"{key}.{part}", why) for part, why in _shape_faults(region))
        for scope in region.scopes:
            if not any(scope in clause.scopes for clause in region.clauses):
                yield f"{key}.clauses", f"no claim for the scope {scope.value}"
                continue
            for sex in _sexes_without_claim(region, scope):
                told = f"no claim for the scope {scope.value} and sex {sex.value!r}"
                yield f"{key}.clauses", told
        for clause in region.clauses:
            part = f"{key}.clauses({clause.clause_id})"
            yield from ((part, why) for why in _clause_faults(clause, region))
            yield from ((part, why) for why in _denial_faults(clause, protocol))
        for term in region.terms:
            part = f"{key}.terms({term.term_id})"
            yield from ((part, why) for why in _term_faults(term, region, protocol))


def _sexes_without_claim(region: Region, scope: Scope) -> Iterator[Sex]:
    """Yield the sexes an animal with this part can have of which nothing is said."""
    for sex in Sex:
        has_part = not region.sexes or not sex.kind or sex.kind in region.sexes
        if has_part and not any(
            scope in clause.scopes and fits_sex(clause, region, sex)
            for clause in region.clauses
        ):
            yield sex


def _group_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    seen: list[str] = []
    for region in protocol.regions:
        if region.group in seen[:-1]:
            yield (
                f"regions({region.region_id}).group",
                f"{region.group!r} is interrupted by another group",
            )
        if not seen or seen[-1] != region.group:
            seen.append(region.group)


def _shape_faults(region: Region) -> Iterator[Keyed]:
    for part in ("label", "plain_label", "group"):
        if not getattr(region, part).strip():
            yield part, "empty"
    if not region.scopes:
        yield "scopes", "none given"
    if Scope.FOCUSED in region.scopes:
        yield "scopes", "a focused exam chooses its regions, no region names it"
    if region.sides not in SIDES:
        yield "sides", "are left and right, in this order, or none"
    if not set(region.sexes) <= SEXES:
        yield "sexes", "are male, female, or none"
    if not region.terms:
        yield "terms", "none given"


def _is_for_volunteers(scopes: tuple[Scope, ...]) -> bool:
    return not VOLUNTEER_SCOPES.isdisjoint(scopes)


def _clause_faults(clause: Clause, region: Region) -> Iterator[str]:
    if not clause.scopes:
        yield "holds in no scope"
    for scope in clause.scopes:
        if scope not in region.scopes:
            yield f"scope {scope.value} does not contain the region"
    if _is_for_volunteers(clause.scopes) and not clause.plain.strip():
        yield "no plain words for volunteers"
    if not clause.text.strip():
        yield "no text"
    if any(text.rstrip().endswith((".", ";")) for text in (clause.text, clause.plain)):
        yield "ends with a full stop or semicolon"
    yield from _condition_faults(clause)


def _condition_faults(clause: Clause) -> Iterator[str]:
    if not set(clause.sexes) <= SEXES:
        yield "sexes are male, female, or none"
    if clause.neutered not in NEUTERED:
        yield "neutered is yes, no, or empty"
    if clause.caution and not clause.opt_in:
        yield "a caution stands beside what is opted in"


def _denial_faults(clause: Clause, protocol: SpeciesProtocol) -> Iterator[str]:
    """Yield what of ``denied_by`` names no find and no answer of the protocol."""
    finds = {f"{r.region_id}/{t.term_id}" for r in protocol.regions for t in r.terms}
    vitals = {vital.vital_id for vital in protocol.vitals}
    for name in clause.denied_by:
        kind, _, rest = name.partition("/")
        is_vital = kind == "vital" and rest.partition("/")[0] in vitals
        if name not in finds and not is_vital:
            yield f"denied by nothing known: {name!r}"


def _term_faults(
    term: Term, region: Region, protocol: SpeciesProtocol
) -> Iterator[str]:
    if not term.label.strip():
        yield "no label"
    if _is_for_volunteers(region.scopes) and not term.plain.strip():
        yield "no plain words for volunteers"
    if term.scale_id and protocol.scale(term.scale_id) is None:
        yield f"no scale {term.scale_id!r}"
    if term.urgent_sign_id and protocol.sign(term.urgent_sign_id) is None:
        yield f"no urgent sign {term.urgent_sign_id!r}"
    yield from _opening_faults(term, protocol)
    known = {clause.clause_id for clause in region.clauses}
    yield from (
        f"negates no claim {word!r}" for word in term.negates if word not in known
    )
    for part in ("qualities", "places"):
        words = getattr(term, part)
        if len(set(words)) < len(words) or not all(word.strip() for word in words):
            yield f"{part} are empty or repeated"


def _opening_faults(term: Term, protocol: SpeciesProtocol) -> Iterator[str]:
    """Yield what is wrong with the condition under which a term opens its sign."""
    if (term.urgent_from or term.urgent_qualities) and not term.urgent_sign_id:
        yield "names when it is urgent, but no urgent sign"
    for word in term.urgent_qualities:
        if word not in term.qualities:
            yield f"urgent_qualities: no quality {word!r}"
    scale = protocol.scale(term.scale_id)
    grades = {grade.value for grade in scale.grades} if scale else set()
    if term.urgent_from and term.urgent_from not in grades:
        yield f"urgent_from: no grade {term.urgent_from!r} of its scale"

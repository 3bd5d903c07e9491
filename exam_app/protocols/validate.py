"""Check that a protocol holds together; every fault is returned, none stops the rest.

Rules kept here: ids are unique words; every id that is referred to exists; every
number, scale and caution has a source; stages of life follow each other from birth.
The rules of regions, and of vitals and their limits, are in modules of their own.
"""

import re
from collections.abc import Iterable, Iterator

from exam_app.domain.protocol.intervals import COMPUTED, ReferenceInterval
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.protocol.scales import Scale, scale_problems
from exam_app.protocols.codec import Fault
from exam_app.protocols.validate_regions import region_faults
from exam_app.protocols.validate_vitals import (
    interval_faults,
    sign_faults,
    vital_faults,
)

Keyed = tuple[str, str]
PROVENANCES = ("read", "memory")
_WORD = re.compile(r"[a-z0-9][a-z0-9_]*")


def check_protocol(name: str, protocol: SpeciesProtocol) -> tuple[Fault, ...]:
    """Return every fault of a protocol, in the order of the file.

    Args:
        name: File name, for the faults.
        protocol: A protocol whose values have the right kinds.
    """
    found = (
        *_head_faults(protocol),
        *_id_faults(protocol),
        *_stage_faults(protocol),
        *region_faults(protocol),
        *vital_faults(protocol),
        *_scale_faults(protocol),
        *interval_faults(protocol),
        *sign_faults(protocol),
        *_source_faults(protocol),
        *_provenance_faults(protocol),
    )
    return tuple(Fault(name, key, reason) for key, reason in found)


def _head_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    if protocol.version < 1:
        yield "version", "starts at 1"
    for key in ("species", "label"):
        if not getattr(protocol, key).strip():
            yield key, "empty"
    for key in ("life_stages", "regions", "vitals"):
        if not getattr(protocol, key):
            yield key, "none given"


def _ids(protocol: SpeciesProtocol) -> Iterator[tuple[str, list[str]]]:
    """Yield every list of ids that must differ, with its key."""
    yield "life_stages", [stage.stage_id for stage in protocol.life_stages]
    yield "regions", [region.region_id for region in protocol.regions]
    for region in protocol.regions:
        key = f"regions({region.region_id})"
        yield f"{key}.clauses", [clause.clause_id for clause in region.clauses]
        yield f"{key}.terms", [term.term_id for term in region.terms]
    yield "vitals", [vital.vital_id for vital in protocol.vitals]
    for vital in protocol.vitals:
        key = f"vitals({vital.vital_id}).choices"
        yield key, [choice.value for choice in vital.choices]
    yield "scales", [scale.scale_id for scale in protocol.scales]
    yield "intervals", [row.interval_id for row in protocol.intervals]
    yield "urgent_signs", [sign.sign_id for sign in protocol.urgent_signs]
    yield "cautions", [caution.caution_id for caution in protocol.cautions]
    yield "sources", [source.source_id for source in protocol.sources]


def _id_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    for word in (protocol.protocol_id, protocol.species):
        if not _WORD.fullmatch(word):
            yield "protocol_id", f"{word!r} is no id: small letters, digits, _"
    for key, words in _ids(protocol):
        yield from ((key, f"id {w} appears more than once") for w in _repeated(words))
        yield from (
            (key, f"{word!r} is no id: small letters, digits, _")
            for word in words
            if not _WORD.fullmatch(word)
        )


def _repeated(words: Iterable[str]) -> tuple[str, ...]:
    listed = list(words)
    return tuple(sorted({word for word in listed if listed.count(word) > 1}))


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


def _scale_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    for scale in protocol.scales:
        key = f"scales({scale.scale_id})"
        yield from ((key, reason) for reason in scale_problems(scale))
        if not scale.label.strip() or not scale.plain_label.strip():
            yield key, "label or plain label empty"
        if scale.provenance not in PROVENANCES:
            yield f"{key}.provenance", "is neither read nor memory"
        if not all(rule.ends.strip() for rule in scale.conversions):
            yield f"{key}.conversions", "names no ends of the other scale"


def _named_sources(protocol: SpeciesProtocol) -> Iterator[tuple[str, str]]:
    yield from ((f"regions({r.region_id})", r.source_id) for r in protocol.regions)
    yield from ((f"vitals({v.vital_id})", v.source_id) for v in protocol.vitals)
    yield from (
        (f"vitals({v.vital_id}).measure.plausible", limits.source_id)
        for v in protocol.vitals
        if v.measure
        for limits in v.measure.plausible
    )
    yield from ((f"scales({s.scale_id})", s.source_id) for s in protocol.scales)
    yield from (
        (f"scales({s.scale_id}).conversions", rule.source_id)
        for s in protocol.scales
        for rule in s.conversions
    )
    yield from (
        (f"intervals({row.interval_id})", source_id)
        for row in protocol.intervals
        for source_id in row.every_source()
    )
    yield from (
        (f"urgent_signs({s.sign_id})", s.source_id) for s in protocol.urgent_signs
    )
    yield from (
        (f"urgent_signs({sign.sign_id}).triggers", trigger.source_id)
        for sign in protocol.urgent_signs
        for trigger in sign.triggers
        if trigger.source_id
    )
    yield from ((f"cautions({c.caution_id})", c.source_id) for c in protocol.cautions)


def _source_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    read = {source.source_id: source.provenance for source in protocol.sources}
    for key, source_id in _named_sources(protocol):
        if source_id not in read:
            yield f"{key}.source_id", f"no source {source_id!r}"
    for source in protocol.sources:
        key = f"sources({source.source_id})"
        if not source.title.strip():
            yield f"{key}.title", "empty"
        if source.provenance not in PROVENANCES:
            yield f"{key}.provenance", "is neither read nor memory"
    for caution in protocol.cautions:
        if not caution.text.strip():
            yield f"cautions({caution.caution_id}).text", "empty"


def _provenance_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    recalled = {s.source_id for s in protocol.sources if s.provenance == "memory"}
    claims: tuple[tuple[str, str, Scale | ReferenceInterval], ...] = (
        *(("scales", s.scale_id, s) for s in protocol.scales),
        *(("intervals", i.interval_id, i) for i in protocol.intervals),
    )
    for kind, name, claim in claims:
        if claim.provenance == "read" and claim.source_id in recalled:
            key = f"{kind}({name}).provenance"
            yield key, "read, though its source is only recalled"
    for row in protocol.intervals:
        if row.provenance == COMPUTED and recalled.intersection(row.every_source()):
            key = f"intervals({row.interval_id}).provenance"
            yield key, "computed, though a source of it is only recalled"

"""Everything of a species that rests on a source, and what has none, as lists to read.

Nothing here draws. Every list names who printed what, when, and whether it was read or
recalled; what is missing is the protocol's own list.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from exam_app.domain.measure.conversion import plain_number, with_unit
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.intervals import COMPUTED, ReferenceInterval
from exam_app.domain.protocol.limits import Limits, range_text
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital
from exam_app.domain.wording.phrases import capital
from exam_app.domain.wording.source_words import cited, whole_source
from exam_app.language.catalogue import tr, tr_plural
from exam_app.protocols.loader import (
    pregnancy_windows,
    table_sources,
    weight_tables,
)

# The range, the scale, the sign or the caution; and its sources in full, with what a
# reader should know besides.
SourcedLine = tuple[str, str]


@dataclass(frozen=True, slots=True)
class SourcedList:
    """One kind of things; ``key`` names it in identifiers.

    Attributes:
        counted: How many there are of what: ``18 ranges``.
    """

    key: str
    title: str
    lines: tuple[SourcedLine, ...]
    counted: str


def sourced_lists(protocol: SpeciesProtocol) -> tuple[SourcedList, ...]:
    """Return every list of a species that is not empty, in the order shown."""
    scales = tuple(
        (
            tr(scale.label),
            cited(
                protocol,
                (scale.source_id, *(rule.source_id for rule in scale.conversions)),
                scale.provenance,
            ),
        )
        for scale in protocol.scales
    )
    signs = tuple(
        (tr(s.label), cited(protocol, s.every_source())) for s in protocol.urgent_signs
    )
    cautions = tuple(
        (tr(c.text), cited(protocol, (c.source_id,))) for c in protocol.cautions
    )
    named = sorted(protocol.sources, key=lambda source: source.title.casefold())
    sources = tuple((source.title, whole_source(source)) for source in named)
    ranges, tables = tuple(_ranges(protocol)), tuple(_tables(protocol))
    expected = tuple(_expected(protocol))
    made = (
        SourcedList(
            "ranges",
            tr("Published ranges"),
            ranges,
            tr_plural("{count} range", "{count} ranges", len(ranges)),
        ),
        SourcedList(
            "scales",
            tr("Scales"),
            scales,
            tr_plural("{count} scale", "{count} scales", len(scales)),
        ),
        SourcedList(
            "signs",
            tr("Urgent signs"),
            signs,
            tr_plural("{count} sign", "{count} signs", len(signs)),
        ),
        SourcedList(
            "cautions",
            tr("Cautions"),
            cautions,
            tr_plural("{count} caution", "{count} cautions", len(cautions)),
        ),
        SourcedList(
            "expected",
            tr("Expected when typing"),
            expected,
            tr_plural(
                "{count} span within which nothing is asked again",
                "{count} spans within which nothing is asked again",
                len(expected),
            ),
        ),
        SourcedList(
            "tables",
            tr("Tape rules and pregnancies"),
            tables,
            tr_plural(
                "{count} rule or length", "{count} rules and lengths", len(tables)
            ),
        ),
        SourcedList(
            "sources",
            tr("All sources"),
            sources,
            tr_plural("{count} source", "{count} sources", len(sources)),
        ),
    )
    return tuple(found for found in made if found.lines)


def counted_sources(protocol: SpeciesProtocol) -> str:
    """Say how many sources were read and how many recalled."""
    read = sum(source.provenance == "read" for source in protocol.sources)
    recalled = len(protocol.sources) - read
    return tr(
        "{count} sources read, {recalled} recalled", count=read, recalled=recalled
    )


def _ranges(protocol: SpeciesProtocol) -> Iterator[SourcedLine]:
    for vital in protocol.vitals:
        for row in protocol.intervals:
            if vital.measure and row.measure_id == vital.measure.measure_id:
                label = vital.measure.label_of(row.unit)
                yield _range(protocol, vital, row, label)


def _range(
    protocol: SpeciesProtocol, vital: Vital, row: ReferenceInterval, unit: str
) -> SourcedLine:
    labels = {stage.stage_id: stage.label for stage in protocol.life_stages}
    held = [tr(labels.get(s, s)) for s in row.life_stages] or [tr("any age")]
    held += [*map(tr, row.settings), *map(tr, row.states)]
    ends = range_text(Limits(row.low, row.high), unit)
    about = (
        tr("Worked out by us from:") if row.provenance == COMPUTED else "",
        cited(protocol, row.every_source(), row.provenance),
        f"{capital(tr(row.note))}." if row.note else "",
        tr("Far off the others: it takes no flag away by itself.")
        if row.far_off
        else "",
    )
    return (
        f"{tr(vital.label)}: {ends} ({', '.join(held)})",
        " ".join(part for part in about if part),
    )


def _expected(protocol: SpeciesProtocol) -> Iterator[SourcedLine]:
    for vital in protocol.vitals:
        measure = vital.measure
        if measure is None or measure.plausible_high is None:
            continue
        any_age = _span(measure, "")
        yield (
            f"{tr(vital.label)}: {any_age}",
            tr(
                "Common practice, no source. Wide on purpose: beyond it the typing is "
                "asked about again, nothing is flagged."
            ),
        )
        for stage in protocol.life_stages:
            for limits in measure.plausible:
                if stage.stage_id in limits.life_stages:
                    yield (
                        f"{tr(vital.label)}, {tr(stage.label)}: "
                        f"{_span(measure, stage.stage_id)}",
                        cited(protocol, (limits.source_id,)),
                    )


def _span(measure: Measure, life_stage: str) -> str:
    low, high = measure.expected_at(life_stage)
    start = plain_number(low) if low is not None else "0"
    end = plain_number(high) if high is not None else ""
    return with_unit(f"{start}–{end}", measure.label_of(measure.unit))


def _tables(protocol: SpeciesProtocol) -> Iterator[SourcedLine]:
    sources, tables = table_sources(), weight_tables()
    for rule in tables.for_species(protocol.species):
        about = f"{whole_source(sources[rule.source_id])} {tr(rule.error)}"
        yield (
            tr(
                "Tape: {label} ({population})",
                label=tr(rule.label),
                population=tr(rule.population),
            ),
            about,
        )
    for window in pregnancy_windows(protocol.species):
        about = whole_source(sources[window.source_id])
        days = tr("{low} to {high} days", low=window.low_days, high=window.high_days)
        if window.low_days is None:
            days = tr(
                "about {count} days, one number without a window",
                count=window.mean_days,
            )
        note = f" ({tr(window.note)})" if window.note else ""
        length = tr("Pregnancy: {days}", days=days)
        yield f"{length}{note}", about

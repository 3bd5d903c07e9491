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
from exam_app.domain.wording.count_words import count_words
from exam_app.domain.wording.phrases import capital
from exam_app.domain.wording.source_words import cited, whole_source
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
        noun: What one of its lines is; ``nouns`` of several, if not with an "s".
    """

    key: str
    title: str
    lines: tuple[SourcedLine, ...]
    noun: str
    nouns: str = ""

    @property
    def counted(self) -> str:
        """Say how many there are of what: ``18 ranges``."""
        return count_words(len(self.lines), self.noun, self.nouns)


def sourced_lists(protocol: SpeciesProtocol) -> tuple[SourcedList, ...]:
    """Return every list of a species that is not empty, in the order shown."""
    scales = (
        (
            scale.label,
            cited(
                protocol,
                (scale.source_id, *(rule.source_id for rule in scale.conversions)),
                scale.provenance,
            ),
        )
        for scale in protocol.scales
    )
    signs = (
        (s.label, cited(protocol, s.every_source())) for s in protocol.urgent_signs
    )
    cautions = ((c.text, cited(protocol, (c.source_id,))) for c in protocol.cautions)
    sources = sorted(protocol.sources, key=lambda source: source.title.casefold())
    made = (
        SourcedList("ranges", "Published ranges", tuple(_ranges(protocol)), "range"),
        SourcedList("scales", "Scales", tuple(scales), "scale"),
        SourcedList("signs", "Urgent signs", tuple(signs), "sign"),
        SourcedList("cautions", "Cautions", tuple(cautions), "caution"),
        SourcedList(
            "expected",
            "Expected when typing",
            tuple(_expected(protocol)),
            "span within which nothing is asked again",
            "spans within which nothing is asked again",
        ),
        SourcedList(
            "tables",
            "Tape rules and pregnancies",
            tuple(_tables(protocol)),
            "rule or length",
            "rules and lengths",
        ),
        SourcedList(
            "sources",
            "All sources",
            tuple((source.title, whole_source(source)) for source in sources),
            "source",
        ),
    )
    return tuple(found for found in made if found.lines)


def counted_sources(protocol: SpeciesProtocol) -> str:
    """Say how many sources were read and how many recalled."""
    read = sum(source.provenance == "read" for source in protocol.sources)
    recalled = len(protocol.sources) - read
    return f"{read} sources read, {recalled} recalled"


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
    held = [labels.get(stage, stage) for stage in row.life_stages] or ["any age"]
    held += [*row.settings, *row.states]
    ends = range_text(Limits(row.low, row.high), unit)
    about = (
        "Worked out by us from:" if row.provenance == COMPUTED else "",
        cited(protocol, row.every_source(), row.provenance),
        f"{capital(row.note)}." if row.note else "",
        "Far off the others: it takes no flag away by itself." if row.far_off else "",
    )
    return (
        f"{vital.label}: {ends} ({', '.join(held)})",
        " ".join(part for part in about if part),
    )


def _expected(protocol: SpeciesProtocol) -> Iterator[SourcedLine]:
    for vital in protocol.vitals:
        measure = vital.measure
        if measure is None or measure.plausible_high is None:
            continue
        any_age = _span(measure, "")
        yield (
            f"{vital.label}: {any_age}",
            "Common practice, no source. Wide on purpose: beyond it the typing is "
            "asked about again, nothing is flagged.",
        )
        for stage in protocol.life_stages:
            for limits in measure.plausible:
                if stage.stage_id in limits.life_stages:
                    yield (
                        f"{vital.label}, {stage.label}: "
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
        about = f"{whole_source(sources[rule.source_id])} {rule.error}"
        yield f"Tape: {rule.label} ({rule.population})", about
    for window in pregnancy_windows(protocol.species):
        about = whole_source(sources[window.source_id])
        days = f"{window.low_days} to {window.high_days} days"
        if window.low_days is None:
            days = f"about {window.mean_days} days, one number without a window"
        note = f" ({window.note})" if window.note else ""
        yield f"Pregnancy: {days}{note}", about

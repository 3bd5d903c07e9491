"""A demonstration weight by tape: the published rule makes it, the note says which."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.weight_rules import estimate_weight, how_estimated
from exam_app.protocols.published_tables import table_sources, weight_tables


def taped(entry: VitalEntry, told: Mapping[str, str]) -> VitalEntry:
    """Return an entry with the weight a tape gives, marked as an estimate.

    Args:
        told: ``rule``, the id of a published rule, and its lengths in centimetres.

    Raises:
        TapeError: A length of the rule is missing.
    """
    rule = next(r for r in weight_tables().rules if r.rule_id == told["rule"])
    lengths = {
        name: Reading(told[name], "cm", Decimal(told[name])) for name in rule.measures
    }
    estimate = estimate_weight(rule, lengths)
    source = table_sources()[rule.source_id].title
    return replace(
        entry,
        reading=Reading(f"{estimate.kg:f}", "kg", estimate.kg),
        is_estimate=True,
        note=how_estimated(estimate, lengths, source),
    )

"""Vitals and regions as observations, each with its value or its honest reason.

A number stands as typed, in the unit typed. A flag stays what it is: the ranges that
were compared with their sources, and at most the words "outside the published range".
What was not examined has no value and says why; nothing here reads as normal that an
examiner did not say.
"""

from collections.abc import Iterator

from exam_app.domain.exam.exam import keys_in_scope, vitals_in_scope, words_for
from exam_app.domain.exam.region_states import RegionEntry, RegionState
from exam_app.domain.exam.review import region_label
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.lumps.lump_history import lump_line
from exam_app.domain.measure.counting import rate
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.intervals import Flag, ReferenceInterval, source_text
from exam_app.domain.protocol.limits import Limits, range_text
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital, split_key
from exam_app.domain.wording.exam_wording import (
    describe_finding,
    describe_value,
    describe_vital,
    join_words,
)
from exam_app.domain.wording.region_wording import rest_words
from exam_app.domain.wording.written_record import OUTSIDE
from exam_app.export.fhir_findings import finding_reference
from exam_app.export.fhir_shapes import (
    EXAM,
    VITAL_SIGNS,
    Exported,
    Resource,
    absent,
    concept,
    quantity,
    vital_concept,
    worded,
)

_EXAMINED = (
    RegionState.NO_ABNORMALITY,
    RegionState.WITH_FINDINGS,
    RegionState.PARTLY,
    RegionState.RESULT,
)


def vital_observations(exported: Exported) -> Iterator[Resource]:
    """Yield one observation for each vital that has a value or a reason."""
    for vital in vitals_in_scope(exported.exam, exported.protocol):
        entry = exported.exam.vital(vital.vital_id)
        if entry.is_answered:
            yield _vital(exported, vital, entry)


def _vital(exported: Exported, vital: Vital, entry: VitalEntry) -> Resource:
    written = describe_vital(entry, vital, exported.protocol, exported.exam)
    return {
        **exported.resource("Observation", f"vital/{vital.vital_id}"),
        "status": exported.status,
        "category": [VITAL_SIGNS],
        "code": vital_concept(vital, entry),
        "subject": exported.subject(),
        **exported.seen(entry.attribution, was_done=entry.has_value),
        **_value(entry, vital, exported.protocol),
        "interpretation": _interpretation(entry.flag),
        "note": [{"text": written}, *exported.corrected(vital.label)],
        "bodySite": concept(entry.site),
        "method": concept(_method(entry)),
        "referenceRange": _ranges(entry.flag, vital.measure, exported.protocol),
        "component": _beside(entry),
    }


def _value(entry: VitalEntry, vital: Vital, protocol: SpeciesProtocol) -> Resource:
    if entry.reading and vital.measure:
        number = quantity(entry.reading.value, entry.reading.unit, vital.measure)
        return {"valueQuantity": number}
    if entry.has_value:
        words = describe_value(entry, vital, protocol)
        return {"valueCodeableConcept": concept(words)}
    return {"dataAbsentReason": absent(entry.reason)}


def _method(entry: VitalEntry) -> str:
    counted = f"counted {rate(entry.evidence).basis}" if entry.evidence else ""
    return join_words(counted, "estimate" if entry.is_estimate else "")


def _interpretation(flag: Flag | None) -> list[Resource]:
    if flag is None or flag.level not in OUTSIDE:
        return []
    if flag.lines:
        return [concept(flag.summary.partition(": ")[2])]
    ranges = "range" if len(flag.interval_ids) == 1 else "ranges"
    return [concept(f"outside the published {ranges}")]


def _ranges(
    flag: Flag | None, measure: Measure | None, protocol: SpeciesProtocol
) -> list[Resource]:
    """Return the ranges that were compared, as published, in the order shown."""
    if flag is None or measure is None:
        return []
    rows = {row.interval_id: row for row in protocol.intervals}
    titles = protocol.source_titles()
    shown = (rows[row_id] for row_id in flag.interval_ids if row_id in rows)
    return [_range(row, measure, titles) for row in shown]


def _range(
    row: ReferenceInterval, measure: Measure, titles: dict[str, str]
) -> Resource:
    source = source_text(row, titles)
    checked = "; read" * (row.provenance == "read")
    ends = range_text(Limits(row.low, row.high), measure.label_of(row.unit))
    return {
        "low": None if row.low is None else quantity(row.low, row.unit, measure),
        "high": None if row.high is None else quantity(row.high, row.unit, measure),
        "text": f"{ends} ({source}{checked})",
    }


def _beside(entry: VitalEntry) -> list[Resource]:
    """Return what was said beside the value: state, rhythm, beats felt, words."""
    words = ", ".join(entry.words) if entry.reading else ""
    labelled = (
        ("State while it was taken", entry.state.value if entry.state else ""),
        ("Rhythm", entry.rhythm),
        ("Every beat felt", entry.beats_felt),
        ("In words", words),
    )
    return [worded(label, text) for label, text in labelled if text]


def region_observations(exported: Exported) -> Iterator[Resource]:
    """Yield one observation for each part of this exam, head to tail."""
    exam = exported.exam
    asked = keys_in_scope(exam, exported.protocol)
    for key in (*asked, *(key for key in exam.regions if key not in asked)):
        yield _region(exported, key, exam.entry(key))


def _region(exported: Exported, key: str, entry: RegionEntry) -> Resource:
    label = region_label(exported.protocol, key, words_for(exported.exam))
    remark = f"Noted, not abnormal: {entry.remark}" if entry.remark else ""
    over_time = [lump_line(exported.exam, key, found) for found in entry.findings]
    notes = [remark, *over_time]
    return {
        **exported.resource("Observation", f"region/{key}"),
        "status": exported.status,
        "category": [EXAM],
        "code": concept(label),
        "subject": exported.subject(),
        **exported.seen(entry.attribution, was_done=entry.state in _EXAMINED),
        **_said(exported, key, entry),
        "note": [
            *({"text": text} for text in notes if text),
            *exported.corrected(label),
        ],
        "hasMember": [finding_reference(exported, one) for one in entry.findings],
        "component": [*_rest(exported, key), *_instead(entry), *_struck(entry)],
    }


def _said(exported: Exported, key: str, entry: RegionEntry) -> Resource:
    if entry.state is RegionState.NOT_PRESENT:
        return {"valueString": f"not present: {entry.reason or 'no reason given'}"}
    if entry.findings:
        side = split_key(key)[1]
        told = (describe_finding(f, exported.protocol, side) for f in entry.findings)
        return {"valueString": "; ".join(told)}
    clean = (RegionState.NO_ABNORMALITY, RegionState.PARTLY)
    if entry.state in clean and entry.asserted:
        return {"valueString": _no_abnormality(entry)}
    if entry.state is RegionState.RESULT:
        return {"valueString": "; ".join(item.reason for item in entry.instead)}
    if entry.struck:
        return {"dataAbsentReason": absent("nothing of this part was seen")}
    return {"dataAbsentReason": absent(entry.reason)}


def _no_abnormality(entry: RegionEntry) -> str:
    return f"no abnormality found: {'; '.join(entry.asserted)}"


def _rest(exported: Exported, key: str) -> list[Resource]:
    """Return what was said of the part apart from what was found there."""
    entry = exported.exam.entry(key)
    rest = rest_words(exported.exam, exported.protocol, key)
    if entry.state is not RegionState.WITH_FINDINGS or not rest:
        return []
    label = "Apart from what was found"
    if entry.asserted:
        return [worded(label, _no_abnormality(entry))]
    if entry.instead:
        return []
    return [{"code": concept(label), "dataAbsentReason": absent(entry.reason or rest)}]


def _instead(entry: RegionEntry) -> list[Resource]:
    """Return the results that stand in a claim's place, each under its claim."""
    return [worded(claim.text, claim.reason) for claim in entry.instead]


def _struck(entry: RegionEntry) -> list[Resource]:
    return [
        {"code": concept(claim.text), "dataAbsentReason": absent(claim.reason)}
        for claim in entry.struck
    ]

"""One demonstration exam, made by the same changes a person's taps make.

A file under ``demo_patients`` says what was seen; the exam is built from it through
the domain's transitions, so a demonstration can show nothing the app would refuse.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, TypeVar

from cattrs import Converter

from exam_app.domain.animal.groups import set_group
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.denials import rest_claims
from exam_app.domain.exam.exam import Exam, StopReason, keys_in_scope
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import EarlierOutcome, Finding
from exam_app.domain.exam.people import Attribution, Person
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import (
    answer_earlier,
    assert_no_abnormality,
    mark_not_examined,
    mark_not_present,
    park,
    set_remark,
    with_person,
)
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer
from exam_app.domain.exam.urgent_transitions import answer_urgent
from exam_app.domain.exam.visit import (
    BiteHistory,
    Care,
    ChipScan,
    Given,
    GroupFacts,
    Intake,
    Plan,
    Presentation,
    PrivateNote,
    Procedure,
    Sample,
)
from exam_app.domain.exam.visit_transitions import Entry, Whole, record_visit
from exam_app.domain.exam.vital_transitions import MOST_SIGNS, record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.lumps.lumps import LUMP_LENGTH, LumpSize, LumpTool
from exam_app.domain.measure.counting import CountAlong, rate
from exam_app.domain.measure.units import Reading, parse_reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, Vital, split_key
from exam_app.domain.protocol.scales import give_grade
from exam_app.domain.protocol.weight_rules import estimate_weight, how_estimated
from exam_app.protocols.published_tables import table_sources, weight_tables

Told = Mapping[str, Any]
NewId = Callable[[], str]
T = TypeVar("T")
MINUTES_TO_CLOSING = 25
_WHOLE: dict[str, type[Whole]] = {
    "presentation": Presentation,
    "intake": Intake,
    "bite": BiteHistory,
    "plan": Plan,
    "care": Care,
}
_LISTS: dict[str, type[Entry]] = {
    "given": Given,
    "procedures": Procedure,
    "samples": Sample,
}
_CONVERTER = Converter(forbid_extra_keys=True)
for _made in (Attribution, Moment, LumpSize):
    _CONVERTER.register_structure_hook(_made, lambda value, _: value)


def said(kind: type[T], told: Told, **more: object) -> T:
    """Return a value of the domain with what a table tells, its words as enumerated.

    Args:
        more: What the table does not say, or says in another form.
    """
    return _CONVERTER.structure({**told, **more}, kind)


def _only(told: Told, names: str) -> Told:
    return {name: told[name] for name in names.split() if name in told}


@dataclass(frozen=True, slots=True)
class Cast:
    """Who takes part, and the moment everything of this exam is dated.

    Attributes:
        people: Everyone of the practice, by name.
        now: When it was seen.
    """

    examiner: Person
    scribe: Person
    people: Mapping[str, Person]
    now: Moment
    new_id: NewId

    @property
    def by(self) -> Attribution:
        """Who saw and who wrote it."""
        ids = self.examiner.person_id, self.scribe.person_id
        return Attribution(*ids, self.now, self.now)


def play(exam: Exam, protocol: SpeciesProtocol, told: Told, cast: Cast) -> Exam:
    """Return an exam with everything a demonstration file tells of it.

    Args:
        exam: A new exam, nothing answered.
        told: One ``[[exams]]`` table of a demonstration file.

    Returns:
        The exam, closed unless its ``outcome`` is ``draft``.

    Raises:
        ExamError: The file tells something the app would refuse.
    """
    exam = with_person(with_person(exam, cast.examiner), cast.scribe)
    exam = play_visit(exam, told, cast.by, cast.now)
    for vital_id, seen in told.get("vitals", {}).items():
        exam = _vital(exam, protocol, vital_id, seen, cast)
    for found in told.get("findings", ()):
        exam = _finding(exam, protocol, found, cast)
    exam = _regions(exam, protocol, told, cast)
    outcome = EarlierOutcome(told.get("earlier", EarlierOutcome.SAME.value))
    for earlier in exam.earlier:
        exam = answer_earlier(exam, protocol, earlier.finding_id, outcome)
    return _end(exam, protocol, told, cast)


def _vital(
    exam: Exam, protocol: SpeciesProtocol, vital_id: str, seen: Told, cast: Cast
) -> Exam:
    vital = protocol.vital(vital_id)
    assert vital is not None, vital_id  # noqa: S101 - our own file names it
    ids = tuple(cast.new_id() for _ in range(MOST_SIGNS))
    if "first_count" in seen:
        first = {**seen, "count": seen["first_count"], "seconds": seen["first_seconds"]}
        entry = _vital_entry(vital, protocol, first)
        exam = record_vital(exam, protocol, vital_id, entry, cast.by, ids)
    entry = _vital_entry(vital, protocol, seen)
    return record_vital(exam, protocol, vital_id, entry, cast.by, ids)


def _vital_entry(vital: Vital, protocol: SpeciesProtocol, seen: Told) -> VitalEntry:
    chosen = [c for c in vital.choices if c.value in seen.get("choices", ())]
    entry = said(
        VitalEntry,
        _only(seen, "reason state site rhythm is_estimate"),
        words=[choice.label for choice in chosen],
        values=[choice.value for choice in chosen],
    )
    if "grade" in seen:
        scale = protocol.scale(vital.scale_id)
        assert scale is not None, vital.scale_id  # noqa: S101 - checked on load
        grade = seen["grade"]
        value = scale.grades[grade].value if isinstance(grade, int) else grade
        return replace(entry, grade=give_grade(scale, value))
    if "tape" in seen:
        return taped(entry, seen["tape"])
    if "count" in seen and vital.measure:
        evidence = CountAlong(seen["count"], seen["seconds"])
        per_minute = rate(evidence).per_minute
        reading = Reading(f"{per_minute:f}", vital.measure.unit, per_minute)
        return replace(entry, reading=reading, evidence=evidence)
    if "typed" in seen and vital.measure:
        reading = parse_reading(seen["typed"], vital.measure.unit, vital.measure)
        return replace(entry, reading=reading)
    return entry


def _finding(exam: Exam, protocol: SpeciesProtocol, told: Told, cast: Cast) -> Exam:
    key = told["key"]
    region = protocol.region(split_key(key)[0])
    assert region is not None, key  # noqa: S101 - our own file names it
    more = {"lump": _lump(told["lump"], cast)} if "lump" in told else {}
    finding = said(
        Finding,
        _only(told, "place severity since call"),
        finding_id=cast.new_id(),
        words=told.get("words") or _term_label(region, told["term"]),
        attribution=cast.by,
        term_id=told.get("term", ""),
        side=told.get("side", split_key(key)[1]),
        **more,
    )
    return add_finding(exam, protocol, key, finding, cast.new_id())


def _term_label(region: Region, term_id: str) -> str:
    return next(term.label for term in region.terms if term.term_id == term_id)


def _lump(told: Told, cast: Cast) -> dict[str, object]:
    sizes = {"dimensions": "size", "second_dimensions": "second_size"}
    measured = {
        size: LumpSize(
            tuple(parse_reading(text, "mm", LUMP_LENGTH) for text in told[lengths]),
            LumpTool(told["tool"]),
            told.get("direction", ""),
            cast.examiner.name,
        )
        for lengths, size in sizes.items()
        if lengths in told
    }
    return {**_only(told, "depth consistency mobility surface pain"), **measured}


def _regions(exam: Exam, protocol: SpeciesProtocol, told: Told, cast: Cast) -> Exam:
    words = cast.examiner.role
    for key, reason in told.get("not_present", {}).items():
        exam = mark_not_present(exam, protocol, key, reason, cast.by, cast.new_id())
    for key, reason in told.get("not_examined", {}).items():
        exam = mark_not_examined(exam, protocol, key, reason, cast.by)
    clean = list(told.get("without_abnormality", ()))
    if told.get("rest_without_abnormality"):
        open_states = (RegionState.UNEXAMINED, RegionState.WITH_FINDINGS)
        clean += [
            key
            for key in keys_in_scope(exam, protocol)
            if exam.entry(key).state in open_states and _has_rest(exam, protocol, key)
        ]
    denied = told.get("denied", {})
    for key in clean:
        said = tuple(denied.get(key, ())) if key in denied else None
        exam = assert_no_abnormality(
            exam, protocol, (key,), words, cast.by, denied=said
        )
    for key, remark in told.get("remarks", {}).items():
        exam = set_remark(exam, protocol, key, remark)
    for key in told.get("parked", ()):
        exam = park(exam, protocol, key, parked=True)
    return exam


def _has_rest(exam: Exam, protocol: SpeciesProtocol, key: str) -> bool:
    region = protocol.region(split_key(key)[0])
    return region is not None and bool(rest_claims(exam, region, key))


def _end(exam: Exam, protocol: SpeciesProtocol, told: Told, cast: Cast) -> Exam:
    for sign in exam.urgent:
        if told.get("told"):
            answer = UrgentAnswer(
                AnswerKind.TOLD,
                cast.by,
                whom=told["told"],
                how=told["told_how"],
                at=cast.now,
                instruction=told["instruction"],
                was_read_back=True,
            )
            exam = answer_urgent(exam, sign.entry_id, answer)
    outcome = told["outcome"]
    if outcome == "stopped":
        reason = StopReason(told["stop_reason"])
        exam = stop_early(exam, protocol, reason, told.get("stop_note", ""), cast.by)
    if outcome == "draft":
        return exam
    later = Moment(cast.now.utc_ms + MINUTES_TO_CLOSING * 60_000, cast.now.offset_min)
    return close(exam, protocol, cast.scribe, later)


def play_visit(exam: Exam, told: Told, by: Attribution, now: Moment) -> Exam:
    """Return an exam with what a demonstration file tells around it.

    Args:
        told: One ``[[exams]]`` table; ``presentation``, ``intake``, ``bite``,
            ``plan``, ``care`` and ``group`` are tables of fields, ``scans``, ``given``,
            ``procedures`` and ``samples`` lists of them, ``private`` a text.

    Raises:
        ExamError: The file tells something the app would refuse.
    """
    parts: list[Whole | Entry] = [
        said(kind, told[name]) for name, kind in _WHOLE.items() if name in told
    ]
    for scan in told.get("scans", ()):
        made = {"numbers": (), "passes": 0, "scanner": "", **scan}
        parts.append(said(ChipScan, made, attribution=by))
    for name, kind in _LISTS.items():
        more = {"at": now} if kind is Given else {}
        for one in told.get(name, ()):
            parts.append(said(kind, one, attribution=by, **more))
    if "private" in told:
        parts.append(PrivateNote(told["private"], by))
    for part in parts:
        exam = record_visit(exam, part)
    if "group" not in told:
        return exam
    return set_group(exam, said(GroupFacts, told["group"]))


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

"""An animal's past as its closed records tell it: values, finds, what was given.

Each record gives one ``ExamPast``, which never changes, and all of them together the
``AnimalHistory``. A value stands over the published ranges that its own flag was
compared with, as signed then: age, place and state may have been others. Grades of two
scales, and numbers in two units, are two series. Which finds are wounds a protocol
says; one in own words is none of them. Nothing is called better or worse.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal

from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.domain.exam.marks import highest_number
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.exam.review import region_label, vital_label
from exam_app.domain.exam.vital_transitions import shown_flag
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import in_unit
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.intervals import limits_in
from exam_app.domain.protocol.limits import FlagLevel, Limits
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital, split_key
from exam_app.domain.protocol.scales import grade_number
from exam_app.domain.protocol.sex_limits import OTHER_SEX
from exam_app.domain.wording.exam_wording import (
    describe_finding,
    describe_value,
    how_taken,
    join_words,
    summary_shown,
)
from exam_app.domain.wording.region_wording import all_findings
from exam_app.domain.wording.visit_wording import given_words
from exam_app.domain.wording.written_record import title
from exam_app.language.catalogue import tr

_NOT_LOOKED = (Conclusion.OPEN, Conclusion.NOT_EXAMINED)


@dataclass(frozen=True, slots=True)
class PastValue:
    """One vital of one exam.

    Attributes:
        at: When it was taken.
        number: In ``unit``, or the grade; ``None`` for an answer in words.
        unit: As its measure compares; empty for grades and words.
        scale_id: Of a grade; else empty.
        shown: Value as typed, grade or words.
        detail: State, site, rhythm, note; may be empty.
        ranges: The published ranges it was compared with, in ``unit``; may be empty.
        flag: Where it lies among them, as signed; empty where none was compared.
        is_outside: Whether the flag says below or above.
    """

    exam_id: str
    at: Moment
    vital_id: str
    label: str
    number: Decimal | None
    unit: str
    scale_id: str
    shown: str
    detail: str = ""
    is_estimate: bool = False
    is_body_weight: bool = False
    ranges: tuple[Limits, ...] = ()
    flag: str = ""
    is_outside: bool = False


@dataclass(frozen=True, slots=True)
class PastLine:
    """Something that one exam says in words.

    Attributes:
        part: Which part, or empty.
        is_lump: Whether it is a lump that was measured.
        is_wound: Whether its term is a wound's.
        is_own_words: Whether it was found in the examiner's own words.
        key: Region key of a find, or empty.
        finding_id: Of a find, or of the earlier one that the line says more of.
    """

    exam_id: str
    at: Moment
    text: str
    part: str = ""
    is_lump: bool = False
    is_wound: bool = False
    is_own_words: bool = False
    key: str = ""
    finding_id: str = ""


@dataclass(frozen=True, slots=True)
class ExamPast:
    """What one closed record says to an animal's history.

    Attributes:
        found: Its own finds, then what became of earlier ones.
        recheck: When to look again, as planned; may be empty.
        looked_at: Keys of parts, and ``vital:ID``, that have an answer other than why
            there is none.
        earlier: Finds of earlier records that it was asked about.
        left: What it leaves to be looked at again.
        marks: The highest number of a mark that it has or knows; 0 for none.
        gone: Its parts that are not there, each with the reason; those that the
            animal's sex has not are none of them.
    """

    exam_id: str
    at: Moment
    title: str
    values: tuple[PastValue, ...] = ()
    found: tuple[PastLine, ...] = ()
    given: tuple[PastLine, ...] = ()
    recheck: str = ""
    looked_at: frozenset[str] = frozenset()
    earlier: tuple[EarlierFinding, ...] = ()
    left: tuple[EarlierFinding, ...] = ()
    marks: int = 0
    gone: tuple[PastLine, ...] = ()


@dataclass(frozen=True, slots=True)
class Series:
    """One vital over time, in one unit or on one scale.

    Attributes:
        values: Oldest first; at least one.
    """

    vital_id: str
    label: str
    unit: str
    scale_id: str
    values: tuple[PastValue, ...]

    @property
    def numbers(self) -> tuple[PastValue, ...]:
        """The values that are numbers, oldest first."""
        return tuple(value for value in self.values if value.number is not None)

    @property
    def is_body_weight(self) -> bool:
        """Whether it is the animal's weight."""
        return self.values[-1].is_body_weight


@dataclass(frozen=True, slots=True)
class AnimalHistory:
    """Everything its closed records say of an animal over time.

    Attributes:
        exams: Oldest first.
        series: Those of the newest exam's vitals first, in its order.
        lumps, wounds, found: Oldest first: lumps that were measured, wounds, and every
            other find.
        given, rechecks: Oldest first.
        gone: Parts that are not there, as the exam that said so first since they were
            last seen; one that a later exam looked at is there again.
    """

    exams: tuple[ExamPast, ...] = ()
    series: tuple[Series, ...] = ()
    lumps: tuple[PastLine, ...] = ()
    wounds: tuple[PastLine, ...] = ()
    found: tuple[PastLine, ...] = ()
    given: tuple[PastLine, ...] = ()
    rechecks: tuple[PastLine, ...] = ()
    gone: tuple[PastLine, ...] = ()

    def series_of(self, vital_id: str) -> tuple[Series, ...]:
        """Return every series of one vital: a scale or unit may have become another."""
        return tuple(one for one in self.series if one.vital_id == vital_id)

    def found_in(self, keys: Collection[str]) -> tuple[PastLine, ...]:
        """Return what was found in these parts and became of it, oldest exam first."""
        return tuple(x for exam in self.exams for x in exam.found if x.key in keys)

    def last_value(self, vital_id: str) -> PastValue | None:
        """Return the newest answer of a vital."""
        every = [one.values[-1] for one in self.series_of(vital_id)]
        return max(every, key=lambda value: value.at, default=None)


def looked_at(exam: Exam) -> frozenset[str]:
    """Return what an exam has an answer for, but for reasons why there is none."""
    vitals = (f"vital:{key}" for key, one in exam.vitals.items() if one.has_value)
    parts = (
        key
        for key, entry in exam.regions.items()
        if entry.findings or entry.conclusion not in _NOT_LOOKED
    )
    return frozenset((*vitals, *parts))


def exam_past(
    exam: Exam,
    protocol: SpeciesProtocol,
    reader: Role,
    wounds: Collection[tuple[str, str]] | None = None,
) -> ExamPast:
    """Return what a closed record says to its animal's history.

    Args:
        exam: Closed.
        protocol: The one it names.
        reader: Parts and vitals are named in plain words for a volunteer.
        wounds: Which finds are wounds, each by its region and term id; ``None`` for
            those of the protocol.
    """
    if wounds is None:
        wounds = protocol.wound_terms()
    values = (
        past_value(exam, exam.vital(vital.vital_id), vital, protocol, reader)
        for vital in protocol.vitals
        if exam.vital(vital.vital_id).has_value
    )
    given = (
        PastLine(exam.exam_id, one.at or exam.started, given_words(exam, one))
        for one in exam.given
    )
    return ExamPast(
        exam.exam_id,
        exam.started,
        title(exam, protocol),
        tuple(values),
        (
            *_own_finds(exam, protocol, reader, wounds),
            *_outcomes(exam, protocol, reader, wounds),
        ),
        tuple(given),
        exam.plan.recheck if exam.plan else "",
        looked_at(exam),
        exam.earlier,
        marks=highest_number(exam),
        gone=tuple(_gone(exam, protocol, reader)),
    )


def past_value(
    exam: Exam,
    entry: VitalEntry,
    vital: Vital,
    protocol: SpeciesProtocol,
    reader: Role,
) -> PastValue:
    """Return one answer as it stands among those of other exams.

    Args:
        exam: Open or closed.
        entry: Its answer, or one that is not recorded yet and so of its start.
        vital: What is answered.
        protocol: The one the exam names.
        reader: Whose words name it.
    """
    measure, grade, reading = vital.measure, entry.grade, entry.reading
    number = grade_number(grade.value) if grade else None
    if reading is not None and measure is not None:
        number = in_unit(reading, measure.unit, measure.precision)
    taken = entry.attribution.observed if entry.attribution else exam.started
    flag = shown_flag(exam, protocol, vital, entry)
    named = set(flag.interval_ids) if flag else set()
    compared = [row for row in protocol.intervals if row.interval_id in named]
    return PastValue(
        exam.exam_id,
        taken,
        vital.vital_id,
        vital_label(vital, reader),
        number,
        measure.unit if measure and reading is not None else "",
        grade.scale_id if grade else "",
        describe_value(entry, vital, protocol),
        join_words(how_taken(entry, protocol), entry.note),
        entry.is_estimate,
        vital.is_body_weight,
        tuple(limits_in(row, measure) for row in compared) if measure else (),
        flag.summary.partition(": ")[2] if flag else "",
        flag is not None and flag.level in (FlagLevel.BELOW, FlagLevel.ABOVE),
    )


def _own_finds(
    exam: Exam,
    protocol: SpeciesProtocol,
    reader: Role,
    wounds: Collection[tuple[str, str]],
) -> Iterable[PastLine]:
    for key, found in all_findings(exam, protocol):
        yield PastLine(
            exam.exam_id,
            found.attribution.observed,
            describe_finding(found, protocol),
            region_label(protocol, key, reader),
            found.lump is not None,
            (split_key(key)[0], found.term_id) in wounds,
            not found.term_id and not found.is_loss,
            key,
            found.finding_id,
        )


def _gone(exam: Exam, protocol: SpeciesProtocol, reader: Role) -> Iterable[PastLine]:
    for key, entry in exam.regions.items():
        is_gone = entry.conclusion is Conclusion.NOT_PRESENT
        if is_gone and entry.reason != OTHER_SEX:
            at = entry.attribution.observed if entry.attribution else exam.started
            part = region_label(protocol, key, reader)
            yield PastLine(exam.exam_id, at, entry.reason, part, key=key)


def _outcomes(
    exam: Exam,
    protocol: SpeciesProtocol,
    reader: Role,
    wounds: Collection[tuple[str, str]],
) -> Iterable[PastLine]:
    for one in exam.earlier:
        if one.outcome is not None:
            part = region_label(protocol, one.key, reader)
            text = tr(
                "found {date} ({found}): {outcome}",
                date=one.date,
                found=summary_shown(one, protocol),
                outcome=tr(one.outcome.value),
            )
            yield PastLine(
                exam.exam_id,
                exam.started,
                text,
                part,
                bool(one.lump),
                (split_key(one.key)[0], one.term_id) in wounds,
                key=one.key,
                finding_id=one.finding_id,
            )


def history_of(pasts: Iterable[ExamPast]) -> AnimalHistory:
    """Lay what the records of one animal say side by side, oldest first.

    Args:
        pasts: In any order; of a record that was corrected the newest version only.
    """
    exams = sorted(pasts, key=lambda past: past.at)
    found = [line for exam in exams for line in exam.found]
    # What became of a find is told by an older record without its term.
    wounds = {line.finding_id for line in found if line.is_wound}
    others = [line for line in found if not line.is_lump]
    return AnimalHistory(
        tuple(exams),
        _series(exams),
        tuple(line for line in found if line.is_lump),
        tuple(line for line in others if line.finding_id in wounds),
        tuple(line for line in others if line.finding_id not in wounds),
        tuple(line for exam in exams for line in exam.given),
        tuple(PastLine(e.exam_id, e.at, e.recheck) for e in exams if e.recheck),
        tuple(_gone_now(exams)),
    )


def _gone_now(exams: Iterable[ExamPast]) -> Iterable[PastLine]:
    gone: dict[str, PastLine] = {}
    for exam in exams:
        said = {line.key: line for line in exam.gone}
        gone = {
            key: line
            for key, line in gone.items()
            if key in said or key not in exam.looked_at
        }
        for key, line in said.items():
            # A reason that was another before is said from then on.
            if key not in gone or gone[key].text != line.text:
                gone[key] = line
    return gone.values()


def _series(exams: Iterable[ExamPast]) -> tuple[Series, ...]:
    # The newest exam's vitals stand first, in the order of its protocol.
    found: dict[tuple[str, str, str], list[PastValue]] = {}
    for exam in sorted(exams, key=lambda past: past.at, reverse=True):
        for value in exam.values:
            key = (value.vital_id, value.unit, value.scale_id)
            found.setdefault(key, []).append(value)
    return tuple(
        Series(*key[:1], values[0].label, *key[1:], tuple(_by_time(values)))
        for key, values in found.items()
    )


def _by_time(values: Iterable[PastValue]) -> list[PastValue]:
    return sorted(values, key=lambda value: value.at)

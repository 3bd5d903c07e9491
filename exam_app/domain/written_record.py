"""The written record: an exam in plain clinical language, what matters first.

Headline with gaps; for the veterinarian's attention; vitals with flags; findings,
abnormal first; remarks; what was examined without abnormality, named; what was not,
and why; what was not part of this exam. Nothing outside the exam reads as normal.
"""

from dataclasses import dataclass

from exam_app.domain.closing import gaps
from exam_app.domain.exam import (
    Exam,
    keys_in_scope,
    vitals_in_scope,
    words_for,
)
from exam_app.domain.findings import Call
from exam_app.domain.intervals import FlagLevel
from exam_app.domain.people import Role
from exam_app.domain.protocol import SCOPE_LABELS, Scope, SpeciesProtocol
from exam_app.domain.region_wording import (
    all_findings,
    earlier_lines,
    finding_lines,
    no_abnormality_lines,
    not_examined_lines,
    not_present_lines,
    outside_lines,
    remark_lines,
)
from exam_app.domain.review import region_label, review
from exam_app.domain.signalment import age_words
from exam_app.domain.visit_wording import visit_sections
from exam_app.domain.wording import (
    describe_finding,
    describe_urgent,
    describe_value,
    describe_vital,
    person_name,
)

OUTSIDE = (FlagLevel.BELOW, FlagLevel.ABOVE)
LIMITS_NOTE = (
    "Values are compared with published ranges; outside a range is not a diagnosis. "
    "The veterinarian decides. Names are as entered on the device."
)


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and its lines, in reading order; at least one line."""

    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WrittenRecord:
    """A whole record, ready to show, print or copy.

    Attributes:
        headline: What stands above everything: gaps, stop, urgent signs not told.
    """

    title: str
    headline: tuple[str, ...]
    sections: tuple[Section, ...]

    def as_text(self) -> str:
        """Return the record as plain text, a blank line between sections."""
        blocks = ["\n".join((self.title, *self.headline))]
        blocks += [
            "\n".join((section.heading.upper(), *(f"- {x}" for x in section.lines)))
            for section in self.sections
        ]
        return "\n\n".join(blocks) + "\n"


def write_record(exam: Exam, protocol: SpeciesProtocol) -> WrittenRecord:
    """Write an exam down; a draft is written too, and says that it is not closed.

    Args:
        protocol: The protocol the exam names by hash.
    """
    sections = (
        Section("For the veterinarian's attention", _attention(exam, protocol)),
        Section("Animal", _animal(exam)),
        *(Section(heading, lines) for heading, lines in visit_sections(exam)),
        Section("Vitals", _vitals(exam, protocol)),
        Section("Findings", finding_lines(exam, protocol)),
        Section("Earlier findings", earlier_lines(exam, protocol)),
        Section("Remarks (noted, not abnormal)", remark_lines(exam, protocol)),
        Section("No abnormality found", no_abnormality_lines(exam, protocol)),
        Section("Not examined, or only partly", not_examined_lines(exam, protocol)),
        Section("Not present", not_present_lines(exam, protocol)),
        Section("Not part of this exam", outside_lines(exam, protocol)),
        Section("Who and when", _people(exam, protocol)),
        Section("About this record", (LIMITS_NOTE,)),
    )
    return WrittenRecord(
        title(exam, protocol),
        headline(exam, protocol),
        tuple(section for section in sections if section.lines),
    )


def title(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Name the record: scope, animal, species, date; a focused exam its regions."""
    scope = SCOPE_LABELS[exam.scope]
    if exam.scope is Scope.FOCUSED:
        words = words_for(exam)
        names = [region_label(protocol, region_id, words) for region_id in exam.focus]
        scope = f"{scope} ({', '.join(names)})"
    demo = "DEMO. " if exam.is_demo else ""
    continued = ", continuation" if exam.continues else ""
    name = exam.animal.name or "unnamed"
    when = exam.started.date_and_time()
    return f"{demo}{scope}{continued}: {name}, {protocol.label.lower()}, {when}"


def headline(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what a reader must know first, most pressing line first."""
    lines = []
    if not exam.is_closed:
        count = len(review(exam, protocol))
        lines.append(f"NOT CLOSED: a draft with {count} open points")
    untold = [entry.label for entry in exam.urgent if not entry.is_answered]
    if untold:
        lines.append(f"URGENT, NOT YET TOLD: {'; '.join(untold)}")
    elif exam.urgent:
        labels = "; ".join(entry.label for entry in exam.urgent)
        lines.append(f"URGENT: {labels}")
    if exam.stopped:
        note = f" ({exam.stopped.note})" if exam.stopped.note else ""
        lines.append(f"Stopped early: {exam.stopped.reason.value}{note}")
    undone = [_gap_words(exam, protocol, gap) for gap in gaps(exam, protocol)]
    if undone:
        lines.append(f"Not done: {', '.join(undone)}")
    elif exam.is_closed:
        lines.append("Everything in the scope of this exam was answered")
    return tuple(lines)


def _gap_words(exam: Exam, protocol: SpeciesProtocol, gap: str) -> str:
    if gap.startswith("vital:"):
        vital_id = gap.removeprefix("vital:")
        vital = protocol.vital(vital_id)
        label = vital.label.lower() if vital else vital_id
        return f"{label} ({exam.vital(vital_id).reason})"
    entry = exam.entry(gap)
    label = region_label(protocol, gap, words_for(exam)).lower()
    if entry.struck:
        return f"{label} (partly)"
    return f"{label} ({entry.reason})"


def _attention(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    lines = [f"URGENT: {describe_urgent(entry)}" for entry in exam.urgent]
    for key, finding in all_findings(exam, protocol):
        if finding.call is not Call.NOTED:
            label = region_label(protocol, key, Role.TECHNICIAN)
            lines.append(f"{label}: {describe_finding(finding, protocol)}")
    for vital in vitals_in_scope(exam, protocol):
        entry = exam.vital(vital.vital_id)
        if entry.flag and entry.flag.level in OUTSIDE:
            value = describe_value(entry, vital, protocol)
            lines.append(f"{vital.label}: {value}. {entry.flag.text}")
    return tuple(lines)


def _animal(exam: Exam) -> tuple[str, ...]:
    animal = exam.animal
    age = "age not known"
    if animal.age_days is not None:
        on = f" on {animal.age_on}" if animal.age_on else ""
        age = f"{age_words(animal.age_days)}{on} ({animal.age_basis.value})"
    facts = (animal.species, animal.breed, animal.sex.value, animal.colour, age)
    labelled = (
        ("Chip", animal.chip),
        ("Tag", animal.tag),
        ("Place", animal.place),
        ("Behaviour", animal.behaviour),
        ("Can hurt the examiner", animal.dangers),
        ("Exam place", exam.setting.value),
        ("Published ranges used for", exam.life_stage or "none: age not known"),
    )
    return (
        ", ".join(fact for fact in facts if fact),
        *(f"{label}: {text}" for label, text in labelled if text),
    )


def _vitals(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    return tuple(
        f"{vital.label}: {describe_vital(exam.vital(vital.vital_id), vital, protocol)}"
        for vital in vitals_in_scope(exam, protocol)
        if exam.vital(vital.vital_id).is_answered
    )


def _people(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    lines = [
        f"Started {exam.started.date_and_time()} by "
        f"{person_name(exam, exam.started_by)}"
    ]
    lines += examined_by(exam, protocol)
    if exam.closing:
        closer = person_name(exam, exam.closing.closed_by)
        lines.append(f"Closed {exam.closing.at.date_and_time()} by {closer}")
    if exam.continues:
        lines.append(f"Continues record {exam.continues}")
    lines.append(
        f"Protocol {exam.protocol_id} version {protocol.version}, "
        f"{exam.protocol_hash[:12]}"
    )
    return tuple(lines)


def examined_by(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Say for each person what they examined, what another entered, what came late."""
    words = words_for(exam)
    named: dict[tuple[str, str], list[str]] = {}
    late = []
    entries = [
        (region_label(protocol, key, words), exam.entry(key).attribution)
        for key in keys_in_scope(exam, protocol)
    ] + [
        (vital.label, exam.vital(vital.vital_id).attribution)
        for vital in vitals_in_scope(exam, protocol)
    ]
    for label, by in entries:
        if by is None:
            continue
        named.setdefault((by.examined_by, by.entered_by), []).append(label)
        if by.is_late:
            late.append(
                f"Late entry: {label}, seen {by.observed.clock()}, "
                f"entered {by.entered.clock()}"
            )
    lines = []
    for (examiner, scribe), labels in named.items():
        wrote = f", entered by {person_name(exam, scribe)}" * (scribe != examiner)
        only = len(named) == 1
        what = "everything answered" if only else ", ".join(labels)
        lines.append(f"Examined by {person_name(exam, examiner)}{wrote}: {what}")
    return (*lines, *late)

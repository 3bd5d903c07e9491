"""The written record: an exam in plain clinical language, what matters first.

Headline with gaps; for the veterinarian's attention; vitals with flags; findings,
abnormal first; remarks; what was examined without abnormality, named; what was felt
for and not felt; what was not examined, and why; what was not part of this exam.
Nothing outside the exam reads as normal.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from exam_app.domain.animal.ages import age_line
from exam_app.domain.exam.exam import (
    Correction,
    Exam,
    vitals_in_scope,
)
from exam_app.domain.exam.findings import Call
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import part_label, region_label
from exam_app.domain.exam.vital_transitions import shown_flag
from exam_app.domain.measure.sums import shock_index
from exam_app.domain.measure.units import in_unit
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import (
    SCOPE_LABELS,
    Scope,
    SpeciesProtocol,
    split_key,
)
from exam_app.domain.wording.correction_wording import (
    correction_lines,
    item_names,
    marked,
)
from exam_app.domain.wording.exam_wording import (
    describe_finding,
    describe_urgent,
    describe_vital,
)
from exam_app.domain.wording.headline import headline
from exam_app.domain.wording.people_words import both_names, people_lines
from exam_app.domain.wording.photo_wording import PHOTOGRAPHS, photo_lines
from exam_app.domain.wording.record_times import (
    AS_STATED,
    TimeStyle,
    noted_at,
    style_of,
)
from exam_app.domain.wording.region_wording import (
    all_findings,
    region_sections,
)
from exam_app.domain.wording.visit_wording import visit_sections
from exam_app.language.catalogue import ENGLISH, chosen, in_english, to_translate, tr

ATTENTION = to_translate("For the veterinarian's attention")
OUTSIDE = (FlagLevel.BELOW, FlagLevel.ABOVE)
LIMITS_NOTE = to_translate(
    "Values are compared with published ranges; outside a range is not a diagnosis. "
    "The veterinarian decides. Names are as entered on the device."
)


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and its lines, in reading order; at least one line.

    Attributes:
        heading: In English, by which a section is known; ``tr`` shows it.
        lines: As they are shown.
    """

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
            "\n".join((tr(section.heading).upper(), *(f"- {x}" for x in section.lines)))
            for section in self.sections
        ]
        return "\n\n".join(blocks) + "\n"

    def with_notes(self, notes: Sequence[Section]) -> "WrittenRecord":
        """Return it with the signed notes beside it as its last section.

        Args:
            notes: Who wrote it, when and on what as the heading, then the words.
        """
        if not notes:
            return self
        lines = tuple(": ".join((one.heading, " ".join(one.lines))) for one in notes)
        beside = Section(to_translate("Notes beside the record"), lines)
        return replace(self, sections=(*self.sections, beside))


def write_record(
    exam: Exam,
    protocol: SpeciesProtocol,
    *,
    for_veterinarian: bool = False,
    beside: Sequence[Correction] = (),
) -> WrittenRecord:
    """Write an exam down; a draft is written too, and says that it is not closed.

    Args:
        protocol: The protocol the exam names by hash.
        for_veterinarian: Whether private notes are written too; in every other form
            they do not exist.
        beside: What signed notes about this very record say should read otherwise.
    """
    times = style_of(exam)

    def sections(style: TimeStyle) -> tuple[Section, ...]:
        return plain_sections(
            exam, protocol, for_veterinarian=for_veterinarian, times=style
        )

    shown = sections(times)
    # What was corrected is found by the words that a record states.
    reads_otherwise = times.on_clocks or chosen() != ENGLISH
    with in_english():
        stated = sections(AS_STATED) if reads_otherwise else shown
    known = _known_words(shown, stated) | item_names(protocol)
    attention, *rest = (
        replace(part, lines=_with_marks(part.lines, plain.lines, exam, beside, known))
        for part, plain in zip(shown, stated, strict=True)
    )
    made = correction_lines(exam, beside, times, known)
    corrected = Section(to_translate("Corrections after closing"), made)
    return WrittenRecord(
        title(exam, protocol, times),
        headline(exam, protocol),
        tuple(part for part in (attention, corrected, *rest) if part.lines),
    )


def _known_words(shown: Sequence[Section], stated: Sequence[Section]) -> dict[str, str]:
    """Return what a record states, as corrections keep it, with the words shown."""
    if shown is stated:
        return {}
    found: dict[str, str] = {}
    for part, plain in zip(shown, stated, strict=True):
        section = tr(plain.heading).lower()
        for line, kept in zip(part.lines, plain.lines, strict=True):
            words, said = line.partition(": ")[2], kept.partition(": ")[2]
            found |= {kept: line, said: words}
            found[f"{plain.heading.lower()}: {said}"] = f"{section}: {words}"
    return {kept: line for kept, line in found.items() if kept}


def _with_marks(
    lines: Sequence[str],
    stated: Sequence[str],
    exam: Exam,
    beside: Sequence[Correction],
    known: Mapping[str, str],
) -> tuple[str, ...]:
    marks = (marked(one, exam, beside, known).removeprefix(one) for one in stated)
    return tuple(line + mark for line, mark in zip(lines, marks, strict=True))


def plain_sections(
    exam: Exam,
    protocol: SpeciesProtocol,
    *,
    for_veterinarian: bool = False,
    times: TimeStyle = AS_STATED,
) -> tuple[Section, ...]:
    """Return every section in reading order, without what was corrected beside it.

    One of which nothing is said has no lines.

    Args:
        for_veterinarian: Whether private notes are written too.
        times: How times are written; statements that are compared keep the usual way.
    """
    private = _private(exam, for_veterinarian, times)
    return (
        Section(ATTENTION, _attention(exam, protocol, times)),
        Section(to_translate("Animal"), _animal(exam, protocol)),
        *(Section(*named) for named in visit_sections(exam, times)),
        Section(to_translate("Vitals"), _vitals(exam, protocol)),
        *(Section(*named) for named in region_sections(exam, protocol)),
        Section(PHOTOGRAPHS, photo_lines(exam, protocol, times)),
        Section(to_translate("Private, for the veterinarian only"), private),
        Section(to_translate("Who and when"), people_lines(exam, protocol, times)),
        Section(to_translate("About this record"), (tr(LIMITS_NOTE),)),
    )


def title(exam: Exam, protocol: SpeciesProtocol, times: TimeStyle = AS_STATED) -> str:
    """Name the record: scope, animal, species, date; a focused exam its regions."""
    scope = tr(SCOPE_LABELS[exam.scope])
    if exam.scope is Scope.FOCUSED:
        names = [part_label(exam, protocol, region_id) for region_id in exam.focus]
        scope = f"{scope} ({', '.join(names)})"
    demo = tr("DEMO. ") if exam.is_demo else ""
    if exam.continues:
        scope = tr("{exam}, continuation", exam=scope)
    if exam.revision:
        scope = tr("{exam}, correction {number}", exam=scope, number=exam.revision)
    name = exam.animal.name or tr("unnamed")
    when = f"{times.full(exam.started)}{noted_at(exam, times)}"
    return f"{demo}{scope}: {name}, {tr(protocol.label).lower()}, {when}"


def _attention(
    exam: Exam, protocol: SpeciesProtocol, times: TimeStyle
) -> tuple[str, ...]:
    lines = [
        tr("URGENT: {sign}", sign=describe_urgent(entry, times))
        for entry in exam.urgent
    ]
    for key, finding in all_findings(exam, protocol):
        if finding.call is not Call.NOTED:
            label = region_label(protocol, key, Role.TECHNICIAN)
            text = describe_finding(finding, protocol, split_key(key)[1])
            lines.append(f"{label}: {text}")
    for vital in vitals_in_scope(exam, protocol):
        entry = exam.vital(vital.vital_id)
        flag = shown_flag(exam, protocol, vital, entry)
        if flag and flag.level in OUTSIDE:
            lines.append(f"{tr(vital.label)}: {flag.summary}")
    return tuple(lines)


def _private(exam: Exam, for_veterinarian: bool, times: TimeStyle) -> tuple[str, ...]:
    if not for_veterinarian:
        return ()
    return tuple(
        f"{note.text} ({both_names(exam, note.attribution)}, "
        f"{times.full(note.attribution.entered)})"
        for note in exam.private_notes
    )


def _animal(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    animal = exam.animal
    age = age_line(animal, exam.started.local().date())
    species = tr(protocol.label).lower()
    facts = (species, animal.breed, tr(animal.sex.value), animal.colour, age)
    labelled = (
        (tr("Chip"), animal.chip),
        (tr("Tag"), animal.tag),
        (tr("Place"), animal.place),
        (tr("Dam"), animal.dam),
        (tr("Behaviour"), animal.behaviour),
        (tr("Can hurt the examiner"), animal.dangers),
        (tr("Exam place"), tr(exam.setting.value)),
        (
            tr("Published ranges used for"),
            tr(exam.life_stage) or tr("none: age not known"),
        ),
    )
    return (
        ", ".join(fact for fact in facts if fact),
        *(f"{label}: {text}" for label, text in labelled if text),
    )


def _vitals(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    lines = [
        f"{tr(vital.label)}: {describe_vital(entry, vital, protocol, exam)}"
        for vital in vitals_in_scope(exam, protocol)
        if (entry := exam.vital(vital.vital_id)).has_value
    ]
    return (*lines, *_shock_index(exam, protocol))


def _shock_index(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Write the index where a systolic pressure was measured, and only there."""
    beats, pressure = (
        exam.vital(vital_id).reading for vital_id in ("heart_rate", "systolic_pressure")
    )
    if beats is None or pressure is None:
        return ()
    rate = in_unit(beats, "beat/min", Decimal(1))
    systolic = in_unit(pressure, "mmHg", Decimal(1))
    if rate <= 0 or systolic <= 0:
        return ()
    found = shock_index(protocol.species, rate, systolic)
    title = protocol.source_titles().get(found.source_id, "")
    line = tr(
        "{sum}, for the veterinarian: {result} ({written}). {note}",
        sum=found.label,
        result=found.shown,
        written=found.written,
        note=found.note,
    )
    return (f"{line} {tr('Source: {title}.', title=title)}" if title else line,)

"""One line of plain clinical language for each finding, vital and urgent sign."""

from exam_app.domain.animal.body_marks import BodyMark
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import Call, EarlierFinding, Finding
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.exam.vital_transitions import why_not_compared
from exam_app.domain.exam.vitals import EarlierCount, VitalEntry
from exam_app.domain.lumps.lumps import Lump, show_lump_size
from exam_app.domain.measure.counting import rate
from exam_app.domain.measure.units import Measure, show
from exam_app.domain.protocol.intervals import Flag
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital
from exam_app.domain.protocol.scales import Graded, show_grade
from exam_app.domain.wording.phrases import capital
from exam_app.domain.wording.record_times import AS_STATED, TimeStyle


def join_words(*parts: str) -> str:
    """Join the parts that say something, with commas."""
    return ", ".join(part for part in parts if part)


def _grade(graded: Graded, protocol: SpeciesProtocol) -> str:
    """Name a grade with its scale; a scale the protocol lost is named by its id."""
    scale = protocol.scale(graded.scale_id)
    lost = f"{graded.scale_id} {graded.value}: {graded.label}"
    return show_grade(graded, scale) if scale else lost


def describe_lump(lump: Lump) -> str:
    """Describe a lump: size first, then depth and feel, as far as noted."""
    second = ""
    if lump.second_size:
        second = f"second reading {show_lump_size(lump.second_size)}"
    feel = [lump.depth, lump.consistency, lump.mobility, lump.surface]
    words = [word.value.replace("_", " ") for word in feel if word]
    pain = f"pain on touch: {lump.pain.value.replace('_', ' ')}" if lump.pain else ""
    return join_words(show_lump_size(lump.size), second, *words, pain)


def side_words(side: str) -> str:
    """Say the side of a finding."""
    return "on the midline" if side == "midline" else side


def mark_words(mark: BodyMark | None) -> str:
    """Name a mark and its drawing: ``mark 1, left view``; empty for none."""
    return f"mark {mark.number}, {mark.words}" if mark else ""


def without_mark(found: EarlierFinding) -> str:
    """Return the line of an earlier finding without its mark, which is said beside."""
    said = mark_words(found.mark)
    return found.summary.replace(f", {said}", "") if said else found.summary


def describe_finding(
    finding: Finding, protocol: SpeciesProtocol, said_side: str = ""
) -> str:
    """Describe a finding with side, place, size and everything else noted of it.

    Args:
        said_side: Side that the line before it names already, and is not repeated.
    """
    side = side_words(finding.side) if finding.side != said_side else ""
    severity = finding.severity.value if finding.severity else ""
    since = f"since {finding.since}" if finding.since else ""
    note = f"note: {finding.note}" if finding.note else ""
    grades = [_grade(graded, protocol) for graded in finding.grades]
    lump = describe_lump(finding.lump) if finding.lump else ""
    call = finding.call.value if finding.call is not Call.NOTED else ""
    return join_words(
        finding.words,
        *finding.qualities,
        severity,
        side,
        finding.place,
        finding.extent,
        mark_words(finding.mark),
        *grades,
        lump,
        since,
        note,
        call,
    )


def describe_value(entry: VitalEntry, vital: Vital, protocol: SpeciesProtocol) -> str:
    """Describe the value alone, as typed: ``101.3 °F (38.5 °C)``, or its reason."""
    if not entry.has_value:
        return f"not done: {entry.reason}" if entry.reason else "not answered"
    parts = []
    if entry.reading and vital.measure:
        shown = show(entry.reading, vital.measure, is_estimate=entry.is_estimate)
        parts.append(f"{shown}{' (estimate)' * entry.is_estimate}")
    if entry.grade:
        shown = _grade(entry.grade, protocol)
        parts.append(shown.removeprefix(vital.label).removeprefix(",").strip())
    return join_words(*parts, *entry.words)


def describe_vital(
    entry: VitalEntry, vital: Vital, protocol: SpeciesProtocol, exam: Exam
) -> str:
    """Describe a vital with state, site, counting basis, earlier counts and flag.

    A number that was compared with no published range says so, and why.
    """
    basis = f"counted {rate(entry.evidence).basis}" if entry.evidence else ""
    confirmed = "unusual value, confirmed" * entry.was_implausible_confirmed
    details = join_words(
        entry.state.value if entry.state else "",
        entry.site,
        entry.rhythm,
        entry.beats_felt.rstrip("."),
        basis,
        entry.reason if entry.has_value else "",
        confirmed,
        *(_first(count, vital.measure) for count in entry.earlier if vital.measure),
        entry.note,
    )
    value = describe_value(entry, vital, protocol)
    text = f"{value}; {details}" if details else value
    if entry.flag:
        return f"{text}. {_flag_words(entry.flag, value)}"
    why = why_not_compared(exam, protocol, vital, entry)
    return f"{text}. No range compared: {why}" if why else text


def _flag_words(flag: Flag, value: str) -> str:
    """Give the flag as shown, without the value where the line names it already."""
    compared, _, place = flag.sentence.partition(": ")
    if not flag.lines or compared not in value:
        return flag.sentence
    return capital(place)


def _first(count: EarlierCount, measure: Measure) -> str:
    """Describe a count that was repeated."""
    shown = show(count.reading, measure, is_estimate=count.is_estimate)
    return f"first {shown}{f' {count.state.value}' if count.state else ''}"


def answer_in_short(answer: UrgentAnswer, times: TimeStyle = AS_STATED) -> str:
    """Say who was told or tried, and when."""
    clock = times.clock(answer.at or answer.attribution.entered)
    if answer.kind is AnswerKind.AM_VETERINARIAN:
        return f"examiner is the veterinarian, {clock}"
    verb = "told" if answer.kind is AnswerKind.TOLD else "tried, not reached:"
    return f"{verb} {answer.whom or 'veterinarian'} {clock}"


def describe_answer(answer: UrgentAnswer, times: TimeStyle = AS_STATED) -> str:
    """Say who was told, when and how, or that nobody was reached."""
    short = answer_in_short(answer, times)
    if answer.kind is AnswerKind.AM_VETERINARIAN:
        return join_words(short, answer.instruction)
    read_back = "instruction read back" if answer.was_read_back else ""
    return join_words(short, answer.how, answer.instruction, read_back)


def describe_urgent(entry: UrgentEntry, times: TimeStyle = AS_STATED) -> str:
    """Say the sign, its action, and how it was answered or that it was not."""
    answers = "; ".join(describe_answer(answer, times) for answer in entry.answers)
    action = f" ({entry.action})" if entry.action else ""
    note = f", {entry.note}" if entry.note else ""
    return f"{entry.label}{note}{action}: {answers or 'NOT YET TOLD'}"


def person_name(exam: Exam, person_id: str) -> str:
    """Name a person with role; one the exam does not name is given by id."""
    person = exam.person(person_id)
    return f"{person.name} ({person.role.value})" if person else person_id

"""One line of plain clinical language for each finding, vital and urgent sign."""

from collections.abc import Iterator

from exam_app.domain.animal.body_marks import BodyMark
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import Call, EarlierFinding, Finding, Severity
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.exam.vital_transitions import shown_flag, why_not_compared
from exam_app.domain.exam.vitals import EarlierCount, VitalEntry
from exam_app.domain.lumps.lumps import Lump, feel_words, show_lump_size
from exam_app.domain.measure.counting import rate
from exam_app.domain.measure.pulse_sentences import pulse_words
from exam_app.domain.measure.units import Measure, show
from exam_app.domain.protocol.intervals import Flag
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital, split_key
from exam_app.domain.protocol.scales import Graded, show_grade
from exam_app.domain.wording.kept_words import (
    list_shown,
    offered,
    reason_shown,
)
from exam_app.domain.wording.phrases import capital
from exam_app.domain.wording.record_times import AS_STATED, TimeStyle
from exam_app.language.catalogue import ENGLISH, chosen, in_english, to_translate, tr


def join_words(*parts: str) -> str:
    """Join the parts that say something, with commas."""
    return ", ".join(part for part in parts if part)


def known_words(words: str, protocol: SpeciesProtocol) -> str:
    """Return words of the app or of a protocol as they are shown, others as typed."""
    return tr(words) if words in protocol.record_words else reason_shown(words)


def _grade(graded: Graded, protocol: SpeciesProtocol) -> str:
    """Name a grade with its scale; a scale the protocol lost is named by its id."""
    scale = protocol.scale(graded.scale_id)
    lost = f"{graded.scale_id} {graded.value}: {graded.label}"
    return show_grade(graded, scale) if scale else lost


def describe_lump(lump: Lump) -> str:
    """Describe a lump: size first, then depth and feel, as far as noted."""
    second = ""
    if lump.second_size:
        again = show_lump_size(lump.second_size)
        second = tr("second reading {size}", size=again)
    feel = [lump.depth, lump.consistency, lump.mobility, lump.surface]
    words = [feel_words(word) for word in feel if word]
    pain = ""
    if lump.pain:
        pain = tr("pain on touch: {shown}", shown=feel_words(lump.pain))
    return join_words(show_lump_size(lump.size), second, *words, pain)


_SIDES = {
    "left": to_translate("left"),
    "right": to_translate("right"),
    "midline": to_translate("on the midline"),
}


def side_words(side: str) -> str:
    """Say the side of a finding."""
    return tr(_SIDES[side]) if side in _SIDES else side


def mark_words(mark: BodyMark | None) -> str:
    """Name a mark and its drawing: ``mark 1, left view``; empty for none."""
    if mark is None:
        return ""
    return tr("mark {number}, {drawing}", number=mark.number, drawing=mark.words)


def without_mark(found: EarlierFinding) -> str:
    """Return the line of an earlier finding without its mark, which is said beside."""
    with in_english():
        said = mark_words(found.mark)
    return found.summary.replace(f", {said}", "") if said else found.summary


def summary_shown(
    found: EarlierFinding, protocol: SpeciesProtocol, *, is_marked: bool = True
) -> str:
    """Return the line of an earlier finding, which is kept in English, as it is shown.

    Args:
        is_marked: Whether its mark is said too.
    """
    line = found.summary if is_marked else without_mark(found)
    if chosen() == ENGLISH:
        return line
    shown = _summary_words(found, protocol)
    with in_english():
        kept = _summary_words(found, protocol)
    return list_shown(line, dict(zip(kept, shown, strict=True)), ", ")


def _summary_words(found: EarlierFinding, protocol: SpeciesProtocol) -> list[str]:
    """Return all that the line of an earlier finding may say in words of the app."""
    region = protocol.region(split_key(found.key)[0])
    term = region.term(found.term_id) if region else None
    named = (term.label, term.plain, *term.qualities, *term.places) if term else ()
    scale = protocol.scale(term.scale_id) if term else None
    grades = scale.grades if scale else ()
    return [
        *map(tr, named),
        *(tr(said.value) for said in (*Severity, *Call)),
        *map(side_words, _SIDES),
        *(
            _grade(Graded(term.scale_id, one.value, one.label), protocol)
            for one in grades
            if term
        ),
        describe_lump(found.lump) if found.lump else "",
        mark_words(found.mark),
    ]


def found_words(finding: Finding) -> str:
    """Return what was found: the label of its term, or own words as typed."""
    if finding.is_loss:
        return reason_shown(finding.words)
    return tr(finding.words) if finding.term_id else finding.words


def place_words(finding: Finding, protocol: SpeciesProtocol) -> str:
    """Return where it was found: landmarks of its term, and own words as typed."""
    if chosen() == ENGLISH or not finding.place or not finding.term_id:
        return finding.place
    landmarks = _landmarks(finding.term_id, protocol)
    return list_shown(finding.place, {one: tr(one) for one in landmarks}, ", ")


def _landmarks(term_id: str, protocol: SpeciesProtocol) -> Iterator[str]:
    for region in protocol.regions:
        term = region.term(term_id)
        yield from term.places if term else ()


def quality_words(finding: Finding) -> tuple[str, ...]:
    """Return of which kind it is: qualities of its term, or own words as typed."""
    return tuple(map(tr, finding.qualities)) if finding.term_id else finding.qualities


def describe_finding(
    finding: Finding, protocol: SpeciesProtocol, said_side: str = ""
) -> str:
    """Describe a finding with side, place, size and everything else noted of it.

    Args:
        said_side: Side that the line before it names already, and is not repeated.
    """
    side = side_words(finding.side) if finding.side != said_side else ""
    severity = tr(finding.severity.value) if finding.severity else ""
    told = offered(finding.since)
    since = tr("since {when}", when=told) if told else ""
    note = tr("note: {note}", note=finding.note) if finding.note else ""
    grades = [_grade(graded, protocol) for graded in finding.grades]
    lump = describe_lump(finding.lump) if finding.lump else ""
    call = tr(finding.call.value) if finding.call is not Call.NOTED else ""
    return join_words(
        found_words(finding),
        *quality_words(finding),
        severity,
        side,
        place_words(finding, protocol),
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
        if not entry.reason:
            return tr("not answered")
        return tr("not done: {reason}", reason=known_words(entry.reason, protocol))
    parts = []
    if entry.reading and vital.measure:
        shown = show(entry.reading, vital.measure, is_estimate=entry.is_estimate)
        guessed = entry.is_estimate
        parts.append(tr("{value} (estimate)", value=shown) if guessed else shown)
    if entry.grade:
        shown = _grade(entry.grade, protocol)
        parts.append(shown.removeprefix(tr(vital.label)).removeprefix(",").strip())
    return join_words(*parts, *(known_words(one, protocol) for one in entry.words))


def how_taken(entry: VitalEntry, protocol: SpeciesProtocol) -> str:
    """Say of a vital what the animal was doing, where it was taken, and the rhythm."""
    return join_words(
        tr(entry.state.value) if entry.state else "",
        known_words(entry.site, protocol),
        offered(entry.rhythm),
        pulse_words(entry.beats_felt).rstrip("."),
    )


def describe_vital(
    entry: VitalEntry, vital: Vital, protocol: SpeciesProtocol, exam: Exam
) -> str:
    """Describe a vital with state, site, counting basis, earlier counts and flag.

    A number that was compared with no published range says so, and why.
    """
    basis = ""
    if entry.evidence:
        basis = tr("counted {basis}", basis=rate(entry.evidence).basis)
    confirmed = tr("unusual value, confirmed")
    details = join_words(
        how_taken(entry, protocol),
        basis,
        known_words(entry.reason, protocol) if entry.has_value else "",
        confirmed if entry.was_implausible_confirmed else "",
        *(_first(count, vital.measure) for count in entry.earlier if vital.measure),
        entry.note,
    )
    value = describe_value(entry, vital, protocol)
    text = f"{value}; {details}" if details else value
    flag = shown_flag(exam, protocol, vital, entry)
    if flag:
        return f"{text}. {_flag_words(flag, value)}"
    why = why_not_compared(exam, protocol, vital, entry)
    if not why:
        return text
    return tr("{said}. No range compared: {reason}", said=text, reason=why)


def _flag_words(flag: Flag, value: str) -> str:
    """Give the flag as shown, without the value where the line names it already."""
    compared, _, place = flag.sentence.partition(": ")
    if not flag.lines or compared not in value:
        return flag.sentence
    return capital(place)


def _first(count: EarlierCount, measure: Measure) -> str:
    """Describe a count that was repeated."""
    shown = show(count.reading, measure, is_estimate=count.is_estimate)
    if count.state is None:
        return tr("first {value}", value=shown)
    return tr("first {value} {state}", value=shown, state=tr(count.state.value))


def answer_in_short(answer: UrgentAnswer, times: TimeStyle = AS_STATED) -> str:
    """Say who was told or tried, and when."""
    clock = times.clock(answer.at or answer.attribution.entered)
    if answer.kind is AnswerKind.AM_VETERINARIAN:
        return tr("examiner is the veterinarian, {time}", time=clock)
    whom = answer.whom or tr("veterinarian")
    if answer.kind is AnswerKind.TOLD:
        return tr("told {whom} {time}", whom=whom, time=clock)
    return tr("tried, not reached: {whom} {time}", whom=whom, time=clock)


def describe_answer(answer: UrgentAnswer, times: TimeStyle = AS_STATED) -> str:
    """Say who was told, when and how, or that nobody was reached."""
    short = answer_in_short(answer, times)
    if answer.kind is AnswerKind.AM_VETERINARIAN:
        return join_words(short, answer.instruction)
    read_back = tr("instruction read back") if answer.was_read_back else ""
    return join_words(short, offered(answer.how), answer.instruction, read_back)


def sign_words(entry: UrgentEntry) -> str:
    """Name an urgent sign of an exam: the protocol's label, or own words as typed.

    That of a find without a sign is the label of its term, or own words, which are no
    message.
    """
    return tr(entry.label) if entry.sign_id or entry.origin else entry.label


def describe_urgent(entry: UrgentEntry, times: TimeStyle = AS_STATED) -> str:
    """Say the sign, its action, and how it was answered or that it was not."""
    answers = "; ".join(describe_answer(answer, times) for answer in entry.answers)
    action = f" ({tr(entry.action)})" if entry.action else ""
    note = f", {entry.note}" if entry.note else ""
    return f"{sign_words(entry)}{note}{action}: {answers or tr('NOT YET TOLD')}"


def person_name(exam: Exam, person_id: str) -> str:
    """Name a person with role; one the exam does not name is given by id."""
    person = exam.person(person_id)
    return f"{person.name} ({tr(person.role.value)})" if person else person_id

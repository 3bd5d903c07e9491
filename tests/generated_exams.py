"""Exams as a day makes them: any species, scope, sex and people, any order of taps.

A drive remembers every word that was typed and every claim that was struck, so that a
test can look for them in the words of the record.
"""

from dataclasses import dataclass, field, replace
from decimal import Decimal
from random import Random

from exam_app.app.exam_start import open_findings
from exam_app.domain.animal.body_marks import (
    BodyMark,
    CloserPlace,
    CloserView,
    MarkView,
    OwnSide,
)
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.closing import close, continuation, gaps, stop_early
from exam_app.domain.exam.corrections import begin_correction, close_correction
from exam_app.domain.exam.denials import has_own_words, rest_claims
from exam_app.domain.exam.exam import (
    Exam,
    StopReason,
    keys_offered,
    required_vitals,
    vitals_in_scope,
    words_for,
)
from exam_app.domain.exam.finding_transitions import (
    add_finding,
    find_again,
    remove_finding,
)
from exam_app.domain.exam.findings import Call, EarlierOutcome, Finding, Severity
from exam_app.domain.exam.marks import highest_number, next_number
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.photographs import add_photo, change_photo
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import (
    answer_earlier,
    answer_urgent,
    assert_no_abnormality,
    clause_words,
    mark_not_examined,
    mark_not_present,
    set_remark,
    with_person,
)
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer
from exam_app.domain.exam.visit import (
    INTAKE_SLOT,
    ChipScan,
    Given,
    Photo,
    Procedure,
    Sample,
)
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.exam.vital_transitions import clear_vital, record_vital
from exam_app.domain.exam.vitals import RateState, Setting, VitalEntry
from exam_app.domain.lumps.lumps import Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import (
    Scope,
    SpeciesProtocol,
    VitalKind,
    split_key,
)
from exam_app.domain.protocol.scales import give_grade
from exam_app.protocols.loader import available, load_protocol
from tests.exam_samples import ANIMAL

SPECIES = available()
SCOPES = tuple(Scope)
START = Moment(1_790_000_000_000, 60)
PEOPLE = (
    Person("a" * 32, "Ines Corvo", Role.TECHNICIAN, "IC"),
    Person("b" * 32, "Dr Mar Ondine", Role.VETERINARIAN, "MO"),
    Person("d" * 32, "Jo Wick", Role.VOLUNTEER, "JW"),
)
SYLLABLES = ("bra", "to", "mi", "len", "sug", "pe", "ora", "vin", "dus", "kel")


@dataclass
class Drive:
    """One exam being made by chance.

    Attributes:
        chance: Chooses every step.
        typed: Words typed into what still stands, by what holds them.
        struck: Claims struck that still stand: (key, words, reason).
    """

    protocol: SpeciesProtocol
    exam: Exam
    chance: Random
    typed: dict[object, tuple[str, ...]] = field(default_factory=dict)
    refused: int = 0
    steps: int = 0
    number: int = 0

    def new_id(self) -> str:
        self.number += 1
        return f"{self.number:032x}"

    def words(self) -> str:
        """Type some words that no protocol holds."""
        self.number += 1
        syllables = self.chance.choices(SYLLABLES, k=3)
        return f"{''.join(syllables)}{self.number}"

    def by(self) -> Attribution:
        """Let somebody examine, and perhaps somebody else enter it, perhaps late."""
        examiner = self.chance.choice(PEOPLE)
        scribe = self.chance.choice((examiner, examiner, *PEOPLE))
        self.steps += 1
        at = Moment(START.utc_ms + self.steps * 20_000, START.offset_min)
        late = self.chance.choice((0, 0, 0, 900_000))
        entered = Moment(at.utc_ms + late, at.offset_min)
        for person in (examiner, scribe):
            if self.exam.person(person.person_id) is None:
                self.exam = with_person(self.exam, person)
        return Attribution(examiner.person_id, scribe.person_id, at, entered)

    def key(self) -> str:
        return self.chance.choice(keys_offered(self.exam, self.protocol))

    def attempt(self, change) -> bool:
        """Make a change; a refusal changes nothing."""
        try:
            self.exam = change(self.exam)
        except ExamError:
            self.refused += 1
            return False
        return True

    def settle_typed(self) -> None:
        """Forget words whose place was answered otherwise since."""
        exam = self.exam
        found = {
            f.finding_id for entry in exam.regions.values() for f in entry.findings
        }
        self.typed = {
            place: words
            for place, words in self.typed.items()
            if place[0] not in {"finding", "reason", "struck", "vital"}
            or (place[0] == "finding" and place[1] in found)
            or (place[0] == "reason" and exam.entry(place[1]).reason in words)
            or (place[0] == "struck" and _is_struck(exam, place, words))
            or (place[0] == "vital" and _says(exam.vital(place[1]), words))
        }


def _is_struck(exam, place, words):
    struck = exam.entry(place[1]).struck
    return any(s.clause_id == place[2] and s.reason in words for s in struck)


def _says(entry, words):
    return entry.note in words or entry.reason in words


def clean(drive: Drive) -> None:
    """Call a part free of abnormality, sometimes with claims struck."""
    key = drive.key()
    region = drive.protocol.region(split_key(key)[0])
    by = drive.by()
    keys = (key,)
    if drive.chance.random() < 0.3:
        keys = tuple(
            k
            for k in region.answer_keys()
            if k in keys_offered(drive.exam, drive.protocol)
        )
    left = [c for k in keys for c in rest_claims(drive.exam, region, k)]
    struck = tuple(
        (clause.clause_id, drive.words())
        for clause in dict.fromkeys(left)
        if drive.chance.random() < 0.15
    )
    own = any(has_own_words(drive.exam, region, k) for k in keys)
    denied = None
    if own:
        denied = tuple(c.clause_id for c in left if drive.chance.random() < 0.4)
        struck = tuple(s for s in struck if s[0] not in denied)
    words = words_for(drive.exam)
    made = drive.attempt(
        lambda e: assert_no_abnormality(
            e, drive.protocol, keys, words, by, struck, None, denied
        )
    )
    if made:
        for one in keys:
            for clause_id, reason in struck:
                drive.typed["struck", one, clause_id] = (reason,)


def find(drive: Drive) -> None:
    """Find something: a term or own words, with some details."""
    key, by, chance = drive.key(), drive.by(), drive.chance
    region_id, side = split_key(key)
    region = drive.protocol.region(region_id)
    term = chance.choice((*region.terms, None))
    label = clause_words_of(term, drive) if term else drive.words()
    details = tuple(drive.words() for _ in range(3))
    qualities = ()
    if term and term.qualities and chance.random() < 0.6:
        qualities = (chance.choice(term.qualities),)
    finding = Finding(
        drive.new_id(),
        label,
        by,
        term_id=term.term_id if term else "",
        side=side,
        qualities=qualities,
        place=details[0],
        extent=details[1],
        note=details[2],
        severity=chance.choice((None, *Severity)),
        call=chance.choice(tuple(Call)),
        grades=_graded(drive, term),
        lump=_lump(drive) if term and term.is_lump else None,
        mark=_mark(drive, side),
    )
    urgent_id = drive.new_id()
    if drive.attempt(lambda e: add_finding(e, drive.protocol, key, finding, urgent_id)):
        said = details if term else (label, *details)
        drive.typed["finding", finding.finding_id] = said


def _mark(drive, side):
    """Mark every second find where it can be seen."""
    if drive.chance.random() < 0.5:
        return None
    views = {"left": (MarkView.LEFT, MarkView.LEFT_HEAD), "right": (MarkView.RIGHT,)}
    view = drive.chance.choice(views.get(side, tuple(MarkView)))
    x, y = drive.chance.randrange(1001), drive.chance.randrange(1001)
    mark = BodyMark(next_number(drive.exam), view, x, y)
    return replace(mark, closer=_closer(drive, mark.side_of_view))


def _closer(drive, side):
    """Give every third mark a place on a closer drawing of its own side."""
    if side == "midline" or drive.chance.random() < 0.67:
        return None
    closer = drive.chance.choice(tuple(CloserView))
    is_right = side == "right"
    # In the mouth and below the udder the animal's right is at the left.
    x = drive.chance.randrange(450) + (0 if is_right else 551)
    limb = OwnSide(side) if closer.aspect else None
    return CloserPlace(closer, x, drive.chance.randrange(1001), limb)


def measure_again(drive: Drive) -> None:
    """Find an earlier one again, and measure it."""
    if not drive.exam.earlier:
        return
    known = drive.chance.choice(drive.exam.earlier)
    finding = Finding(drive.new_id(), drive.words(), drive.by(), lump=_lump(drive))
    urgent_id = drive.new_id()
    if drive.attempt(
        lambda e: find_again(e, drive.protocol, known.finding_id, finding, urgent_id)
    ):
        drive.typed["finding", finding.finding_id] = (finding.words,)


def clause_words_of(term, drive):
    is_plain = words_for(drive.exam) is Role.VOLUNTEER and term.plain
    return term.plain if is_plain else term.label


def _graded(drive, term):
    scale = drive.protocol.scale(term.scale_id) if term and term.scale_id else None
    if scale is None:
        return ()
    return (give_grade(scale, drive.chance.choice(scale.grades).value),)


def _lump(drive):
    number = drive.chance.randrange(2, 90)
    size = LumpSize(
        (Reading(str(number), "mm", Decimal(number)),),
        drive.chance.choice(tuple(LumpTool)),
        "along the body",
        "Ines Corvo",
    )
    return Lump(drive.chance.choice(tuple(LumpDepth)), size)


def photograph(drive: Drive) -> None:
    """Add a photograph of a find, of a part, or of neither; or say it otherwise."""
    words, by = drive.words(), drive.by()
    found = [f.finding_id for e in drive.exam.regions.values() for f in e.findings]
    found += [one.finding_id for one in drive.exam.earlier]
    finding_id = drive.chance.choice((*found, ""))
    key = drive.chance.choice((drive.key(), ""))
    sha256 = f"{drive.number:064x}"
    if drive.exam.photos and drive.chance.random() < 0.3:
        known = drive.chance.choice(drive.exam.photos)
        sha256, change = known.sha256, change_photo
    else:
        change = add_photo
    photo = Photo(sha256, words, key, "", finding_id, 9, 9, 9, by)
    if drive.attempt(lambda e: change(e, drive.protocol, photo)):
        drive.typed["photo", sha256] = (words,)


def take_back(drive: Drive) -> None:
    """Take a find back."""
    found = [
        (key, f.finding_id)
        for key, entry in drive.exam.regions.items()
        for f in entry.findings
    ]
    if found:
        key, finding_id = drive.chance.choice(found)
        drive.attempt(lambda e: remove_finding(e, drive.protocol, key, finding_id))


def not_examined(drive: Drive) -> None:
    """Say that a part was not examined."""
    key, by, reason = drive.key(), drive.by(), drive.words()
    if drive.attempt(lambda e: mark_not_examined(e, drive.protocol, key, reason, by)):
        drive.typed["reason", key] = (reason,)


def not_present(drive: Drive) -> None:
    """Say that a part is not there."""
    key, by = drive.key(), drive.by()
    reason = drive.chance.choice(("other sex", drive.words()))
    lost = drive.new_id()
    made = drive.attempt(
        lambda e: mark_not_present(e, drive.protocol, key, reason, by, lost)
    )
    if made:
        drive.typed["reason", key] = (reason,)


def remark(drive: Drive) -> None:
    """Write a remark."""
    key, words = drive.key(), drive.words()
    if drive.attempt(lambda e: set_remark(e, drive.protocol, key, words)):
        drive.typed["remark", key] = (words,)


def vital(drive: Drive) -> None:
    """Answer a vital by a value, a grade, words, or a reason."""
    offered = vitals_in_scope(drive.exam, drive.protocol)
    if not offered:
        return
    asked = drive.chance.choice(offered)
    by, note = drive.by(), drive.words()
    entry = _vital_entry(drive, asked, note)
    ids = tuple(drive.new_id() for _ in range(9))
    if drive.attempt(
        lambda e: record_vital(e, drive.protocol, asked.vital_id, entry, by, ids)
    ):
        drive.typed["vital", asked.vital_id] = (note,)


def _vital_entry(drive, asked, note):
    chance = drive.chance
    if chance.random() < 0.25:
        return VitalEntry(reason=note)
    if asked.kind is VitalKind.GRADE:
        scale = drive.protocol.scale(asked.scale_id)
        graded = give_grade(scale, chance.choice(scale.grades).value)
        return VitalEntry(grade=graded, note=note)
    if asked.choices and (asked.measure is None or chance.random() < 0.4):
        choice = chance.choice(asked.choices)
        return VitalEntry(words=(choice.label,), values=(choice.value,), note=note)
    number = chance.randrange(1, 400)
    reading = Reading(str(number), asked.measure.unit, Decimal(number))
    state = chance.choice(tuple(RateState)) if asked.kind is VitalKind.RATE else None
    return VitalEntry(reading=reading, state=state, note=note)


def clear(drive: Drive) -> None:
    """Take the answer of a vital back."""
    if drive.exam.vitals:
        vital_id = drive.chance.choice(sorted(drive.exam.vitals))
        drive.attempt(lambda e: clear_vital(e, drive.protocol, vital_id))


def earlier(drive: Drive) -> None:
    """Say what became of an earlier finding."""
    if drive.exam.earlier:
        known = drive.chance.choice(drive.exam.earlier)
        outcome = drive.chance.choice(tuple(EarlierOutcome))
        drive.attempt(
            lambda e: answer_earlier(e, drive.protocol, known.finding_id, outcome)
        )


def done(drive: Drive) -> None:
    """Give, sample or do something."""
    by, first, more = drive.by(), drive.words(), drive.words()
    changes = (
        lambda e: record_visit(e, Given(first, by, more)),
        lambda e: record_visit(e, Procedure(first, by, note=more)),
        lambda e: record_visit(e, Sample(first, by, result=more)),
    )
    if drive.attempt(drive.chance.choice(changes)):
        drive.typed["done", drive.number] = (first, more)


STEPS = (
    (clean, 8),
    (find, 6),
    (take_back, 1),
    (not_examined, 2),
    (not_present, 2),
    (remark, 2),
    (vital, 5),
    (clear, 1),
    (earlier, 4),
    (measure_again, 1),
    (photograph, 1),
    (done, 1),
)


def begin(species, scope, sex, seed, earlier_of=None) -> Drive:
    """Begin an exam of an invented animal.

    Args:
        earlier_of: A closed exam of the same animal, whose findings are asked again.
    """
    chance = Random(seed)
    loaded = load_protocol(species)
    protocol = loaded.protocol
    starter = chance.choice(PEOPLE)
    animal = replace(ANIMAL, species=species, sex=sex)
    focus = ()
    if scope is Scope.FOCUSED:
        regions = [r for r in protocol.regions if not r.sexes]
        focus = tuple(r.region_id for r in regions if chance.random() < 0.4)
        focus = focus or (regions[0].region_id,)
    stage = chance.choice((*protocol.life_stages, None))
    exam = Exam(
        exam_id=f"{seed % 16**32:032x}",
        animal=animal,
        scope=scope,
        setting=chance.choice(tuple(Setting)),
        protocol_id=protocol.protocol_id,
        protocol_hash=loaded.content_hash,
        started=START,
        started_by=starter.person_id,
        life_stage=stage.stage_id if stage else "",
        focus=focus,
        people=(starter,),
        earlier=open_findings(earlier_of, protocol) if earlier_of else (),
        marks_before=highest_number(earlier_of) if earlier_of else 0,
    )
    return Drive(protocol, exam, chance)


def drive_on(drive: Drive, steps: int) -> None:
    """Take steps by chance."""
    ways, weights = zip(*STEPS, strict=True)
    for step in drive.chance.choices(ways, weights, k=steps):
        step(drive)
        drive.settle_typed()


def finish(drive: Drive) -> Exam | None:
    """Close the exam: whole, or stopped early; ``None`` if it cannot be closed."""
    if not keys_offered(drive.exam, drive.protocol):
        return None
    if drive.chance.random() < 0.5:
        answer_the_rest(drive)
    else:
        by, note = drive.by(), drive.words()
        reason = drive.chance.choice(tuple(StopReason))
        drive.attempt(lambda e: stop_early(e, drive.protocol, reason, note, by))
        drive.typed["stop", ""] = (note,)
    answer_urgent_signs(drive)
    closer = drive.chance.choice(PEOPLE)
    try:
        return close(drive.exam, drive.protocol, closer, START)
    except ExamError:
        return None


def answer_the_rest(drive: Drive) -> None:
    """Answer what is open, each part and vital on its own."""
    for key in (*keys_offered(drive.exam, drive.protocol),) * 3:
        if drive.exam.entry(key).state is RegionState.UNEXAMINED:
            _answer_part(drive, key)
    for asked in required_vitals(drive.exam, drive.protocol):
        if not drive.exam.vital(asked.vital_id).is_answered:
            _answer_vital(drive, asked)
    for known in drive.exam.earlier:
        if known.outcome is None:
            left = (known.finding_id, EarlierOutcome.NOT_LOOKED_FOR)
            drive.attempt(lambda e, k=left: answer_earlier(e, drive.protocol, *k))
    if drive.exam.scope is Scope.INTAKE:
        scan = ChipScan(INTAKE_SLOT, (), 2, "reader", drive.by())
        drive.attempt(lambda e: record_visit(e, scan))
    drive.settle_typed()


def _answer_part(drive: Drive, key: str) -> None:
    by, words = drive.by(), words_for(drive.exam)
    if drive.attempt(
        lambda e: assert_no_abnormality(e, drive.protocol, (key,), words, by, denied=())
    ):
        return
    reason = drive.words()
    drive.attempt(lambda e: mark_not_examined(e, drive.protocol, key, reason, by))
    drive.typed["reason", key] = (reason,)


def _answer_vital(drive: Drive, asked) -> None:
    by, note = drive.by(), drive.words()
    entry = _vital_entry(drive, asked, note)
    ids = tuple(drive.new_id() for _ in range(9))
    drive.attempt(
        lambda e: record_vital(e, drive.protocol, asked.vital_id, entry, by, ids)
    )
    drive.typed["vital", asked.vital_id] = (note,)


def answer_urgent_signs(drive: Drive) -> None:
    """Answer every urgent sign."""
    for sign in drive.exam.urgent:
        if not sign.is_answered:
            whom, by = drive.words(), drive.by()
            answer = UrgentAnswer(AnswerKind.TOLD, by, whom)
            drive.attempt(lambda e, s=sign.entry_id, a=answer: answer_urgent(e, s, a))
            drive.typed["urgent", sign.entry_id] = (whom,)


def correct(drive: Drive, first: Exam) -> Exam | None:
    """Correct a closed exam by a few more steps."""
    reason, by = drive.words(), drive.by()
    drive.exam = begin_correction(first, "0" * 64, reason, by)
    drive_on(drive, 4)
    answer_the_rest(drive)
    answer_urgent_signs(drive)
    closer = first.person(first.closing.closed_by)
    try:
        made = close_correction(drive.exam, first, drive.protocol, closer, START)
    except ExamError:
        return None
    drive.typed["correction", ""] = (reason,)
    return made


def go_on(drive: Drive, first: Exam) -> Exam | None:
    """Continue a closed exam that left something open, and close that too."""
    if not gaps(first, drive.protocol):
        return None
    starter = drive.chance.choice(PEOPLE)
    later = Moment(START.utc_ms + 7_200_000, START.offset_min)
    exam_id = f"{drive.chance.getrandbits(128):032x}"
    drive.exam = continuation(first, drive.protocol, exam_id, starter, later)
    drive.typed = {}
    if not keys_offered(drive.exam, drive.protocol):
        return None
    drive_on(drive, 8)
    return finish(drive)


__all__ = ["SCOPES", "SPECIES", "Drive", "Sex", "begin", "clause_words", "correct"]

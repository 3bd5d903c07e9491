"""The changes a region's row, sheet and screen can make, each made by its editor.

A change of both sides is one step: it is shown, saved and taken back together.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from exam_app.app.exam_editor import Edit, change_maker
from exam_app.app.view.region_presenter import term_label
from exam_app.domain.animal.body_marks import BodyMark
from exam_app.domain.exam.denials import rest_claims, with_nothing_said
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.finding_transitions import (
    add_finding,
    find_again,
    remove_finding,
)
from exam_app.domain.exam.findings import EarlierOutcome, Finding
from exam_app.domain.exam.late_entries import keep_time_seen
from exam_app.domain.exam.marks import known_earlier, next_number
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.exam.transitions import (
    answer_earlier,
    assert_no_abnormality,
    mark_not_examined,
    mark_not_present,
    open_urgent,
    park,
    set_claim,
    set_entry,
    set_remark,
)
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.exam.visit import BiteHistory, Bitten
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.lumps.lumps import Lump
from exam_app.domain.protocol.protocol import Region, Term, split_key
from exam_app.domain.protocol.urgent_signs import UrgentSign
from exam_app.language.catalogue import to_translate


@change_maker
def what_is_left(
    exam: Exam,
    edit: Edit,
    keys: tuple[str, ...],
    struck: tuple[tuple[str, str], ...],
    instead: tuple[str, ...],
    denied: tuple[str, ...] | None,
) -> Exam:
    """Record a sentence with parts of it left out, each side without what is denied.

    Args:
        denied: What own words deny; ``None``: not asked, and refused beside them.
    """
    words = words_for(exam)
    for key in keys:
        region = edit.protocol.region(split_key(key)[0])
        held = rest_claims(exam, region, key) if region else ()
        left = {c.clause_id for c in held} - {*(denied or ())}
        exam = assert_no_abnormality(
            exam,
            edit.protocol,
            (key,),
            words,
            edit.by,
            tuple((c, reason) for c, reason in struck if c in left),
            tuple(c for c in instead if c in left),
            denied,
        )
    return exam


@change_maker
def added(
    exam: Exam,
    edit: Edit,
    region: Region,
    clause_ids: tuple[str, ...],
    *,
    is_added: bool,
) -> Exam:
    """Put claims beyond a routine exam into this exam's sentence, or take them out."""
    for clause_id in clause_ids:
        exam = set_claim(
            exam, edit.protocol, region.region_id, clause_id, is_added=is_added
        )
    return exam


@change_maker
def said_again(exam: Exam, edit: Edit, key: str) -> Exam:
    """Say the sentence of an answered part again, with what was added since."""
    entry = exam.entry(key)
    return assert_no_abnormality(
        exam,
        edit.protocol,
        (key,),
        words_for(exam),
        edit.by,
        tuple((item.clause_id, item.reason) for item in entry.struck),
        tuple(item.clause_id for item in entry.instead),
    )


@change_maker
def not_examined(exam: Exam, edit: Edit, keys: tuple[str, ...], reason: str) -> Exam:
    """Record that one part, or both sides, were not examined, and why."""
    for key in keys:
        exam = mark_not_examined(exam, edit.protocol, key, reason, edit.by)
    return exam


@change_maker
def not_present(exam: Exam, edit: Edit, keys: tuple[str, ...], reason: str) -> Exam:
    """Record that one part, or both sides, are not there, and why."""
    for key in keys:
        exam = mark_not_present(
            exam, edit.protocol, key, reason, edit.by, edit.new_id()
        )
    return exam


@change_maker
def remark(exam: Exam, edit: Edit, keys: tuple[str, ...], text: str) -> Exam:
    """Write a remark beside one part, or both sides."""
    for key in keys:
        exam = set_remark(exam, edit.protocol, key, text.strip())
    return exam


@change_maker
def later(exam: Exam, edit: Edit, keys: tuple[str, ...], *, parked: bool) -> Exam:
    """Put one part, or both sides, off to later today, or take them up again."""
    for key in keys:
        exam = park(exam, edit.protocol, key, parked=parked)
    return exam


@change_maker
def open_again(exam: Exam, _edit: Edit, keys: tuple[str, ...]) -> Exam:
    """Take back what was concluded of a part; findings and remarks stand."""
    for key in keys:
        entry = with_nothing_said(exam.entry(key))
        if exam.entry(key).conclusion is Conclusion.NOT_PRESENT:
            # That it is not there is no find of its own.
            found = tuple(f for f in entry.findings if not f.is_loss)
            entry = replace(entry, findings=found)
        exam = set_entry(exam, key, entry)
    return exam


@dataclass(frozen=True, slots=True)
class Found:
    """One find on one side, or the same on both: the parts of one sheet.

    Attributes:
        findings: (region key, finding id) for each side; one or two.
    """

    region: Region
    findings: tuple[tuple[str, str], ...]
    term: Term | None = None

    @property
    def keys(self) -> tuple[str, ...]:
        """The region keys this find is recorded for."""
        return tuple(key for key, _ in self.findings)


@change_maker
def found(
    exam: Exam,
    edit: Edit,
    find: Found,
    words: str = "",
    mark: BodyMark | None = None,
) -> Exam:
    """Record a term, or own words, for one side or both.

    Args:
        mark: Where the first of them is on a drawing; it is numbered here.
    """
    for key, finding_id in find.findings:
        label = term_label(exam, find.term) if find.term else words.strip()
        finding = Finding(
            finding_id,
            label,
            edit.by,
            term_id=find.term.term_id if find.term else "",
            side=split_key(key)[1],
        )
        if mark is not None and key == find.keys[0]:
            finding = _with_mark(exam, key, finding, mark)
        exam = add_finding(exam, edit.protocol, key, finding, edit.new_id())
    return exam


@change_maker
def detailed(exam: Exam, edit: Edit, /, find: Found, **details: object) -> Exam:
    """Add to what was noted of a find, on each side it was recorded for."""
    for key, finding_id in find.findings:
        before = finding_of(exam, key, finding_id)
        if before is not None:
            seen = keep_time_seen(before.attribution, edit.by)
            after = replace(before, attribution=seen, **details)  # type: ignore[arg-type]
            exam = add_finding(exam, edit.protocol, key, after, edit.new_id())
    return exam


def _with_mark(exam: Exam, key: str, finding: Finding, mark: BodyMark) -> Finding:
    """Give a finding its mark: with the number it had, or the next one."""
    number = finding.mark.number if finding.mark else next_number(exam)
    side = split_key(key)[1] or mark.side
    return replace(finding, side=side, mark=replace(mark, number=number))


@change_maker
def mark_placed(
    exam: Exam, edit: Edit, key: str, finding_id: str, mark: BodyMark
) -> Exam:
    """Mark a finding on a drawing, or put its mark elsewhere; it keeps its number."""
    before = finding_of(exam, key, finding_id)
    if before is None:
        return exam
    seen = keep_time_seen(before.attribution, edit.by)
    after = replace(_with_mark(exam, key, before, mark), attribution=seen)
    return add_finding(exam, edit.protocol, key, after, edit.new_id())


@change_maker
def found_again(
    exam: Exam, edit: Edit, earlier_id: str, finding_id: str, lump: Lump
) -> Exam:
    """Record that a lump of an earlier record was measured again."""
    known = known_earlier(exam, earlier_id)
    region = edit.protocol.region(split_key(known.key)[0])
    term = region.term(known.term_id) if region else None
    words = term_label(exam, term) if term else "lump"
    term_id = term.term_id if term else ""
    finding = Finding(finding_id, words, edit.by, term_id=term_id, lump=lump)
    return find_again(exam, edit.protocol, earlier_id, finding, edit.new_id())


def finding_of(exam: Exam, key: str, finding_id: str) -> Finding | None:
    """Return a finding of an exam, if it is still there."""
    found_there = exam.entry(key).findings
    return next((f for f in found_there if f.finding_id == finding_id), None)


@change_maker
def removed(exam: Exam, edit: Edit, find: Found) -> Exam:
    """Take a find back, on each side it was recorded for."""
    for key, finding_id in find.findings:
        exam = remove_finding(exam, edit.protocol, key, finding_id)
    return exam


@change_maker
def earlier_answered(
    exam: Exam, edit: Edit, finding_ids: Sequence[str], outcome: EarlierOutcome
) -> Exam:
    """Say what became of findings of an earlier record."""
    for finding_id in finding_ids:
        exam = answer_earlier(exam, edit.protocol, finding_id, outcome)
    return exam


TELL_NOW = to_translate("tell the veterinarian now")


@change_maker
def urgent_noticed(
    exam: Exam, edit: Edit, sign: UrgentSign | None, words: str, label: str
) -> Exam:
    """Open an urgent sign from the urgent button: one of the list, or own words.

    Args:
        sign: A sign of the protocol, or ``None`` for own words.
        words: Own words, or what is to be added to the sign.
        label: The sign as shown.
    """
    entry = UrgentEntry(
        entry_id=edit.new_id(),
        label=label if sign else words.strip(),
        attribution=edit.by,
        sign_id=sign.sign_id if sign else "",
        action=sign.action if sign else TELL_NOW,
        note=words.strip() if sign else "",
    )
    return open_urgent(exam, entry)


SIGN_ID = "bit_a_person"
_WHO = to_translate("the examiner")
WORDS = to_translate("bitten or scratched")


@change_maker
def examiner_bitten(exam: Exam, edit: Edit, label: str) -> Exam:
    """Record the examiner's bite with its time, and open the sign that is told.

    Args:
        label: The sign as shown.
    """
    bite = exam.bite or BiteHistory()
    name = next(p.name for p in exam.people if p.person_id == edit.by.examined_by)
    if not any(one.is_examiner and one.name in ("", name) for one in bite.blocks):
        when = f"{edit.by.observed.local():%Y-%m-%d %H:%M}"
        own = Bitten(WORDS, when, name=name, is_examiner=True)
        bite = bite.with_blocks((*bite.blocks, own))
    noticed = urgent_noticed(edit.protocol.sign(SIGN_ID), _WHO, label)
    return noticed(record_visit(exam, bite), edit)


def with_examiners_name(exam: Exam, bite: BiteHistory, by: Attribution) -> BiteHistory:
    """Return bites that name which examiner was bitten: who examined at the entry.

    A name that stands is kept.
    """
    name = next((p.name for p in exam.people if p.person_id == by.examined_by), "")
    return bite.with_blocks(
        tuple(
            replace(one, name=name) if one.is_examiner and not one.name else one
            for one in bite.blocks
        )
    )

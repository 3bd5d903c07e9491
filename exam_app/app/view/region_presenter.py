"""What a region's row and screen say: the sentence before the tap, the answer after it.

Everything here is text; where a side is named, it is the animal's own.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from exam_app.app.view.rest_presenter import (
    capital,
    lowered,
    only_result,
    parted,
    sentence_said,
    sentence_to_say,
    side_label,
    with_side,
)
from exam_app.domain.exam.denials import open_claims, rest_claims
from exam_app.domain.exam.exam import (
    Exam,
    clauses_for,
    keys_offered,
    regions_offered,
    words_for,
)
from exam_app.domain.exam.findings import EarlierOutcome, Finding
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import RegionEntry, RegionState
from exam_app.domain.exam.transitions import clause_words
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, Term, split_key
from exam_app.domain.wording.exam_wording import describe_finding
from exam_app.domain.wording.kept_words import reason_shown
from exam_app.language.catalogue import to_translate, tr, tr_plural

BOTH = "both"
OUTCOME_LABELS = (
    (EarlierOutcome.GONE, to_translate("Gone")),
    (EarlierOutcome.SAME, to_translate("Same")),
    (EarlierOutcome.CHANGED, to_translate("Changed")),
    (EarlierOutcome.NOT_LOOKED_FOR, to_translate("Not looked for")),
)


class Sign(Enum):
    """The sign beside a state; the word always stands with it."""

    OPEN = "open"
    NORMAL = "normal"
    FOUND = "found"
    GAP = "gap"
    ABSENT = "absent"
    PARKED = "parked"


_SIGNS = {
    RegionState.UNEXAMINED: Sign.OPEN,
    RegionState.NO_ABNORMALITY: Sign.NORMAL,
    RegionState.WITH_FINDINGS: Sign.FOUND,
    RegionState.PARTLY: Sign.GAP,
    RegionState.RESULT: Sign.NORMAL,
    RegionState.NOT_EXAMINED: Sign.GAP,
    RegionState.NOT_PRESENT: Sign.ABSENT,
}


@dataclass(frozen=True, slots=True)
class FindingLine:
    """One finding as a row shows it."""

    finding_id: str
    text: str
    is_urgent: bool


@dataclass(frozen=True, slots=True)
class Answer:
    """One region key as a row shows it.

    Attributes:
        side: ``Left``, ``Right`` or empty.
        title: The state in words, or "Later today" for a parked part.
        lines: What was said beyond the state: reason, struck claims, remark.
    """

    key: str
    side: str
    sign: Sign
    title: str
    lines: tuple[str, ...]
    findings: tuple[FindingLine, ...]
    is_open: bool


@dataclass(frozen=True, slots=True)
class Group:
    """A heading of the list and its regions, head to tail."""

    title: str
    regions: tuple[Region, ...]


def groups(exam: Exam, protocol: SpeciesProtocol) -> tuple[Group, ...]:
    """Return the headings of an exam's list with their regions, in order.

    A part that a routine exam does not look into stands there too, in its place.
    """
    found: dict[str, list[Region]] = {}
    for region in regions_offered(exam, protocol):
        found.setdefault(region.group, []).append(region)
    return tuple(Group(title, tuple(regions)) for title, regions in found.items())


def keys_of(exam: Exam, protocol: SpeciesProtocol, region: Region) -> tuple[str, ...]:
    """Return the keys of a region that this exam can answer: one, or left and right."""
    wanted = set(keys_offered(exam, protocol))
    return tuple(key for key in region.answer_keys() if key in wanted)


def label_of(exam: Exam, region: Region) -> str:
    """Name a region, in plain words for volunteers."""
    is_plain = words_for(exam) is Role.VOLUNTEER and region.plain_label
    return tr(region.plain_label if is_plain else region.label)


def term_label(exam: Exam, term: Term) -> str:
    """Name a term as it is recorded, in plain words for volunteers; ``tr`` shows it."""
    return (
        term.plain if words_for(exam) is Role.VOLUNTEER and term.plain else term.label
    )


def claims(exam: Exam, region: Region) -> tuple[tuple[str, str], ...]:
    """Return the claims this exam makes of a region as (clause id, words).

    One that is denied on every side is not among them.
    """
    words = words_for(exam)
    held = {
        clause.clause_id
        for key in region.answer_keys()
        for clause in rest_claims(exam, region, key)
    }
    return tuple(
        (c.clause_id, tr(clause_words(c, words)))
        for c in clauses_for(exam, region)
        if c.clause_id in held
    )


def not_seen(exam: Exam, region: Region, struck: Sequence[tuple[str, str]]) -> str:
    """Return what the same tap will leave out, and why; empty without a strike.

    Args:
        struck: Claims left out, as (clause id, why).
    """
    words = dict(claims(exam, region))
    out = parted(region, struck)
    unseen = "; ".join(
        f"{words[name]} ({reason_shown(reason)})" for name, reason in out.struck
    )
    denied = "; ".join(words[name] for name in out.denied)
    named = ((tr("Not seen"), unseen), (tr("Denied by what was found"), denied))
    return ". ".join(f"{label}: {said}" for label, said in named if said)


def answer_head(exam: Exam, keys: tuple[str, ...]) -> str:
    """Say above a sentence whether it is recorded: unanswered looks unanswered."""
    still_open = open_keys(exam, keys)
    if not still_open:
        return tr("Recorded:")
    side = side_label(split_key(still_open[0])[1])
    if len(still_open) == len(keys) or not side:
        return tr("Not answered yet. One tap records:")
    return tr("{side} not answered yet. One tap records:", side=side)


def normal_label(side: str, struck: int = 0) -> str:
    """Name the button that records the sentence, with its side and what is left out."""
    label = tr("{side}: no abnormality", side=side) if side else tr("No abnormality")
    return _but_not_seen(label, struck)


def _but_not_seen(said: str, struck: int) -> str:
    if not struck:
        return said
    return tr("{said}, but {count} not seen", said=said, count=struck)


def tap_label(name: str, side: str, result: str, struck: int) -> str:
    """Name the button that records a part's sentence: the part, and what it says.

    Args:
        name: Of the part.
        side: As it stands behind the name; may be empty.
        result: All that the tap records, where that is a result; else empty.
        struck: How many claims are left out as not seen.
    """
    where = f"{name}, {side.lower()}" if side else name
    said = result.lower() or tr("no abnormality")
    return _but_not_seen(f"{where}: {said}", struck)


def answered_words(answers: Sequence[Answer]) -> tuple[tuple[str, str], ...]:
    """Return what the folded line of a part says, as (key, words).

    Two sides that are simply without abnormality are said in one; a side that is not
    answered says nothing, unless it was put off.
    """
    plain = [a for a in answers if a.sign is Sign.NORMAL and not a.lines]
    if len(plain) == len(answers) > 1 and len({a.title for a in plain}) == 1:
        return ((answers[0].key, tr("Both: {said}", said=answers[0].title.lower())),)
    return tuple((a.key, _in_short(a)) for a in answers if _in_short(a))


def _in_short(answer: Answer) -> str:
    is_said = answer.findings or not answer.is_open or answer.sign is Sign.PARKED
    title = "" if answer.findings or not is_said else answer.title
    found = [line.text for line in answer.findings]
    said = "; ".join(filter(None, (title, *found, *answer.lines)))
    return with_side(answer.side, said) if said else ""


def deed(
    exam: Exam,
    region: Region,
    keys: tuple[str, ...],
    left_out: Sequence[tuple[str, str]],
) -> str:
    """Name what recording the sentence of some sides does, as its undo says it."""
    if any(exam.entry(key).findings for key in keys):
        return tr("the rest, no abnormality")
    if parted(region, left_out).struck:
        return tr("partly examined")
    result = only_result(exam, region, keys[0], left_out)
    return result.lower() or tr("no abnormality")


def sentence_shown(
    exam: Exam,
    region: Region,
    keys: tuple[str, ...],
    struck: Sequence[tuple[str, str]] | None = None,
) -> str:
    """Return the sentence a row shows: to be recorded, or as it was recorded.

    Where the sides differ each is named. Empty when every side was answered otherwise.

    Args:
        struck: Claims left out before, as (clause id, why); ``None``: by habit.
    """
    still_open = open_keys(exam, keys)
    texts = (
        {key: sentence_to_say(exam, region, key, struck) for key in still_open}
        if still_open
        else {
            key: sentence_said(exam.entry(key))
            for key in keys
            if not exam.entry(key).findings
        }
    )
    said = {key: text for key, text in texts.items() if text}
    if len(set(said.values())) < 2:
        return next(iter(said.values()), "")
    return " / ".join(
        f"{side_label(split_key(key)[1])}: {text}" for key, text in said.items()
    )


def answer_of(
    exam: Exam, protocol: SpeciesProtocol, key: str, entry: RegionEntry
) -> Answer:
    """Return a region key as its row shows it."""
    is_open = entry.state is RegionState.UNEXAMINED
    is_parked = is_open and entry.is_parked
    title = tr("Later today") if is_parked else _title(entry)
    return Answer(
        key=key,
        side=side_label(split_key(key)[1]),
        sign=Sign.PARKED if is_parked else _SIGNS[entry.state],
        title=title,
        lines=tuple(_lines(exam, protocol.region(split_key(key)[0]), key)),
        findings=tuple(_finding_line(exam, protocol, key, f) for f in entry.findings),
        is_open=is_open,
    )


def _title(entry: RegionEntry) -> str:
    if entry.state is RegionState.RESULT:
        return capital(tr(entry.instead[0].reason))
    if entry.state is RegionState.NO_ABNORMALITY:
        return tr("No abnormality")
    return capital(tr(entry.state.value))


def _lines(exam: Exam, region: Region | None, key: str) -> list[str]:
    entry = exam.entry(key)
    lines = []
    if entry.reason:
        lines.append(reason_shown(entry.reason))
    if entry.findings and (entry.asserted or entry.instead):
        rest = sentence_said(entry)
        lines.append(tr("the rest: {rest}", rest=lowered(rest)))
    if region and entry.asserted and entry.state is RegionState.UNEXAMINED:
        words = words_for(exam)
        still = [tr(clause_words(c, words)) for c in open_claims(exam, region, key)]
        lines.append(tr("open again: {claims}", claims="; ".join(still)))
    if taken := _photographs(exam, key):
        lines.append(taken)
    lines += [
        tr(
            "not seen: {claim} ({reason})",
            claim=tr(s.text),
            reason=reason_shown(s.reason),
        )
        for s in entry.struck
    ]
    if entry.remark:
        lines.append(tr("remark: {text}", text=entry.remark))
    if entry.attribution and entry.attribution.is_late:
        by = entry.attribution
        seen, entered = by.observed.clock(), by.entered.clock()
        late = tr(
            "late entry: seen {seen}, entered {entered}", seen=seen, entered=entered
        )
        lines.append(late)
    return lines


def _finding_line(
    exam: Exam, protocol: SpeciesProtocol, key: str, found: Finding
) -> FindingLine:
    is_urgent = found.call.value == "urgent" or any(
        sign.origin.endswith(f":{found.finding_id}") for sign in exam.urgent
    )
    # The row names the side already.
    text = describe_finding(replace(found, side=""), protocol)
    if taken := _photographs(exam, key, found.finding_id):
        text = f"{text}, {taken}"
    return FindingLine(found.finding_id, text, is_urgent)


def _photographs(exam: Exam, key: str, finding_id: str = "") -> str:
    """Count the photographs of a finding, or of a part beside those of its findings."""
    own = {found.finding_id for found in exam.entry(key).findings}
    of_key = [one for one in exam.photos if one.key == key]
    of_it = [
        one
        for one in of_key
        if (one.finding_id == finding_id if finding_id else one.finding_id not in own)
    ]
    if not of_it:
        return ""
    return tr_plural("{count} photograph", "{count} photographs", len(of_it))


def prompts(exam: Exam, region: Region) -> tuple[str, ...]:
    """Return what to look at, feel and listen for, in the staff's terms.

    They have no plain wording, so a volunteer is shown the sentence alone.
    """
    if words_for(exam) is Role.VOLUNTEER:
        return ()
    texts = (region.look, region.feel, region.listen)
    named = zip((tr("Look"), tr("Feel"), tr("Listen")), texts, strict=True)
    return tuple(f"{name}: {'; '.join(map(tr, said))}" for name, said in named if said)


def side_choices(keys: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Return the choices of a paired part, in the order they stand on the row."""
    if len(keys) < 2:
        return tuple((key, side_label(split_key(key)[1])) for key in keys)
    left, right = keys
    return ((left, tr("Left")), (BOTH, tr("Both")), (right, tr("Right")))


def keys_chosen(choice: str, keys: tuple[str, ...]) -> tuple[str, ...]:
    """Return the keys a choice of side stands for."""
    return keys if choice == BOTH else (choice,)


def open_keys(exam: Exam, keys: tuple[str, ...]) -> tuple[str, ...]:
    """Return those keys that are not answered yet."""
    return tuple(k for k in keys if exam.entry(k).state is RegionState.UNEXAMINED)


def step_name(exam: Exam, region: Region, keys: tuple[str, ...], what: str) -> str:
    """Name a change for "taken back": ``Eyes, both: redness``."""
    sides = [split_key(key)[1] for key in keys]
    side = (tr("Both") if len(sides) > 1 else side_label(sides[0])).lower()
    where = f"{label_of(exam, region)}, {side}" if side else label_of(exam, region)
    return f"{where}: {what}"

"""The sections of a record that speak of regions, in head-to-tail order."""

from collections.abc import Callable, Iterable, Sequence

from exam_app.domain.animal.body_marks import THOUSANDTHS, BodyMark, CloserPlace
from exam_app.domain.exam.denials import open_claims, rest_claims
from exam_app.domain.exam.exam import (
    Correction,
    Exam,
    keys_in_scope,
    keys_offered,
    regions_outside_scope,
    required_vitals,
    vitals_in_scope,
    vitals_not_taken,
    words_for,
)
from exam_app.domain.exam.findings import Call, EarlierFinding, Finding
from exam_app.domain.exam.marks import found_again, marked_findings
from exam_app.domain.exam.region_states import RegionEntry, RegionState
from exam_app.domain.exam.review import part_label, vital_label
from exam_app.domain.exam.transitions import clause_words
from exam_app.domain.lumps.lump_history import lump_line
from exam_app.domain.protocol.protocol import (
    SCOPE_LABELS,
    Scope,
    SpeciesProtocol,
    split_key,
)
from exam_app.domain.wording.exam_wording import (
    describe_finding,
    person_name,
    without_mark,
)
from exam_app.domain.wording.record_times import AS_STATED, TimeStyle

# Why something reads otherwise where two records are read together.
AGAIN = "answered again in a continuation"
NOT_SAID = "nothing was recorded"


def corrected_items(exam: Exam, *, again: bool = False) -> str:
    """Name what was corrected after closing, each once; empty where nothing was.

    Args:
        again: Whether what a continuation answered again is meant instead.
    """
    items = (
        one.item
        for one in exam.corrections
        if one.item and (one.reason == AGAIN) is again
    )
    return ", ".join(dict.fromkeys(items))


def correction_lines(
    exam: Exam, beside: Sequence[Correction] = (), times: TimeStyle = AS_STATED
) -> tuple[str, ...]:
    """Return a line for each correction: now, before, when, by whom and why.

    Args:
        beside: What signed notes say should read otherwise.
        times: How it says when.
    """
    own = tuple(
        f"{one.item}: {one.now or 'taken out'}; before: {one.was or NOT_SAID}. "
        f"{_who(exam, one, times)}{_why(one)}"
        for one in exam.corrections
        if one.item
    )
    noted = tuple(
        f"{one.item}: recorded {one.was or NOT_SAID}; a note says it should read: "
        f"{one.now}{_why(one)}"
        for one in beside
    )
    return (*own, *noted)


def _who(exam: Exam, one: Correction, times: TimeStyle) -> str:
    by = one.attribution
    if one.reason == AGAIN:
        return "Both stand"
    if by is None:
        return "Corrected"
    name = person_name(exam, by.entered_by)
    return f"Corrected {times.full(by.entered)} by {name}"


def _why(one: Correction) -> str:
    return f": {one.reason}" if one.reason else ""


def marks_of(exam: Exam, beside: Iterable[Correction] = ()) -> dict[str, str]:
    """Return by item what stands beside its line: what it read before, what it should.

    Args:
        beside: What signed notes say should read otherwise.
    """
    found: dict[str, list[str]] = {}
    for one in exam.corrections:
        if one.item and one.now:
            why = "ANSWERED AGAIN" if one.reason == AGAIN else "CORRECTED"
            said = f"{why}, before: {one.was or NOT_SAID}"
            found.setdefault(one.item, []).append(said)
    for one in beside:
        said = f"A NOTE SAYS IT SHOULD READ: {one.now}"
        found.setdefault(one.item, []).append(said)
    return {item: "; ".join(said) for item, said in found.items()}


def marked(line: str, exam: Exam, beside: Sequence[Correction] = ()) -> str:
    """Return a line of a record with what was corrected of it beside it.

    Args:
        line: As ``Weight: 24.6 kg``; one that was not corrected is returned as it is,
            also where something else was that is said of the same part.
        exam: The exam it was written from.
        beside: What signed notes say should read otherwise.
    """
    item, colon, words = line.partition(": ")
    is_meant = any(
        one.item == item and words in one.now for one in exam.corrections
    ) or any(one.item == item and words in one.was for one in beside)
    if not colon or not is_meant:
        return line
    return f"{line} [{marks_of(exam, beside)[item]}]"


MARKS = "Marks on the drawings"
NOT_DONE = "Not examined, or only partly"
NOT_TAKEN = "Not required and not taken"
_CALL_ORDER = (Call.URGENT, Call.VETERINARIAN_TO_LOOK, Call.NOTED)


def region_sections(
    exam: Exam, protocol: SpeciesProtocol
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return (heading, lines) of what was found, what was not, and what is left out."""

    def by_part(words_of: Callable[[RegionEntry], str]) -> tuple[str, ...]:
        return _merged(exam, protocol, lambda key: words_of(exam.entry(key)))

    again = found_again(exam)
    earlier = tuple(
        f"{part_label(exam, protocol, found.key)}: {found.summary} ({found.date}): "
        f"{_outcome(found, is_again=found.finding_id in again)}"
        for found in exam.earlier
    )
    remarks = tuple(
        f"{part_label(exam, protocol, key)}: {exam.entry(key).remark}"
        for key in keys_offered(exam, protocol)
        if exam.entry(key).remark
    )
    return (
        ("Findings", finding_lines(exam, protocol)),
        (MARKS, mark_lines(exam, protocol)),
        ("Earlier findings", earlier),
        (
            "Remarks (noted, not abnormal)",
            (*remarks, exam.remark) if exam.remark else remarks,
        ),
        (
            "No abnormality found",
            by_part(lambda part: "" if part.findings else "; ".join(part.asserted)),
        ),
        (
            "Other results",
            by_part(lambda part: "" if part.findings else "; ".join(_results(part))),
        ),
        (NOT_DONE, _not_examined(exam, protocol)),
        (
            "Not present",
            by_part(lambda part: part.reason * (part.state is RegionState.NOT_PRESENT)),
        ),
        ("Not part of this exam", _outside(exam, protocol)),
    )


def _outcome(found: EarlierFinding, *, is_again: bool) -> str:
    """Say what became of an earlier find, and that it was measured again."""
    said = found.outcome.value if found.outcome else ""
    again = "measured again, see the findings" if is_again else ""
    return "; ".join(filter(None, (said, again))) or "not answered"


def mark_lines(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return a line for each mark: its place on its drawing, and what it marks.

    Those of this exam first, then those of earlier records with their day.
    """
    days = {one.finding_id: one.date for one in exam.earlier}
    own = (
        (found.mark, days.get(found.same_as, ""), key, found.words)
        for key, found in marked_findings(exam)
    )
    again = found_again(exam)
    before = (
        (one.mark, one.date, one.key, without_mark(one))
        for one in exam.earlier
        if one.finding_id not in again
    )
    return tuple(
        _mark_line(mark, f"{part_label(exam, protocol, key)}: {words}", day)
        for mark, day, key, words in (*own, *before)
        if mark is not None
    )


def _mark_line(mark: BodyMark, words: str, day: str) -> str:
    of_day = f", of {day}" if day else ""
    places = [f"{mark.view.words}, {_place_words(mark)}"]
    if mark.closer:
        places.insert(0, f"{mark.closer.words}, {_place_words(mark.closer)}")
    return f"Mark {mark.number}{of_day}: {'; '.join(places)}: {words}"


def _place_words(place: BodyMark | CloserPlace) -> str:
    return f"{place.x} of {THOUSANDTHS} across, {place.y} of {THOUSANDTHS} down"


def all_findings(
    exam: Exam, protocol: SpeciesProtocol
) -> tuple[tuple[str, Finding], ...]:
    """Return every finding with its region key: urgent, to look, noted; in order."""
    at = {key: entry.findings for key, entry in exam.regions.items() if entry.findings}
    every = (key for region in protocol.regions for key in region.answer_keys())
    # A part that the protocol does not have stands last.
    keys = dict.fromkeys([*(key for key in every if key in at), *at])
    found = [(key, item) for key in keys for item in at[key]]
    return tuple(sorted(found, key=lambda pair: _CALL_ORDER.index(pair[1].call)))


def finding_lines(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return every finding, abnormal first, then what is said of the rest."""
    lines: list[str] = []
    for key, found in all_findings(exam, protocol):
        label = part_label(exam, protocol, key)
        told = describe_finding(found, protocol, split_key(key)[1])
        over_time = lump_line(exam, key, found)
        lines += [f"{label}: {line}" for line in (told, over_time) if line]
    for key in keys_in_scope(exam, protocol):
        rest = rest_words(exam, protocol, key)
        if exam.entry(key).state is RegionState.WITH_FINDINGS and rest:
            lines.append(f"{part_label(exam, protocol, key)}, apart from that: {rest}")
    return tuple(lines)


def _results(entry: RegionEntry) -> list[str]:
    """Return the results that stand in a claim's place, as "felt for, not felt"."""
    return [item.reason for item in entry.instead]


def rest_words(exam: Exam, protocol: SpeciesProtocol, key: str) -> str:
    """Say what was said beside a find; empty where it left nothing to say."""
    entry = exam.entry(key)
    results = _results(entry)
    if entry.asserted:
        results.insert(0, f"no abnormality found: {'; '.join(entry.asserted)}")
    if results:
        return "; ".join(results)
    if entry.reason:
        return f"not examined: {entry.reason}"
    region = protocol.region(split_key(key)[0])
    has_rest = region is not None and rest_claims(exam, region, key)
    return "not recorded" if has_rest and not entry.struck else ""


def _not_examined(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what was not examined or only partly, and why; vitals first."""
    words, required = words_for(exam), required_vitals(exam, protocol)
    left_out = vitals_not_taken(exam, protocol)
    others = [vital_label(v, words) for v in left_out if v not in required]
    is_named = others and exam.scope is not Scope.FOCUSED
    return (
        *(
            f"{vital_label(vital, words)}: {exam.vital(vital.vital_id).reason}"
            for vital in vitals_in_scope(exam, protocol)
            if exam.vital(vital.vital_id).is_gap
        ),
        *(f"{vital_label(v, words)}: NOT ANSWERED" for v in left_out if v in required),
        *((f"{NOT_TAKEN}: {'; '.join(others)}",) if is_named else ()),
        *_merged(exam, protocol, lambda key: _undone(exam, protocol, key)),
    )


def _undone(exam: Exam, protocol: SpeciesProtocol, key: str) -> str:
    entry = exam.entry(key)
    region = protocol.region(split_key(key)[0])
    if entry.state is not RegionState.UNEXAMINED:
        return _gap(entry)
    if not (entry.asserted or entry.struck) or region is None:
        return "UNEXAMINED"
    words = words_for(exam)
    still = [clause_words(c, words) for c in open_claims(exam, region, key)]
    again = f"OPEN AGAIN: {'; '.join(still)}" if still else "OPEN AGAIN"
    return "; ".join(filter(None, (again, _gap(entry))))


def _gap(entry: RegionEntry) -> str:
    if not entry.is_gap:
        return ""
    struck = [f"not seen: {item.text} ({item.reason})" for item in entry.struck]
    return "; ".join(struck) or f"not examined: {entry.reason}"


def _merged(
    exam: Exam, protocol: SpeciesProtocol, words_of: Callable[[str], str]
) -> tuple[str, ...]:
    """One line a region; left and right share a line where they read the same."""
    lines: list[str] = []
    last: tuple[str, str] | None = None
    for key in keys_in_scope(exam, protocol):
        text, region_id = words_of(key), split_key(key)[0]
        if not text:
            continue
        if last == (region_id, text):
            both = f"{part_label(exam, protocol, region_id)}, left and right"
            lines[-1] = f"{both}: {text}"
            continue
        last = (region_id, text)
        lines.append(f"{part_label(exam, protocol, key)}: {text}")
    return tuple(lines)


def _outside(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what was not part of this exam, in one line that claims nothing."""
    outside = regions_outside_scope(exam, protocol)
    names = [part_label(exam, protocol, region.region_id) for region in outside]
    if exam.scope is Scope.FOCUSED:
        left_out = vitals_not_taken(exam, protocol)
        names += [vital_label(vital, words_for(exam)) for vital in left_out]
    scope = SCOPE_LABELS[exam.scope].lower()
    line = f"{'; '.join(names)}. Not part of this {scope}, and nothing is said."
    return (line,) if names else ()

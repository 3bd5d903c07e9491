"""The sections of a record that speak of regions, in head-to-tail order."""

from collections.abc import Callable

from exam_app.domain.animal.body_marks import THOUSANDTHS, BodyMark, CloserPlace
from exam_app.domain.exam.denials import open_claims, rest_claims
from exam_app.domain.exam.exam import (
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
    found_words,
    known_words,
    summary_shown,
)
from exam_app.language.catalogue import ENGLISH, chosen, in_english, to_translate, tr

# Why something reads otherwise where two records are read together.
AGAIN = to_translate("answered again in a continuation")
NOT_SAID = to_translate("nothing was recorded")


MARKS = to_translate("Marks on the drawings")
NOT_DONE = to_translate("Not examined, or only partly")
NOT_TAKEN = to_translate("Not required and not taken")
_CALL_ORDER = (Call.URGENT, Call.VETERINARIAN_TO_LOOK, Call.NOTED)


def region_sections(
    exam: Exam, protocol: SpeciesProtocol
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return (heading, lines) of what was found, what was not, and what is left out."""

    def asserted(part: RegionEntry) -> str:
        return "; ".join(known_words(one, protocol) for one in part.asserted)

    def results(part: RegionEntry) -> list[str]:
        return _results(part, protocol)

    def is_gone(part: RegionEntry) -> bool:
        return part.state is RegionState.NOT_PRESENT

    def by_part(words_of: Callable[[RegionEntry], str]) -> tuple[str, ...]:
        return _merged(exam, protocol, lambda key: words_of(exam.entry(key)))

    again = found_again(exam)
    earlier = tuple(
        f"{part_label(exam, protocol, found.key)}: "
        f"{summary_shown(found, protocol)} ({found.date}): "
        f"{_outcome(found, is_again=found.finding_id in again)}"
        for found in exam.earlier
    )
    remarks = tuple(
        f"{part_label(exam, protocol, key)}: {exam.entry(key).remark}"
        for key in keys_offered(exam, protocol)
        if exam.entry(key).remark
    )
    return (
        (to_translate("Findings"), finding_lines(exam, protocol)),
        (MARKS, mark_lines(exam, protocol)),
        (to_translate("Earlier findings"), earlier),
        (
            to_translate("Remarks (noted, not abnormal)"),
            (*remarks, exam.remark) if exam.remark else remarks,
        ),
        (
            to_translate("No abnormality found"),
            by_part(lambda part: "" if part.findings else asserted(part)),
        ),
        (
            to_translate("Other results"),
            by_part(lambda part: "" if part.findings else "; ".join(results(part))),
        ),
        (NOT_DONE, _not_examined(exam, protocol)),
        (
            to_translate("Not present"),
            by_part(
                lambda part: known_words(part.reason, protocol) if is_gone(part) else ""
            ),
        ),
        (to_translate("Not part of this exam"), _outside(exam, protocol)),
    )


def _outcome(found: EarlierFinding, *, is_again: bool) -> str:
    """Say what became of an earlier find, and that it was measured again."""
    said = tr(found.outcome.value) if found.outcome else ""
    again = tr("measured again, see the findings") if is_again else ""
    return "; ".join(filter(None, (said, again))) or tr("not answered")


def mark_lines(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return a line for each mark: its place on its drawing, and what it marks.

    Those of this exam first, then those of earlier records with their day.
    """
    days = {one.finding_id: one.date for one in exam.earlier}
    own = (
        (found.mark, days.get(found.same_as, ""), key, found_words(found))
        for key, found in marked_findings(exam)
    )
    again = found_again(exam)
    before = (
        (one.mark, one.date, one.key, summary_shown(one, protocol, is_marked=False))
        for one in exam.earlier
        if one.finding_id not in again
    )
    return tuple(
        _mark_line(mark, f"{part_label(exam, protocol, key)}: {words}", day)
        for mark, day, key, words in (*own, *before)
        if mark is not None
    )


def _mark_line(mark: BodyMark, words: str, day: str) -> str:
    places = [f"{mark.view.words}, {_place_words(mark)}"]
    if mark.closer:
        places.insert(0, f"{mark.closer.words}, {_place_words(mark.closer)}")
    named = tr("Mark {number}", number=mark.number)
    if day:
        named = tr("Mark {number}, of {date}", number=mark.number, date=day)
    return f"{named}: {'; '.join(places)}: {words}"


def _place_words(place: BodyMark | CloserPlace) -> str:
    return tr(
        "{across} of {width} across, {down} of {height} down",
        across=place.x,
        width=THOUSANDTHS,
        down=place.y,
        height=THOUSANDTHS,
    )


def all_findings(
    exam: Exam, protocol: SpeciesProtocol
) -> tuple[tuple[str, Finding], ...]:
    """Return every finding with its region key: urgent, to look, noted; in order."""
    at = {key: entry.findings for key, entry in exam.regions.items() if entry.findings}
    place, last = protocol.key_order.get, len(protocol.key_order)
    # A part that the protocol does not have stands last.
    keys = sorted(at, key=lambda key: place(key, last))
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
            part = part_label(exam, protocol, key)
            lines.append(tr("{part}, apart from that: {rest}", part=part, rest=rest))
    return tuple(lines)


def _results(entry: RegionEntry, protocol: SpeciesProtocol) -> list[str]:
    """Return the results that stand in a claim's place, as "felt for, not felt"."""
    return [known_words(item.reason, protocol) for item in entry.instead]


def rest_words(exam: Exam, protocol: SpeciesProtocol, key: str) -> str:
    """Say what was said beside a find; empty where it left nothing to say."""
    entry = exam.entry(key)
    results = _results(entry, protocol)
    if entry.asserted:
        claims = "; ".join(known_words(one, protocol) for one in entry.asserted)
        results.insert(0, tr("no abnormality found: {claims}", claims=claims))
    if results:
        return "; ".join(results)
    if entry.reason:
        reason = known_words(entry.reason, protocol)
        return tr("not examined: {reason}", reason=reason)
    region = protocol.region(split_key(key)[0])
    has_rest = region is not None and rest_claims(exam, region, key)
    return tr("not recorded") if has_rest and not entry.struck else ""


def _not_examined(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what was not examined or only partly, and why; vitals first."""
    words, required = words_for(exam), required_vitals(exam, protocol)
    left_out = vitals_not_taken(exam, protocol)
    others = [vital_label(v, words) for v in left_out if v not in required]
    is_named = others and exam.scope is not Scope.FOCUSED
    return (
        *(
            f"{vital_label(vital, words)}: "
            f"{known_words(exam.vital(vital.vital_id).reason, protocol)}"
            for vital in vitals_in_scope(exam, protocol)
            if exam.vital(vital.vital_id).is_gap
        ),
        *(
            tr("{vital}: NOT ANSWERED", vital=vital_label(v, words))
            for v in left_out
            if v in required
        ),
        *((f"{tr(NOT_TAKEN)}: {'; '.join(others)}",) if is_named else ()),
        *_merged(exam, protocol, lambda key: _undone(exam, protocol, key)),
    )


def _undone(exam: Exam, protocol: SpeciesProtocol, key: str) -> str:
    entry = exam.entry(key)
    region = protocol.region(split_key(key)[0])
    if entry.state is not RegionState.UNEXAMINED:
        return _gap(entry, protocol)
    if not (entry.asserted or entry.struck) or region is None:
        return tr("UNEXAMINED")
    words = words_for(exam)
    still = [tr(clause_words(c, words)) for c in open_claims(exam, region, key)]
    again = tr("OPEN AGAIN")
    if still:
        again = tr("OPEN AGAIN: {claims}", claims="; ".join(still))
    return "; ".join(filter(None, (again, _gap(entry, protocol))))


def _gap(entry: RegionEntry, protocol: SpeciesProtocol) -> str:
    if not entry.is_gap:
        return ""
    struck = [
        tr(
            "not seen: {claim} ({reason})",
            claim=known_words(item.text, protocol),
            reason=known_words(item.reason, protocol),
        )
        for item in entry.struck
    ]
    if struck:
        return "; ".join(struck)
    return tr("not examined: {reason}", reason=known_words(entry.reason, protocol))


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
        # What reads the same is asked of the English: it is the same in any language.
        kept = text
        if chosen() != ENGLISH:
            with in_english():
                kept = words_of(key)
        if last == (region_id, kept):
            part = part_label(exam, protocol, region_id)
            both = tr("{part}, left and right", part=part)
            lines[-1] = f"{both}: {text}"
            continue
        last = (region_id, kept)
        lines.append(f"{part_label(exam, protocol, key)}: {text}")
    return tuple(lines)


def _outside(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what was not part of this exam, in one line that claims nothing."""
    outside = regions_outside_scope(exam, protocol)
    names = [part_label(exam, protocol, region.region_id) for region in outside]
    if exam.scope is Scope.FOCUSED:
        left_out = vitals_not_taken(exam, protocol)
        names += [vital_label(vital, words_for(exam)) for vital in left_out]
    line = tr(
        "{names}. Not part of this {scope}, and nothing is said.",
        names="; ".join(names),
        scope=tr(SCOPE_LABELS[exam.scope]).lower(),
    )
    return (line,) if names else ()

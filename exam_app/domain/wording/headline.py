"""What stands above a record: urgent signs, bites, a stop, every gap by its reason."""

from collections.abc import Sequence

from exam_app.domain.animal.chips import SCAN_GAP, reason_not_scanned
from exam_app.domain.exam.closing import found_then, gaps_among
from exam_app.domain.exam.denials import has_open_claims
from exam_app.domain.exam.exam import Exam, keys_in_scope, vitals_not_taken, words_for
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.exam.review import part_label, review, vital_label
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key
from exam_app.domain.protocol.sex_limits import is_of_other_sex, is_sex_unsettled
from exam_app.domain.wording.correction_wording import corrected_items
from exam_app.domain.wording.exam_wording import (
    known_words,
    sign_words,
    summary_shown,
)
from exam_app.domain.wording.kept_words import reason_shown
from exam_app.language.catalogue import to_translate, tr, tr_plural

GAPS_NAMED = 4
# The side of a part, or nothing, and its name.
Named = tuple[str, str]


def headline(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what a reader must know first, most pressing line first."""
    keys = keys_in_scope(exam, protocol)
    return headline_of(exam, protocol, keys, gaps_among(exam, protocol, keys))


def headline_of(
    exam: Exam, protocol: SpeciesProtocol, keys: Sequence[str], left: Sequence[str]
) -> tuple[str, ...]:
    """Return as ``headline`` does, where what it looks at first is known already.

    Args:
        keys: ``keys_in_scope`` of the exam.
        left: ``gaps_among`` these.
    """
    points = () if exam.is_closed else review(exam, protocol)
    concern = exam.bite.concern if exam.bite else ""
    unsaid = _rest_unsaid(exam, protocol, keys)
    lines = (
        "" if exam.is_closed else _not_closed(len(points)),
        _corrected(exam, protocol),
        tr("BITE OR SCRATCH: {concern}", concern=concern) if concern else "",
        _urgent(exam),
        _sex(exam, protocol, keys),
        _stop(exam),
        _undone(exam, protocol, left),
        unsaid,
        "" if points or left or unsaid else _complete(exam, protocol),
    )
    return tuple(line for line in lines if line)


def _not_closed(points: int) -> str:
    return tr_plural(
        "NOT CLOSED: a draft with {count} open points",
        "NOT CLOSED: a draft with {count} open points",
        points,
    )


_TOLD_IN_A_LINE = 3


def found_line(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Return the first things found in one line, urgent signs before all.

    Empty while nothing is found.
    """
    urgent = [tr("URGENT: {sign}", sign=sign_words(entry)) for entry in exam.urgent]
    found = [
        f"{part_label(exam, protocol, one.key)}: {summary_shown(one, protocol)}"
        for one in found_then(exam, protocol)
    ]
    said = (*urgent, *found)
    more = len(said) - _TOLD_IN_A_LINE
    rest = [tr("{count} more", count=more)] if more > 0 else []
    return "; ".join((*said[:_TOLD_IN_A_LINE], *rest))


def _corrected(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Say what a closed record was corrected in, or why a draft corrects one."""
    if exam.is_closed:
        items = corrected_items(exam, protocol)
        again = corrected_items(exam, protocol, again=True)
        said = (
            tr("CORRECTED after closing: {items}", items=items) if items else "",
            tr("ANSWERED AGAIN in a continuation, both stand: {items}", items=again)
            if again
            else "",
        )
        return "; ".join(filter(None, said))
    why = next((one.reason for one in exam.corrections if not one.item), "")
    if not why:
        return ""
    return tr("A CORRECTION of a closed record, not signed yet: {reason}", reason=why)


def _urgent(exam: Exam) -> str:
    untold = [sign_words(entry) for entry in exam.urgent if not entry.is_answered]
    if untold:
        return tr("URGENT, NOT YET TOLD: {signs}", signs="; ".join(untold))
    signs = "; ".join(map(sign_words, exam.urgent))
    return tr("URGENT: {signs}", signs=signs) if signs else ""


def _sex(exam: Exam, protocol: SpeciesProtocol, keys: Sequence[str]) -> str:
    """Say where a part of the noted sex was called that of the other one."""
    sex, said = exam.animal.sex, exam.regions.items()
    others = {key for key, entry in said if is_of_other_sex(entry)} if sex.kind else ()
    labels = [_named(exam, protocol, key) for key in keys if key in others]
    if labels:
        return tr(
            "SEX NOTED AS {sex}, but not present (other sex): {parts}",
            sex=tr(sex.value),
            parts=", ".join(map(_part_words, labels)),
        )
    if is_sex_unsettled(exam, protocol):
        # Only records that are read together can say so: each asks for one sex.
        return tr("SEX NOT SETTLED: two records say otherwise which parts it has")
    return ""


def _stop(exam: Exam) -> str:
    if exam.stopped is None:
        return ""
    note = f" ({exam.stopped.note})" if exam.stopped.note else ""
    reason = tr(exam.stopped.reason.value)
    return tr("Stopped early: {reason}{note}", reason=reason, note=note)


def _undone(exam: Exam, protocol: SpeciesProtocol, left: Sequence[str]) -> str:
    by_reason: dict[str, list[tuple[str, Named]]] = {}
    for gap in left:
        named, reason = _gap(exam, protocol, gap)
        by_reason.setdefault(reason, []).append((gap, named))
    groups = [
        f"{_few_or_count(undone)} ({reason})" for reason, undone in by_reason.items()
    ]
    return tr("Not done: {groups}", groups="; ".join(groups)) if groups else ""


def _few_or_count(undone: list[tuple[str, Named]]) -> str:
    """Name a few gaps; of many say how many, since the record lists them below."""
    labels = _merge_sides([named for _, named in undone])
    if len(labels) <= GAPS_NAMED:
        return ", ".join(labels)
    vitals = sum(gap.startswith("vital:") for gap, _ in undone)
    scans = sum(gap == SCAN_GAP for gap, _ in undone)
    parts = len(undone) - vitals - scans
    said = (
        tr_plural("{count} part", "{count} parts", parts) if parts else "",
        tr_plural("{count} vital", "{count} vitals", vitals) if vitals else "",
        tr("chip scan") if scans else "",
    )
    return ", ".join(filter(None, said))


def _rest_unsaid(exam: Exam, protocol: SpeciesProtocol, keys: Sequence[str]) -> str:
    """Name the parts of which nothing, or not all, is said beside what was found."""
    nothing: list[Named] = []
    not_all: list[Named] = []
    for key in keys:
        entry = exam.regions.get(key)
        if not entry or not entry.findings or entry.conclusion is not Conclusion.OPEN:
            continue
        region = protocol.region(split_key(key)[0])
        if region and has_open_claims(exam, region, key):
            labels = not_all if entry.asserted else nothing
            labels.append(_named(exam, protocol, key))
    said = ((_NOTHING_OF_REST, nothing), (_NOT_ALL_OF_REST, not_all))
    return "; ".join(
        tr(message, parts=", ".join(_merge_sides(labels)))
        for message, labels in said
        if labels
    )


_NOTHING_OF_REST = to_translate(
    "Beside the finding nothing is said of the rest: {parts}"
)
_NOT_ALL_OF_REST = to_translate(
    "Beside the finding not all is said of the rest: {parts}"
)


def complete_words(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Say that all was answered, where that is so and the exam was not cut short."""
    is_open = not exam.is_closed and review(exam, protocol)
    keys = keys_in_scope(exam, protocol)
    left = is_open or gaps_among(exam, protocol, keys)
    if left or _rest_unsaid(exam, protocol, keys):
        return ""
    return _complete(exam, protocol)


def _complete(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Say that all was answered, where no part is open, left undone or half said."""
    if exam.stopped:
        return ""
    if vitals_not_taken(exam, protocol):
        return tr("Everything this exam requires was answered")
    return tr("Everything in the scope of this exam was answered")


def _gap(exam: Exam, protocol: SpeciesProtocol, gap: str) -> tuple[Named, str]:
    """Return what was left undone, and why."""
    words = words_for(exam)
    if gap.startswith("vital:"):
        vital_id = gap.removeprefix("vital:")
        vital = protocol.vital(vital_id)
        label = vital_label(vital, words) if vital else vital_id
        reason = known_words(exam.vital(vital_id).reason, protocol)
        return ("", label.lower()), reason
    if gap == SCAN_GAP:
        return ("", tr("chip scan")), reason_shown(reason_not_scanned(exam))
    entry = exam.entry(gap)
    reason = tr("partly") if entry.struck else known_words(entry.reason, protocol)
    return _named(exam, protocol, gap), reason


def _named(exam: Exam, protocol: SpeciesProtocol, key: str) -> Named:
    """Return the side and the name of a part."""
    region_id, side = split_key(key)
    return side, part_label(exam, protocol, region_id).lower()


def _part_words(named: Named) -> str:
    side, part = named
    if side == "left":
        return tr("left {part}", part=part)
    if side == "right":
        return tr("right {part}", part=part)
    return f"{side} {part}" if side else part


def _merge_sides(labels: list[Named]) -> list[str]:
    """Name left and right of one part together, where the left one stands."""
    merged = []
    for side, part in labels:
        other = {"left": "right", "right": "left"}.get(side)
        if other is None or (other, part) not in labels:
            merged.append(_part_words((side, part)))
        elif side == "left":
            merged.append(tr("left and right {part}", part=part))
    return merged

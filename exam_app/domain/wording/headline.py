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
from exam_app.domain.wording.count_words import count_words
from exam_app.domain.wording.region_wording import corrected_items

GAPS_NAMED = 4


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
        "" if exam.is_closed else f"NOT CLOSED: a draft with {len(points)} open points",
        _corrected(exam),
        f"BITE OR SCRATCH: {concern}" if concern else "",
        _urgent(exam),
        _sex(exam, protocol, keys),
        _stop(exam),
        _undone(exam, protocol, left),
        unsaid,
        "" if points or left or unsaid else _complete(exam, protocol),
    )
    return tuple(line for line in lines if line)


_TOLD_IN_A_LINE = 3


def found_line(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Return the first things found in one line, urgent signs before all.

    Empty while nothing is found.
    """
    urgent = [f"URGENT: {entry.label}" for entry in exam.urgent]
    found = [
        f"{part_label(exam, protocol, one.key)}: {one.summary}"
        for one in found_then(exam, protocol)
    ]
    said = (*urgent, *found)
    more = len(said) - _TOLD_IN_A_LINE
    rest = [f"{more} more"] if more > 0 else []
    return "; ".join((*said[:_TOLD_IN_A_LINE], *rest))


def _corrected(exam: Exam) -> str:
    """Say what a closed record was corrected in, or why a draft corrects one."""
    if exam.is_closed:
        items, again = corrected_items(exam), corrected_items(exam, again=True)
        said = (
            f"CORRECTED after closing: {items}" if items else "",
            f"ANSWERED AGAIN in a continuation, both stand: {again}" if again else "",
        )
        return "; ".join(filter(None, said))
    why = next((one.reason for one in exam.corrections if not one.item), "")
    return f"A CORRECTION of a closed record, not signed yet: {why}" if why else ""


def _urgent(exam: Exam) -> str:
    untold = [entry.label for entry in exam.urgent if not entry.is_answered]
    labels = untold or [entry.label for entry in exam.urgent]
    return f"URGENT{', NOT YET TOLD' * bool(untold)}: {'; '.join(labels)}" * bool(
        labels
    )


def _sex(exam: Exam, protocol: SpeciesProtocol, keys: Sequence[str]) -> str:
    """Say where a part of the noted sex was called that of the other one."""
    sex = exam.animal.sex
    others = {key for key, entry in exam.regions.items() if is_of_other_sex(entry)}
    labels = [
        _part_name(exam, protocol, key)
        for key in (keys if sex.kind and others else ())
        if key in others
    ]
    if labels:
        names = ", ".join(labels)
        return f"SEX NOTED AS {sex.value}, but not present (other sex): {names}"
    if is_sex_unsettled(exam, protocol):
        # Only records that are read together can say so: each asks for one sex.
        return "SEX NOT SETTLED: two records say otherwise which parts it has"
    return ""


def _stop(exam: Exam) -> str:
    if exam.stopped is None:
        return ""
    note = f" ({exam.stopped.note})" if exam.stopped.note else ""
    return f"Stopped early: {exam.stopped.reason.value}{note}"


def _undone(exam: Exam, protocol: SpeciesProtocol, left: Sequence[str]) -> str:
    by_reason: dict[str, list[str]] = {}
    for gap in left:
        by_reason.setdefault(_gap(exam, protocol, gap)[1], []).append(gap)
    groups = [
        f"{_few_or_count(exam, protocol, undone)} ({reason})"
        for reason, undone in by_reason.items()
    ]
    return f"Not done: {'; '.join(groups)}" if groups else ""


def _few_or_count(exam: Exam, protocol: SpeciesProtocol, undone: list[str]) -> str:
    """Name a few gaps; of many say how many, since the record lists them below."""
    labels = _merge_sides([_gap(exam, protocol, gap)[0] for gap in undone])
    if len(labels) <= GAPS_NAMED:
        return ", ".join(labels)
    vitals = sum(gap.startswith("vital:") for gap in undone)
    scans = undone.count(SCAN_GAP)
    parts = len(undone) - vitals - scans
    said = (
        count_words(parts, "part") if parts else "",
        count_words(vitals, "vital") if vitals else "",
        "chip scan" if scans else "",
    )
    return ", ".join(filter(None, said))


def _rest_unsaid(exam: Exam, protocol: SpeciesProtocol, keys: Sequence[str]) -> str:
    """Name the parts of which nothing, or not all, is said beside what was found."""
    nothing: list[str] = []
    not_all: list[str] = []
    for key in keys:
        entry = exam.entry(key)
        if not entry.findings or entry.conclusion is not Conclusion.OPEN:
            continue
        region = protocol.region(split_key(key)[0])
        if region and has_open_claims(exam, region, key):
            labels = not_all if entry.asserted else nothing
            labels.append(_part_name(exam, protocol, key))
    said = (("nothing", nothing), ("not all", not_all))
    return "; ".join(
        f"Beside the finding {much} is said of the rest: "
        f"{', '.join(_merge_sides(labels))}"
        for much, labels in said
        if labels
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
        return "Everything this exam requires was answered"
    return "Everything in the scope of this exam was answered"


def _gap(exam: Exam, protocol: SpeciesProtocol, gap: str) -> tuple[str, str]:
    words = words_for(exam)
    if gap.startswith("vital:"):
        vital_id = gap.removeprefix("vital:")
        vital = protocol.vital(vital_id)
        label = vital_label(vital, words) if vital else vital_id
        return label.lower(), exam.vital(vital_id).reason
    if gap == SCAN_GAP:
        return "chip scan", reason_not_scanned(exam)
    entry = exam.entry(gap)
    label = _part_name(exam, protocol, gap)
    return label, "partly" if entry.struck else entry.reason


def _part_name(exam: Exam, protocol: SpeciesProtocol, key: str) -> str:
    region_id, side = split_key(key)
    label = part_label(exam, protocol, region_id).lower()
    return f"{side} {label}" if side else label


def _merge_sides(labels: list[str]) -> list[str]:
    """Name left and right of one part together, where the left one stands."""
    merged = []
    for label in labels:
        side, _, part = label.partition(" ")
        other = f"{'right' if side == 'left' else 'left'} {part}"
        if side not in {"left", "right"} or other not in labels:
            merged.append(label)
        elif side == "left":
            merged.append(f"left and right {part}")
    return merged

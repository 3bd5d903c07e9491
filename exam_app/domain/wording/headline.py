"""What stands above a record: urgent signs, bites, a stop, every gap by its reason."""

from exam_app.domain.animal.chips import SCAN_GAP, reason_not_scanned
from exam_app.domain.exam.closing import gaps
from exam_app.domain.exam.denials import open_claims
from exam_app.domain.exam.exam import Exam, keys_in_scope, vitals_not_taken, words_for
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.exam.review import part_label, review, vital_label
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key
from exam_app.domain.protocol.sex_limits import is_of_other_sex, is_sex_unsettled
from exam_app.domain.wording.region_wording import corrected_items


def headline(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what a reader must know first, most pressing line first."""
    points = () if exam.is_closed else review(exam, protocol)
    concern = exam.bite.concern if exam.bite else ""
    lines = (
        "" if exam.is_closed else f"NOT CLOSED: a draft with {len(points)} open points",
        _corrected(exam),
        f"BITE OR SCRATCH: {concern}" if concern else "",
        _urgent(exam),
        _sex(exam, protocol),
        _stop(exam),
        _undone(exam, protocol),
        _rest_unsaid(exam, protocol),
        complete_words(exam, protocol),
    )
    return tuple(line for line in lines if line)


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


def _sex(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Say where a part of the noted sex was called that of the other one."""
    sex = exam.animal.sex
    labels = [
        _part_name(exam, protocol, key)
        for key in keys_in_scope(exam, protocol)
        if sex.kind and is_of_other_sex(exam.entry(key))
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


def _undone(exam: Exam, protocol: SpeciesProtocol) -> str:
    by_reason: dict[str, list[str]] = {}
    for gap in gaps(exam, protocol):
        label, reason = _gap(exam, protocol, gap)
        by_reason.setdefault(reason, []).append(label)
    groups = [
        f"{', '.join(_merge_sides(labels))} ({reason})"
        for reason, labels in by_reason.items()
    ]
    return f"Not done: {'; '.join(groups)}" if groups else ""


def _rest_unsaid(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Name the parts of which nothing, or not all, is said beside what was found."""
    nothing: list[str] = []
    not_all: list[str] = []
    for key in keys_in_scope(exam, protocol):
        entry = exam.entry(key)
        region = protocol.region(split_key(key)[0])
        is_open = entry.findings and entry.conclusion is Conclusion.OPEN
        if is_open and region and open_claims(exam, region, key):
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
    if is_open or exam.stopped or gaps(exam, protocol) or _rest_unsaid(exam, protocol):
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

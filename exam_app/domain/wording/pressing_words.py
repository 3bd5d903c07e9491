"""What of a record has to be read first, in the finding's own words, a line each.

Urgent signs with who was told, findings as called, values outside their ranges: short
enough for a list, and nothing that the record itself does not say.
"""

from exam_app.domain.exam.exam import Exam, vitals_in_scope, words_for
from exam_app.domain.exam.findings import Call, Finding
from exam_app.domain.exam.review import part_label, vital_label
from exam_app.domain.exam.vital_transitions import shown_flag
from exam_app.domain.lumps.lumps import show_lump_size
from exam_app.domain.protocol.intervals import Flag
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital, split_key
from exam_app.domain.wording.exam_wording import (
    answer_in_short,
    describe_value,
    found_words,
    join_words,
    mark_words,
    place_words,
    quality_words,
    side_words,
    sign_words,
)
from exam_app.domain.wording.region_wording import all_findings
from exam_app.language.catalogue import to_translate, tr, tr_plural

MOST_LINES = 5
_OUTSIDE = {
    FlagLevel.BELOW: to_translate("below its range"),
    FlagLevel.ABOVE: to_translate("above its range"),
}


def pressing_lines(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what presses, most pressing first.

    Returns:
        At most ``MOST_LINES`` and one that counts the rest; empty where nothing does.
    """
    lines = (
        *_urgent_lines(exam),
        *_finding_lines(exam, protocol),
        *value_lines(exam, protocol).values(),
    )
    left = len(lines) - MOST_LINES
    if left <= 0:
        return lines
    more = tr_plural(
        "and {count} more line in the record",
        "and {count} more lines in the record",
        left,
    )
    return (*lines[:MOST_LINES], more)


def _urgent_lines(exam: Exam) -> tuple[str, ...]:
    """Say the signs that were answered alike in one line."""
    by_answer: dict[str, list[str]] = {}
    for sign in exam.urgent:
        told = "; ".join(map(answer_in_short, sign.answers)) or tr("NOBODY TOLD")
        by_answer.setdefault(told, []).append(sign_words(sign))
    return tuple(
        tr("URGENT {signs}: {told}", signs="; ".join(labels), told=told)
        for told, labels in by_answer.items()
    )


def _finding_lines(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    return tuple(
        f"{part_label(exam, protocol, key)}: {finding_words(key, found, protocol)}"
        for key, found in all_findings(exam, protocol)
    )


def finding_words(
    key: str, found: Finding, protocol: SpeciesProtocol | None = None
) -> str:
    """Say a finding with its side, place and size, and whether somebody shall look.

    Args:
        protocol: Whose landmarks are shown in the language chosen.
    """
    place = place_words(found, protocol) if protocol else found.place
    return join_words(
        found_words(found),
        *quality_words(found),
        tr(found.severity.value) if found.severity else "",
        "" if found.side == split_key(key)[1] else side_words(found.side),
        place,
        found.extent,
        mark_words(found.mark),
        show_lump_size(found.lump.size) if found.lump else "",
        "" if found.call is Call.NOTED else tr(found.call.value),
    )


def value_lines(exam: Exam, protocol: SpeciesProtocol) -> dict[str, str]:
    """Return by vital what lies outside published ranges, and of how many."""
    found = {}
    for vital in vitals_in_scope(exam, protocol):
        flag = shown_flag(exam, protocol, vital, exam.vital(vital.vital_id))
        if flag is not None and flag.level in _OUTSIDE:
            label = vital_label(vital, words_for(exam))
            said = _value_words(exam, protocol, vital, flag)
            found[vital.vital_id] = f"{label} {said}"
    return found


def _value_words(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, flag: Flag
) -> str:
    value = describe_value(exam.vital(vital.vital_id), vital, protocol)
    _, colon, place = flag.summary.partition(": ")
    # The one line of an earlier version names ranges and sources; the record has it.
    said = place if colon and flag.lines else tr(_OUTSIDE[flag.level])
    return f"{value}, {said}"

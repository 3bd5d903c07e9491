"""What was corrected of a record: its lines, and what stands beside the line it was.

A correction is kept in English, in the words that the record stated. As far as these
are words of the app they are shown in the language that was chosen.
"""

from collections.abc import Iterable, Mapping, Sequence

from exam_app.domain.exam.exam import Correction, Exam
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import region_label, vital_label
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.exam_wording import person_name
from exam_app.domain.wording.kept_words import list_shown
from exam_app.domain.wording.record_times import AS_STATED, TimeStyle
from exam_app.domain.wording.region_wording import AGAIN, NOT_SAID
from exam_app.language.catalogue import ENGLISH, chosen, in_english, tr

_AS_KEPT: Mapping[str, str] = {}
_BOTH = ", left and right"


def corrected_items(
    exam: Exam, protocol: SpeciesProtocol, *, again: bool = False
) -> str:
    """Name what was corrected after closing, each once; empty where nothing was.

    Args:
        protocol: The one it names.
        again: Whether what a continuation answered again is meant instead.
    """
    names = item_names(protocol)
    items = (
        one.item
        for one in exam.corrections
        if one.item and (one.reason == AGAIN) is again
    )
    return ", ".join(item_shown(item, names) for item in dict.fromkeys(items))


def item_names(protocol: SpeciesProtocol) -> dict[str, str]:
    """Return the parts and vitals of a record, in English, with the names shown."""
    if chosen() == ENGLISH:
        return {}
    shown = _every_name(protocol)
    with in_english():
        return dict(zip(_every_name(protocol), shown, strict=True))


def _every_name(protocol: SpeciesProtocol) -> list[str]:
    keys = [
        key
        for region in protocol.regions
        for key in dict.fromkeys((region.region_id, *region.answer_keys()))
    ]
    return [
        name
        for words in (Role.VOLUNTEER, Role.TECHNICIAN)
        for name in (
            *(region_label(protocol, key, words) for key in keys),
            *(vital_label(vital, words) for vital in protocol.vitals),
        )
    ]


def item_shown(item: str, names: Mapping[str, str]) -> str:
    """Return the name of what was corrected as it is shown; a record keeps English.

    Args:
        item: As a correction names it: a part, a vital, or a heading of the record.
        names: As ``item_names`` returns them.
    """
    if shown := names.get(item):
        return shown
    part, both, _ = item.partition(_BOTH)
    return (
        tr("{part}, left and right", part=names.get(part) or tr(part))
        if both
        else tr(item)
    )


def correction_lines(
    exam: Exam,
    beside: Sequence[Correction] = (),
    times: TimeStyle = AS_STATED,
    shown: Mapping[str, str] = _AS_KEPT,
) -> tuple[str, ...]:
    """Return a line for each correction: now, before, when, by whom and why.

    Args:
        beside: What signed notes say should read otherwise.
        times: How it says when.
        shown: What the record states and names, in English, with the words shown.
    """
    own = tuple(
        tr(
            "{item}: {now}; before: {was}. {who}{why}",
            item=item_shown(one.item, shown),
            now=list_shown(one.now, shown, "; ") or tr("taken out"),
            was=list_shown(one.was, shown, "; ") or tr(NOT_SAID),
            who=_who(exam, one, times),
            why=_why(one),
        )
        for one in exam.corrections
        if one.item
    )
    noted = tuple(
        tr(
            "{item}: recorded {was}; a note says it should read: {now}{why}",
            item=item_shown(one.item, shown),
            was=list_shown(one.was, shown, "; ") or tr(NOT_SAID),
            now=one.now,
            why=_why(one),
        )
        for one in beside
    )
    return (*own, *noted)


def _who(exam: Exam, one: Correction, times: TimeStyle) -> str:
    by = one.attribution
    if one.reason == AGAIN:
        return tr("Both stand")
    if by is None:
        return tr("Corrected")
    name = person_name(exam, by.entered_by)
    return tr("Corrected {time} by {name}", time=times.full(by.entered), name=name)


def _why(one: Correction) -> str:
    reason = tr(AGAIN) if one.reason == AGAIN else one.reason
    return f": {reason}" if reason else ""


def marks_of(
    exam: Exam,
    beside: Iterable[Correction] = (),
    shown: Mapping[str, str] = _AS_KEPT,
) -> dict[str, str]:
    """Return by item what stands beside its line: what it read before, what it should.

    Args:
        beside: What signed notes say should read otherwise.
        shown: What the record states, in English, with the words shown.
    """
    found: dict[str, list[str]] = {}
    for one in exam.corrections:
        if one.item and one.now:
            was = list_shown(one.was, shown, "; ") or tr(NOT_SAID)
            said = tr("CORRECTED, before: {was}", was=was)
            if one.reason == AGAIN:
                said = tr("ANSWERED AGAIN, before: {was}", was=was)
            found.setdefault(one.item, []).append(said)
    for one in beside:
        said = tr("A NOTE SAYS IT SHOULD READ: {words}", words=one.now)
        found.setdefault(one.item, []).append(said)
    return {item: "; ".join(said) for item, said in found.items()}


def marked(
    line: str,
    exam: Exam,
    beside: Sequence[Correction] = (),
    shown: Mapping[str, str] = _AS_KEPT,
) -> str:
    """Return a line of a record with what was corrected of it beside it.

    Args:
        line: As ``Weight: 24.6 kg``; one that was not corrected is returned as it is,
            also where something else was that is said of the same part.
        exam: The exam it was written from.
        beside: What signed notes say should read otherwise.
        shown: What the record states, in English, with the words shown.
    """
    item, colon, words = line.partition(": ")
    is_meant = any(
        one.item == item and words in one.now for one in exam.corrections
    ) or any(one.item == item and words in one.was for one in beside)
    if not colon or not is_meant:
        return line
    return f"{line} [{marks_of(exam, beside, shown)[item]}]"

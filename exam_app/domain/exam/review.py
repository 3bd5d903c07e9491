"""Every open point of an exam at once, each leading to its place.

The times stay in the record either way; nothing is changed by asking.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.animal.chips import SCAN_GAP, is_scan_open
from exam_app.domain.animal.groups import open_facts
from exam_app.domain.exam.exam import Exam, keys_in_scope, required_vitals, words_for
from exam_app.domain.exam.marks import open_earlier
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.visit import BiteHistory, Bitten, GroupFacts
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital, split_key
from exam_app.domain.protocol.urgent_signs import UrgentSign
from exam_app.domain.wording.exam_wording import sign_words, summary_shown
from exam_app.language.catalogue import to_translate, tr

PARTS = 12
SECONDS = 10


@dataclass(frozen=True, slots=True)
class HastySpan:
    """The most parts called free of abnormality within ten seconds.

    Attributes:
        keys: Their region keys, in the order entered; at least twelve.
        seconds: From the first to the last, rounded up, at least one.
    """

    keys: tuple[str, ...]
    seconds: int


def hasty_span(exam: Exam) -> HastySpan | None:
    """Return the densest ten seconds, if twelve parts or more fell into them.

    Twelve parts in ten seconds is common practice, no source: nobody feels a part in
    less than a second.
    """
    times = sorted(
        (entry.attribution.entered.utc_ms, key)
        for key, entry in exam.regions.items()
        if entry.attribution and entry.state is RegionState.NO_ABNORMALITY
    )
    best: list[tuple[int, str]] = []
    start = 0
    for end, (when, _) in enumerate(times):
        while when - times[start][0] > SECONDS * 1000:
            start += 1
        if end + 1 - start > len(best):
            best = times[start : end + 1]
    if len(best) < PARTS:
        return None
    span_ms = best[-1][0] - best[0][0]
    return HastySpan(tuple(key for _, key in best), max(1, -(-span_ms // 1000)))


class PointKind(StrEnum):
    """What is still open."""

    REGION = "region"
    VITAL = "vital"
    URGENT = "urgent"
    EARLIER = "earlier finding"
    STATE = "state beside a rate"
    BITE = "bite"
    SCAN = "chip scan"
    GROUP = "group"


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """One thing that keeps the exam from closing.

    Attributes:
        target: Region key, vital id, urgent entry id, ``finding_id`` of an earlier
            finding, ``scan:intake``, ``bite:`` with the block's place, or ``group``.
        message: What to do, in the exam's words.
        label: What is left of that under a heading that says what lacks.
    """

    kind: PointKind
    target: str
    message: str
    label: str = ""


def region_label(protocol: SpeciesProtocol, key: str, words: Role) -> str:
    """Name a region key, as "Eyes, left"; plain words for volunteers."""
    region_id, side = split_key(key)
    region = protocol.region(region_id)
    if region is None:
        return key
    label = region.plain_label if words is Role.VOLUNTEER else region.label
    part = tr(label or region.label)
    if side == "left":
        return tr("{part}, left", part=part)
    if side == "right":
        return tr("{part}, right", part=part)
    return f"{part}, {side}" if side else part


def part_label(exam: Exam, protocol: SpeciesProtocol, key: str) -> str:
    """Name a region key in the words that an exam speaks."""
    return region_label(protocol, key, words_for(exam))


def vital_label(vital: Vital, words: Role) -> str:
    """Name a vital; plain words for volunteers."""
    is_plain = words is Role.VOLUNTEER and vital.plain_label
    return tr(vital.plain_label if is_plain else vital.label)


_TO_VOLUNTEERS = "Volunteers:"


def how_words(vital: Vital, reader: Role) -> str:
    """Return how a vital is taken; what is said to volunteers only to one of them."""
    if reader is Role.VOLUNTEER:
        return tr(vital.how)
    said = re.split(r"(?<=\.) ", vital.how)
    shown = re.split(r"(?<=\.) ", tr(vital.how))
    if len(said) != len(shown):
        shown = said
    pairs = zip(said, shown, strict=True)
    return " ".join(one for to, one in pairs if not to.startswith(_TO_VOLUNTEERS))


def sign_label(sign: UrgentSign, words: Role) -> str:
    """Name an urgent sign; plain words for volunteers.

    In English, since an exam keeps it so; ``tr`` shows it.
    """
    is_plain = words is Role.VOLUNTEER and sign.plain
    return sign.plain if is_plain else sign.label


def review(exam: Exam, protocol: SpeciesProtocol) -> tuple[OpenPoint, ...]:
    """Return every open point: urgent, bites, scan, group, vitals, regions, earlier.

    An exam with no open point may be closed; any other is refused.
    """
    return (
        *_open_around(exam),
        *_open_vitals(exam, protocol),
        *_open_parts(exam, protocol),
    )


def _open_around(exam: Exam) -> Iterator[OpenPoint]:
    for entry in exam.urgent:
        if not entry.is_answered:
            message = tr(
                "{sign}: say whether a veterinarian was told", sign=sign_words(entry)
            )
            yield OpenPoint(PointKind.URGENT, entry.entry_id, message)
    yield from _open_bites(exam.bite or BiteHistory())
    if is_scan_open(exam):
        message = tr("Chip scan: no number, no “none found on this scan” and no reason")
        yield OpenPoint(PointKind.SCAN, SCAN_GAP, message)
    asked = open_facts(exam.group or GroupFacts()) if exam.animal.is_group else ()
    for words in asked:
        message = tr("Group: say {what}", what=words)
        yield OpenPoint(PointKind.GROUP, "group", message)


# By whether it has its date, and whether somebody was told.
_ASKED_OF_BITE = {
    (False, False): to_translate(
        "Bite of {whose}: say when (date and time, or not known) and who was told of it"
    ),
    (False, True): to_translate(
        "Bite of {whose}: say when (date and time, or not known)"
    ),
    (True, False): to_translate("Bite of {whose}: say who was told of it"),
    (True, True): "",
}


def whose_words(block: Bitten) -> str:
    """Name the one bitten, as it is shown; ``Bitten.whose`` is kept in a record."""
    if not block.is_examiner:
        return block.who or tr("not said whose")
    if not block.who:
        return tr("the examiner")
    return tr("the examiner ({where})", where=block.who)


def _open_bites(bite: BiteHistory) -> Iterator[OpenPoint]:
    """Ask of each bite when it was, since quarantine counts from it, and who knows."""
    for place, block in enumerate(bite.blocks):
        is_told = block.told or bite.told_of_either
        asked = _ASKED_OF_BITE[bool(block.is_dated), bool(is_told)]
        if asked:
            message = tr(asked, whose=whose_words(block))
            yield OpenPoint(PointKind.BITE, f"bite:{place}", message)


def _open_vitals(exam: Exam, protocol: SpeciesProtocol) -> Iterator[OpenPoint]:
    words = words_for(exam)
    for vital in required_vitals(exam, protocol):
        if not exam.vital(vital.vital_id).is_answered:
            label = vital_label(vital, words)
            message = tr("{vital}: no value and no reason", vital=label)
            yield OpenPoint(PointKind.VITAL, vital.vital_id, message, label)
    for vital_id, entry in exam.vitals.items():
        known = protocol.vital(vital_id)
        if known and known.kind == "rate" and entry.reading and entry.state is None:
            message = tr(
                "{vital}: say what the animal was doing", vital=tr(known.label)
            )
            yield OpenPoint(PointKind.STATE, vital_id, message)


def _open_parts(exam: Exam, protocol: SpeciesProtocol) -> Iterator[OpenPoint]:
    keys = keys_in_scope(exam, protocol)
    for key in keys:
        entry = exam.entry(key)
        if entry.state is RegionState.UNEXAMINED:
            label = part_label(exam, protocol, key)
            message = tr("{part}: unexamined", part=label)
            short = label
            if entry.is_parked:
                message = tr("{part}: parked, still unexamined", part=label)
                short = tr("{part}: parked", part=label)
            yield OpenPoint(PointKind.REGION, key, message, short)
    for found in open_earlier(exam):
        if found.key in keys:
            message = tr(
                "{part}: earlier finding “{found}” ({date}): "
                "gone, same, changed or not looked for?",
                part=part_label(exam, protocol, found.key),
                found=summary_shown(found, protocol),
                date=found.date,
            )
            yield OpenPoint(PointKind.EARLIER, found.finding_id, message)


def progress(exam: Exam, protocol: SpeciesProtocol) -> tuple[int, int]:
    """Return how many region keys are answered, and how many there are."""
    keys = keys_in_scope(exam, protocol)
    done = sum(exam.entry(k).state is not RegionState.UNEXAMINED for k in keys)
    return done, len(keys)

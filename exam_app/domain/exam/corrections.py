"""Correct a closed record: a revision that says what it changed, signed anew.

The record that is corrected is kept as it was signed. Its revision holds every answer
as it stands now, and each statement that reads otherwise with what it read before, so
that every form of it can show both. It is made by the role that closed the record; for
anybody else a note beside it says what should read otherwise.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TypeVar

from exam_app.domain.errors import ExamError
from exam_app.domain.exam.closing import close
from exam_app.domain.exam.exam import Correction, Exam
from exam_app.domain.exam.people import Attribution, Person
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.region_wording import NOT_TAKEN
from exam_app.domain.wording.written_record import plain_sections
from exam_app.language.catalogue import in_english, to_translate

Answer = TypeVar("Answer", RegionEntry, VitalEntry)

# Sections whose lines name no item of their own.
_WHOLE_LINES = ("Given", "Procedures", "Samples and tests", "Group")
_NO_STATEMENTS = frozenset(
    [
        "Not part of this exam",
        "Private, for the veterinarian only",
        "Who and when",
        "About this record",
    ]
)
_ATTENTION = "For the veterinarian's attention"
_VITALS = "Vitals"
_APART = ", apart from that: "


class NotYoursToReviseError(ExamError):
    """A record was to be revised by another role than the one that closed it."""

    advice = to_translate(
        "Only the role that closed this record revises it. Nothing was changed. Write "
        "a note beside it: it stands with the record wherever it is read."
    )


class NothingCorrectedError(ExamError):
    """A correction was to be closed that changes nothing."""

    advice = to_translate(
        "Nothing reads otherwise than before, so there is nothing to sign. The record "
        "is as it was. Change what is wrong, or drop the correction."
    )


def statements(exam: Exam, protocol: SpeciesProtocol) -> tuple[tuple[str, str], ...]:
    """Return what a record states as (item, words), in reading order, in English.

    An item is a vital, a part, a field of the visit, or a list of it; a part that is
    spoken of in several sections stands several times.
    """
    found: list[tuple[str, str]] = []
    with in_english():
        sections = plain_sections(exam, protocol)
    for section in sections:
        for line in section.lines:
            item, colon, words = line.replace(_APART, ": apart from that, ").partition(
                ": "
            )
            if section.heading in _NO_STATEMENTS or item == NOT_TAKEN:
                continue
            if section.heading == _ATTENTION:
                found += (
                    [(to_translate("Urgent sign"), words)] if item == "URGENT" else []
                )
            elif section.heading in _WHOLE_LINES or not colon:
                found.append((section.heading, line))
            elif section.heading == _VITALS:
                found.append((item, words))
            else:
                found.append((item, f"{section.heading.lower()}: {words}"))
    return tuple(found)


def said_of(words: str, exam: Exam, protocol: SpeciesProtocol) -> str:
    """Return the words of a statement without the section that they begin with.

    A person who is shown the item needs no ``animal:`` before what is said of it.
    """
    section, colon, rest = words.partition(": ")
    known = {one.heading.lower() for one in plain_sections(exam, protocol)}
    return rest if colon and section in known else words


def changes(first: Exam, now: Exam, protocol: SpeciesProtocol) -> Iterator[Correction]:
    """Yield every item that reads otherwise, with its words before and now."""
    before, after = _by_item(first, protocol), _by_item(now, protocol)
    for item in dict.fromkeys((*before, *after)):
        was = [
            words for words in before.get(item, ()) if words not in after.get(item, ())
        ]
        new = [
            words for words in after.get(item, ()) if words not in before.get(item, ())
        ]
        if was or new:
            yield Correction(item, "; ".join(was), "; ".join(new))


def _by_item(exam: Exam, protocol: SpeciesProtocol) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for item, words in statements(exam, protocol):
        found.setdefault(item, []).append(words)
    return found


def begin_correction(
    first: Exam, first_hash: str, reason: str, by: Attribution
) -> Exam:
    """Return the draft of a revision: every answer as it stands, open again.

    Args:
        first: The closed record.
        first_hash: SHA-256 of its signed bytes, in hexadecimal.
        reason: Why it is corrected; stands beside every change.
        by: Who corrects it.
    """
    wanted = Correction("", "", "", reason.strip(), by)
    return replace(
        first,
        closing=None,
        revision=first.revision + 1,
        parent_hash=first_hash,
        corrections=(*first.corrections, wanted),
    )


def may_revise(first: Exam, person: Person) -> bool:
    """Whether a person has the role of the one who closed a record."""
    closer = first.person(first.closing.closed_by) if first.closing else None
    return closer is not None and closer.role is person.role


def close_correction(
    draft: Exam,
    first: Exam,
    protocol: SpeciesProtocol,
    closer: Person,
    now: Moment,
) -> Exam:
    """Close a revision: it names what it changed, and who said what stays as it was.

    An answer that was changed keeps who examined and when; who entered it and when are
    those of the correction.

    Args:
        draft: The revision, with the change of every answer made.
        first: The record it revises.

    Raises:
        NotYoursToReviseError: The closer has another role.
        NothingCorrectedError: Every statement reads as before.
        ExamClosedError, OpenPointsError: As of any closing.
    """
    if not may_revise(first, closer):
        raise NotYoursToReviseError
    draft = replace(
        draft,
        regions=_seen_then(draft.regions, first.regions),
        vitals={
            key: _once(answer, first.vital(key))
            for key, answer in _seen_then(draft.vitals, first.vitals).items()
        },
    )
    wanted = next((one for one in draft.corrections if not one.item), Correction(""))
    made = tuple(
        replace(one, reason=wanted.reason, attribution=wanted.attribution)
        for one in changes(first, draft, protocol)
    )
    if not made:
        raise NothingCorrectedError
    kept = tuple(one for one in draft.corrections if one.item)
    return close(replace(draft, corrections=(*kept, *made)), protocol, closer, now)


def _seen_then(
    now: Mapping[str, Answer], before: Mapping[str, Answer]
) -> dict[str, Answer]:
    """Keep who examined and when beside an answer that was entered anew."""
    return {key: _as_seen(answer, before.get(key)) for key, answer in now.items()}


def _once(now: VitalEntry, before: VitalEntry) -> VitalEntry:
    """Leave the value that was wrong out of the counts that were repeated."""
    return replace(now, earlier=before.earlier) if before.has_value else now


def _as_seen(answer: Answer, before: Answer | None) -> Answer:
    then, now = before.attribution if before else None, answer.attribution
    if then is None or now is None or now == then:
        return answer
    seen = replace(then, entered_by=now.entered_by, entered=now.entered)
    return replace(answer, attribution=seen)

"""A record and its continuations read as one, each answer from where it was given."""

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

from exam_app.domain.exam.corrections import changes
from exam_app.domain.exam.denials import denied_claims, without_claims
from exam_app.domain.exam.exam import Correction, Exam, StoppedEarly, words_for
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.domain.exam.people import Person
from exam_app.domain.exam.region_states import Conclusion, RegionEntry, RegionState
from exam_app.domain.exam.review import region_label
from exam_app.domain.exam.visit import (
    BiteHistory,
    Care,
    Intake,
    Photo,
    Plan,
    Presentation,
)
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key
from exam_app.domain.wording.region_wording import AGAIN
from exam_app.language.catalogue import in_english

Words = TypeVar("Words", BiteHistory, Care, Plan, Presentation)


def combined(first: Exam, later: Sequence[Exam], protocol: SpeciesProtocol) -> Exam:
    """Return a view of a record with everything its continuations closed.

    A continuation's answer replaces a gap, and a reason never hides an answer. Findings
    of both stand; what was answered again stands with what it read before. The view is
    for reading; it is not signed and not stored.

    What it says itself, as which answer is of the continuation, it says in English, as
    a record does.

    Args:
        later: Continuations of ``first``, oldest first.
        protocol: Whose words the values are written in.
    """
    with in_english():
        return _combined(first, later, protocol)


def _combined(first: Exam, later: Sequence[Exam], protocol: SpeciesProtocol) -> Exam:
    view = first
    for exam in later:
        answered = replace(
            view,
            people=_people(view.people, exam.people),
            regions={**view.regions, **_later_regions(view, exam, protocol)},
            vitals={**view.vitals, **_later_vitals(view, exam)},
            # A veterinarian may have gone on, who takes more than the first was asked.
            asked_vitals=tuple(dict.fromkeys((*view.asked_vitals, *exam.vitals))),
        )
        denied = _denied(answered, protocol)
        answered = replace(answered, regions={**answered.regions, **denied})
        again = (*answered_again(view, exam), *denied)
        view = replace(
            answered,
            corrections=(
                *view.corrections,
                *exam.corrections,
                *_said_again(view, answered, again, exam, protocol),
            ),
            urgent=(*view.urgent, *exam.urgent),
            earlier=_earlier(view.earlier, exam.earlier),
            given=(*view.given, *exam.given),
            procedures=(*view.procedures, *exam.procedures),
            samples=(*view.samples, *exam.samples),
            private_notes=(*view.private_notes, *exam.private_notes),
            intake=_intake(view.intake, exam.intake),
            presentation=both(view.presentation, exam.presentation),
            bite=_bites(view.bite, exam.bite),
            plan=both(view.plan, exam.plan),
            care=both(view.care, exam.care),
            photos=_photos(view.photos, exam.photos),
            stopped=_stopped(view.stopped, exam.stopped),
            remark=_join(view.remark, exam.remark),
            closing=exam.closing,
        )
    return view


def _photos(first: tuple[Photo, ...], later: tuple[Photo, ...]) -> tuple[Photo, ...]:
    """Return the photographs of both; of one picture, what was said of it last."""
    return tuple({one.sha256: one for one in (*first, *later)}.values())


def answered_again(view: Exam, exam: Exam) -> tuple[str, ...]:
    """Return what an exam answers that was answered before: keys, ``vital:ID``."""
    keys = (
        key
        for key, entry in exam.regions.items()
        if _is_answer(entry) and _is_answer(view.entry(key))
    )
    vitals = (
        f"vital:{vital_id}"
        for vital_id, entry in exam.vitals.items()
        if entry.has_value and view.vital(vital_id).has_value
    )
    return (*keys, *vitals)


def _is_answer(entry: RegionEntry) -> bool:
    """Whether a part was looked at as a whole, with or without a find."""
    is_done = entry.conclusion in (Conclusion.ASSERTED, Conclusion.NOT_PRESENT)
    return not entry.is_gap and (is_done or bool(entry.findings))


def _undone(entry: RegionEntry) -> str:
    """Say as a remark what a continuation left undone of a part answered before."""
    left = [f"not seen: {one.text} ({one.reason})" for one in entry.struck]
    left += [f"not examined: {entry.reason}"] if entry.reason else []
    return _join(*(f"in the continuation {words}" for words in left), entry.remark)


def _join(*texts: str) -> str:
    return "; ".join(dict.fromkeys(text for text in texts if text))


def _later_vitals(view: Exam, exam: Exam) -> dict[str, VitalEntry]:
    """Return the vitals a continuation answers; a reason never hides a value."""
    found = {}
    for vital_id, entry in exam.vitals.items():
        before = view.vital(vital_id)
        if entry.has_value or not before.has_value:
            found[vital_id] = replace(entry, note=_join(before.note, entry.note))
        else:
            later = f"in the continuation {entry.reason}" if entry.reason else ""
            note = _join(before.note, later, entry.note)
            found[vital_id] = replace(before, note=note)
    return found


def _stopped(
    first: StoppedEarly | None, later: StoppedEarly | None
) -> StoppedEarly | None:
    """Keep why the first exam was stopped, and say why its continuation was."""
    if first is None or later is None:
        return first or later
    again = f"continuation stopped too: {later.reason.value}"
    return replace(first, note=_join(first.note, again, later.note))


def _later_regions(
    view: Exam, exam: Exam, protocol: SpeciesProtocol
) -> dict[str, RegionEntry]:
    """Return the parts a continuation answers, with the findings of both."""
    found = {}
    for key, entry in exam.regions.items():
        before = view.entry(key)
        if entry.state is RegionState.UNEXAMINED:
            continue
        if _is_answer(before) and not _is_answer(entry):
            merged = replace(before, remark=_join(before.remark, _undone(entry)))
        else:
            merged = replace(entry, remark=_join(before.remark, entry.remark))
        merged = replace(merged, findings=(*before.findings, *entry.findings))
        both_say = replace(view, regions={**view.regions, key: merged})
        found[key] = _without_denied(both_say, protocol, key)
    return found


def _without_denied(view: Exam, protocol: SpeciesProtocol, key: str) -> RegionEntry:
    """Return an answer without the claims that a find of either exam denies."""
    entry, region = view.entry(key), protocol.region(split_key(key)[0])
    if region is None:
        return entry
    left = without_claims(entry, region, denied_claims(view, region, key))
    # That something was not seen denies nothing, and its reason was typed.
    return replace(left, struck=entry.struck)


def _denied(answered: Exam, protocol: SpeciesProtocol) -> dict[str, RegionEntry]:
    """Return the answers of which the other record denies a claim, without it.

    A part of which nothing is left to say keeps that it was looked at.
    """
    found = {}
    for key, entry in answered.regions.items():
        left = _without_denied(answered, protocol, key)
        if left.asserted != entry.asserted or left.instead != entry.instead:
            found[key] = replace(left, conclusion=entry.conclusion)
    return found


def _said_again(
    view: Exam,
    answered: Exam,
    again: Sequence[str],
    exam: Exam,
    protocol: SpeciesProtocol,
) -> Iterator[Correction]:
    """Yield what reads otherwise since a continuation answered it again."""
    names = tuple(answer_name(exam, protocol, key) for key in again)
    by = next((entry.attribution for entry in exam.regions.values()), None)
    for one in changes(view, answered, protocol) if names else ():
        if one.was and one.item.startswith(names):
            yield replace(one, reason=AGAIN, attribution=by)


def answer_name(exam: Exam, protocol: SpeciesProtocol, key: str) -> str:
    """Name what ``answered_again`` returned; left and right of a part as the part."""
    vital = protocol.vital(key.removeprefix("vital:"))
    if vital is not None:
        return vital.label
    return region_label(protocol, split_key(key)[0], words_for(exam))


def both(first: Words | None, later: Words | None) -> Words | None:
    """Return what both say, field by field; nothing said first is ever dropped."""
    if first is None or later is None:
        return first or later
    said: dict[str, Any] = {}
    for field in fields(first):
        one, other = getattr(first, field.name), getattr(later, field.name)
        is_new = other and other != one
        said[field.name] = f"{one}; later: {other}" if one and is_new else one or other
    return type(first)(**said)


def _bites(first: BiteHistory | None, later: BiteHistory | None) -> BiteHistory | None:
    """Return what both say of bites, each bite whole; the same one stands once."""
    if first is None or later is None:
        return first or later
    told = tuple(block for block in later.blocks if block not in first.blocks)
    rest = both(first.with_blocks(()), later.with_blocks(()))
    return rest and rest.with_blocks((*first.blocks, *told))


def _intake(first: Intake | None, later: Intake | None) -> Intake | None:
    """Keep how the animal came, with every scan of both."""
    if first is None or later is None:
        return first or later
    return replace(first, scans=(*first.scans, *later.scans))


def _people(known: tuple[Person, ...], more: tuple[Person, ...]) -> tuple[Person, ...]:
    ids = {person.person_id for person in known}
    return (*known, *(person for person in more if person.person_id not in ids))


def _earlier(
    before: tuple[EarlierFinding, ...], after: tuple[EarlierFinding, ...]
) -> tuple[EarlierFinding, ...]:
    answered = {found.finding_id for found in after}
    return (*(f for f in before if f.finding_id not in answered), *after)

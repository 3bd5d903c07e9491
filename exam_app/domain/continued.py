"""A record and its continuations read as one, each answer from where it was given."""

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import TypeVar

from exam_app.domain.exam import Correction, Exam
from exam_app.domain.findings import EarlierFinding
from exam_app.domain.people import Person
from exam_app.domain.protocol import SpeciesProtocol
from exam_app.domain.region_states import RegionEntry, RegionState
from exam_app.domain.visit import BiteHistory, Care, Intake, Plan, Presentation
from exam_app.domain.vitals import VitalEntry
from exam_app.domain.wording import describe_value

Words = TypeVar("Words", BiteHistory, Care, Plan, Presentation)


def combined(first: Exam, later: Sequence[Exam], protocol: SpeciesProtocol) -> Exam:
    """Return a view of a record with everything its continuations closed.

    A continuation's answer replaces a gap: findings of both stand, and a value that was
    entered again stands with the one before it. The view is for reading; it is not
    signed and not stored.

    Args:
        later: Continuations of ``first``, oldest first.
        protocol: Whose words the values are written in.
    """
    view = first
    for exam in later:
        view = replace(
            view,
            people=_people(view.people, exam.people),
            regions={**view.regions, **_closed_regions(view, exam)},
            vitals={**view.vitals, **_later_vitals(view, exam)},
            corrections=(
                *view.corrections,
                *exam.corrections,
                *_entered_again(view, exam, protocol),
            ),
            urgent=(*view.urgent, *exam.urgent),
            earlier=_earlier(view.earlier, exam.earlier),
            given=(*view.given, *exam.given),
            procedures=(*view.procedures, *exam.procedures),
            samples=(*view.samples, *exam.samples),
            private_notes=(*view.private_notes, *exam.private_notes),
            intake=_intake(view.intake, exam.intake),
            presentation=both(view.presentation, exam.presentation),
            bite=both(view.bite, exam.bite),
            plan=both(view.plan, exam.plan),
            care=both(view.care, exam.care),
            closing=exam.closing,
        )
    return view


def _later_vitals(view: Exam, exam: Exam) -> dict[str, VitalEntry]:
    """Return the vitals a continuation answers; a reason never hides a value."""
    return {
        vital_id: entry
        for vital_id, entry in exam.vitals.items()
        if entry.has_value or not view.vital(vital_id).has_value
    }


def _entered_again(
    view: Exam, exam: Exam, protocol: SpeciesProtocol
) -> Iterator[Correction]:
    """Yield the values that a continuation enters where another one stands."""
    day = f"{exam.started.local():%Y-%m-%d}"
    for vital_id, entry in _later_vitals(view, exam).items():
        vital, before = protocol.vital(vital_id), view.vital(vital_id)
        if vital is None or not before.has_value:
            continue
        was, now = (describe_value(e, vital, protocol) for e in (before, entry))
        if was != now:
            why = f"entered again in the continuation of {day}"
            yield Correction(vital.label, was, now, why, entry.attribution)


def _closed_regions(view: Exam, exam: Exam) -> dict[str, RegionEntry]:
    return {
        key: replace(entry, findings=(*view.entry(key).findings, *entry.findings))
        for key, entry in exam.regions.items()
        if entry.state is not RegionState.UNEXAMINED
        and (view.entry(key).is_gap or view.entry(key).state is RegionState.UNEXAMINED)
    }


def both(first: Words | None, later: Words | None) -> Words | None:
    """Return what both say, field by field; nothing said first is ever dropped."""
    if first is None or later is None:
        return first or later
    said = {}
    for field in fields(first):
        one, other = getattr(first, field.name), getattr(later, field.name)
        is_new = other and other != one
        said[field.name] = f"{one}; later: {other}" if one and is_new else one or other
    return type(first)(**said)


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

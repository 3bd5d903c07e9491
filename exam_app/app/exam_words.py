"""The short lines about an exam and an animal that lists and headers show."""

from datetime import date

from exam_app.app.exam_start import SETTING_LABELS
from exam_app.app.exam_view import Overview
from exam_app.domain.animal.ages import age_words
from exam_app.domain.animal.signalment import AgeBasis, Animal, species_words
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.domain.protocol.protocol import SCOPE_LABELS, Scope, SpeciesProtocol
from exam_app.domain.wording.record_times import style_of
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from sync.trust.words import compared_words


def exam_subtitle(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Return species, stage, scope and setting; a focused exam names its parts."""
    stage = next(
        (s.label for s in protocol.life_stages if s.stage_id == exam.life_stage), ""
    )
    parts = [
        protocol.label,
        stage or "age not known",
        scope_words(exam, protocol),
        SETTING_LABELS[exam.setting],
        "Demo" if exam.is_demo else "",
    ]
    return " · ".join(part for part in parts if part)


def scope_words(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Name the scope; a focused exam names its parts."""
    if exam.scope is not Scope.FOCUSED:
        return SCOPE_LABELS[exam.scope]
    regions = (protocol.region(region_id) for region_id in exam.focus)
    names = ", ".join(region.label for region in regions if region)
    return f"{SCOPE_LABELS[exam.scope]}: {names}"


def short_progress(overview: Overview) -> str:
    """Return the same in numbers alone, for where there is no room for words."""
    regions = f"{overview.done}/{overview.total}"
    if not overview.vitals_total:
        return regions
    return f"{regions} · {overview.vitals_done}/{overview.vitals_total}"


def progress_words(overview: Overview) -> str:
    """Return how many parts and vitals are answered."""
    regions = f"{overview.done} of {overview.total} parts"
    if not overview.vitals_total:
        return regions
    return f"{regions}\n{overview.vitals_done} of {overview.vitals_total} vitals"


def begun_words(exam: Exam, examiner: Person, today: date) -> str:
    """Say who began an exam and when, and whose name goes on what is entered now.

    Empty while the one who began it goes on with it on the same day.
    """
    begun = exam.started.local()
    is_own = exam.started_by == examiner.person_id
    if is_own and begun.date() == today:
        return ""
    starter = exam.person(exam.started_by)
    day = "" if begun.date() == today else f" on {begun:%Y-%m-%d}"
    when = f"began this exam{day} at {begun:%H:%M}"
    if is_own:
        return f"You {when}. What you enter now carries the time of now."
    who = starter.name if starter else "Somebody else"
    return f"{who} {when}. What you enter now carries your name: {examiner.name}."


def signed_line(exam: Exam, signer: str) -> str:
    """Say when a record was closed, whose key signed it, and what that proves."""
    closing, times = exam.closing, style_of(exam)
    when = times.full(closing.at) if closing else ""
    return (
        f"Closed {when} and signed by {signer}; the signature fits. "
        "It proves the device, not the person."
    )


def signature_lines(exam_hash: str, key_id: bytes) -> tuple[str, ...]:
    """Say by which hash and key a signed record is known, also as words to compare.

    Args:
        exam_hash: SHA-256 of the signed record, in hexadecimal.
        key_id: Of the key that signed it.
    """
    return (
        f"SHA-256 of the signed record: {exam_hash}",
        f"The hash in words: {' '.join(compared_words(bytes.fromhex(exam_hash)))}",
        f"Key: {key_id.hex()}",
        f"The key in words: {' '.join(compared_words(key_id))}",
    )


def draft_line(row: OpenExam, starter: str = "") -> str:
    """Describe an open exam, with who began it."""
    scope = _scope_label(row.scope)
    if row.revision:
        scope = f"Correction of a closed record · {scope}"
    elif row.continues:
        scope = f"Continuation · {scope}"
    by = f" by {starter}" if starter else ""
    started = f"started {_short(row.started)}{by}"
    return f"{scope} · {row.examined} of {row.total} parts · {started}"


def closed_line(row: ClosedExam) -> str:
    """Describe a closed exam from its stored projection."""
    by = f" by {row.closed_by}" if row.closed_by else ""
    undone = f" · {row.gaps} not done" if row.gaps else ""
    scope = _scope_label(row.scope)
    if row.continues:
        scope = f"Continuation · {scope}"
    if row.revision:
        scope = f"Corrected · {scope}"
    return f"{scope} · closed {_short(row.closed)}{by}{undone}"


def answered_line(row: ClosedExam) -> str:
    """Describe a closed exam, with who at the clinic has acknowledged it."""
    known = row.acknowledged_by
    return closed_line(row) + (f" · acknowledged by {known}" if known else "")


def _scope_label(scope: object) -> str:
    known = {item.value: label for item, label in SCOPE_LABELS.items()}
    return known.get(str(scope), "Exam")


def _short(moment: object) -> str:
    """Return date and time without seconds and offset."""
    return str(moment or "")[:16]


def animal_line(animal: Animal, today: date) -> str:
    """Return species, breed, sex, age and colour in one line, what is known."""
    sex = "" if animal.sex.value == "not known" else animal.sex.value
    parts = (
        species_words(animal.species),
        animal.breed,
        sex,
        known_age(animal, today),
        animal.colour,
        animal.tag,
        animal.place,
    )
    return " · ".join(part for part in parts if part)


def known_age(animal: Animal, today: date) -> str:
    """Return the age in words, and how it is known unless by its birth date."""
    words = age_words(animal, today)
    if not words or animal.age_basis is AgeBasis.BIRTH_DATE:
        return words
    return f"{words} ({animal.age_basis})"

"""The short lines about an exam and an animal that lists and headers show."""

from datetime import date

from exam_app.app.exam_start import SETTING_LABELS
from exam_app.app.exam_view import Overview
from exam_app.domain.animal.ages import age_words
from exam_app.domain.animal.signalment import AgeBasis, Animal, species_shown
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.domain.protocol.protocol import SCOPE_LABELS, Scope, SpeciesProtocol
from exam_app.domain.wording.record_times import style_of
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from sync.trust.words import compared_words

_EXAM = to_translate("Exam")


def exam_subtitle(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Return species, stage, scope and setting; a focused exam names its parts."""
    stage = next(
        (tr(s.label) for s in protocol.life_stages if s.stage_id == exam.life_stage), ""
    )
    parts = [
        tr(protocol.label),
        stage or tr("age not known"),
        scope_words(exam, protocol),
        tr(SETTING_LABELS[exam.setting]),
        tr("Demo") if exam.is_demo else "",
    ]
    return _joined(*parts)


def scope_words(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Name the scope; a focused exam names its parts."""
    if exam.scope is not Scope.FOCUSED:
        return tr(SCOPE_LABELS[exam.scope])
    regions = (protocol.region(region_id) for region_id in exam.focus)
    names = ", ".join(tr(region.label) for region in regions if region)
    return f"{tr(SCOPE_LABELS[exam.scope])}: {names}"


def short_progress(overview: Overview) -> str:
    """Return the same in numbers alone, for where there is no room for words."""
    regions = f"{overview.done}/{overview.total}"
    if not overview.vitals_total:
        return regions
    return f"{regions} · {overview.vitals_done}/{overview.vitals_total}"


def progress_words(overview: Overview) -> str:
    """Return how many parts and vitals are answered."""
    regions = tr("{done} of {total} parts", done=overview.done, total=overview.total)
    if not overview.vitals_total:
        return regions
    done, total = overview.vitals_done, overview.vitals_total
    vitals = tr("{done} of {total} vitals", done=done, total=total)
    return f"{regions}\n{vitals}"


def begun_words(exam: Exam, examiner: Person, today: date) -> str:
    """Say who began an exam and when, and whose name goes on what is entered now.

    Empty while the one who began it goes on with it on the same day.
    """
    begun = exam.started.local()
    is_own = exam.started_by == examiner.person_id
    if is_own and begun.date() == today:
        return ""
    day, time = f"{begun:%Y-%m-%d}", f"{begun:%H:%M}"
    if is_own:
        return tr(
            "You began this exam on {day} at {time}. "
            "What you enter now carries the time of now.",
            day=day,
            time=time,
        )
    starter = exam.person(exam.started_by)
    who, name = starter.name if starter else tr("Somebody else"), examiner.name
    if begun.date() == today:
        return tr(
            "{who} began this exam at {time}. "
            "What you enter now carries your name: {name}.",
            who=who,
            time=time,
            name=name,
        )
    return tr(
        "{who} began this exam on {day} at {time}. "
        "What you enter now carries your name: {name}.",
        who=who,
        day=day,
        time=time,
        name=name,
    )


def signed_line(exam: Exam, signer: str) -> str:
    """Say when a record was closed, whose key signed it, and what that proves."""
    closing, times = exam.closing, style_of(exam)
    when = times.full(closing.at) if closing else ""
    return tr(
        "Closed {when} and signed by {signer}; the signature fits. "
        "It proves the device, not the person.",
        when=when,
        signer=signer,
    )


def signature_lines(exam_hash: str, key_id: bytes) -> tuple[str, ...]:
    """Say by which hash and key a signed record is known, also as words to compare.

    Args:
        exam_hash: SHA-256 of the signed record, in hexadecimal.
        key_id: Of the key that signed it.
    """
    return (
        tr("SHA-256 of the signed record: {hash}", hash=exam_hash),
        tr(
            "The hash in words: {words}",
            words=" ".join(compared_words(bytes.fromhex(exam_hash))),
        ),
        tr("Key: {key}", key=key_id.hex()),
        tr("The key in words: {words}", words=" ".join(compared_words(key_id))),
    )


def draft_line(row: OpenExam, starter: str = "") -> str:
    """Describe an open exam, with who began it."""
    scope = _scope_label(row.scope)
    if row.revision:
        scope = _joined(tr("Correction of a closed record"), scope)
    elif row.continues:
        scope = _joined(tr("Continuation"), scope)
    parts = tr("{done} of {total} parts", done=row.examined, total=row.total)
    time = _short(row.started)
    started = (
        tr("started {time} by {name}", time=time, name=starter)
        if starter
        else tr("started {time}", time=time)
    )
    return _joined(scope, parts, started)


def closed_line(row: ClosedExam) -> str:
    """Describe a closed exam from its stored projection."""
    time = _short(row.closed)
    closed = (
        tr("closed {time} by {name}", time=time, name=row.closed_by)
        if row.closed_by
        else tr("closed {time}", time=time)
    )
    undone = tr("{count} not done", count=row.gaps) if row.gaps else ""
    scope = _scope_label(row.scope)
    if row.continues:
        scope = _joined(tr("Continuation"), scope)
    if row.revision:
        scope = _joined(tr("Corrected"), scope)
    return _joined(scope, closed, undone)


def answered_line(row: ClosedExam) -> str:
    """Describe a closed exam, with who at the clinic has acknowledged it."""
    known = row.acknowledged_by
    said = tr("acknowledged by {name}", name=known) if known else ""
    return _joined(closed_line(row), said)


def _joined(*texts: str) -> str:
    return " · ".join(text for text in texts if text)


def _scope_label(scope: object) -> str:
    known = {item.value: label for item, label in SCOPE_LABELS.items()}
    return tr(known.get(str(scope), _EXAM))


def _short(moment: object) -> str:
    """Return date and time without seconds and offset."""
    return str(moment or "")[:16]


def animal_line(animal: Animal, today: date) -> str:
    """Return species, breed, sex, age and colour in one line, what is known."""
    sex = "" if animal.sex.value == "not known" else tr(animal.sex.value)
    parts = (
        species_shown(animal.species),
        animal.breed,
        sex,
        known_age(animal, today),
        animal.colour,
        animal.tag,
        animal.place,
    )
    return _joined(*parts)


def known_age(animal: Animal, today: date) -> str:
    """Return the age in words, and how it is known unless by its birth date."""
    words = age_words(animal, today)
    if not words or animal.age_basis is AgeBasis.BIRTH_DATE:
        return words
    return f"{words} ({tr(animal.age_basis.value)})"

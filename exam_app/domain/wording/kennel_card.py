"""What may stand on a kennel card: never an owner, a private note, or who was bitten.

The card hangs on a door and is read by whoever passes, on paper as on a screen: of a
bite it says when it was and what quarantine was said. The record says the rest.
"""

from collections.abc import Callable, Sequence

from exam_app.domain.animal.ages import age_words
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.handling import reactions_of
from exam_app.domain.exam.people import Role
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.kept_words import reason_shown
from exam_app.language.catalogue import to_translate, tr

Line = tuple[str, str]

BITE = to_translate("BITE OR SCRATCH")
ISOLATION = to_translate("ISOLATION")
BY_MOUTH = to_translate("NOTHING BY MOUTH")
VETERINARIAN = to_translate("VETERINARIAN")
NOT_YET_SEEN = to_translate("has not seen it yet")
WARNINGS = frozenset({BITE, ISOLATION, BY_MOUTH, VETERINARIAN})


def kennel_card(
    exam: Exam, *, was_seen_by_veterinarian: bool, earlier: Sequence[Exam] = ()
) -> tuple[Line, ...]:
    """Return the lines of a kennel card as (label, text), most pressing first.

    Labels are English, by which a line is known; ``tr`` shows them.

    A bite of any exam stays. What the newest exam does not say is taken from the
    last one that does, with its date.

    Args:
        exam: The animal's newest exam, open or closed.
        was_seen_by_veterinarian: Whether any record of this animal was examined or
            acknowledged by a veterinarian.
        earlier: Its other exams, newest first.
    """
    exams = (exam, *earlier)
    animal = exam.animal
    age = age_words(animal, exam.started.local().date()) or tr("not known")
    came = next(filter(_is_intake, exams), None)
    reason = exam.vital("weight").reason
    not_weighed = ""
    if reason:
        not_weighed = tr("not weighed: {reason}", reason=reason_shown(reason))
    lines = (
        (BITE, "; ".join(bite_dates(exams))),
        (ISOLATION, _newest(exams, lambda e: e.care.isolation if e.care else "")),
        (BY_MOUTH, _newest(exams, lambda e: e.care.nothing_by_mouth if e.care else "")),
        (VETERINARIAN, "" if was_seen_by_veterinarian else tr(NOT_YET_SEEN)),
        (to_translate("Number"), animal.tag),
        (to_translate("Name"), animal.name),
        (to_translate("Sex"), tr(animal.sex.value)),
        (to_translate("Age"), age),
        (to_translate("Weight"), _newest(exams, _weighed) or not_weighed),
        (to_translate("Taken in"), _date(came) if came else ""),
        (
            to_translate("Hold until"),
            _newest(exams, lambda e: e.intake.hold_until if e.intake else ""),
        ),
        (
            to_translate("Medication due"),
            _newest(exams, lambda e: e.care.medication_due if e.care else ""),
        ),
        (to_translate("Can hurt you"), _can_hurt(exams)),
    )
    return tuple((label, text) for label, text in lines if text)


def bite_dates(exams: Sequence[Exam]) -> tuple[str, ...]:
    """Say when each bite or scratch was and what quarantine was said, each once."""
    said: list[str] = []
    for bite in (exam.bite for exam in exams if exam.bite and exam.bite.concern):
        said += [
            block.when or tr("date not said") for block in bite.blocks if block.who
        ]
        said += (
            [tr("quarantine: {dates}", dates=bite.quarantine)]
            if bite.quarantine
            else []
        )
        said += [tr("rabies concern noted")] if bite.rabies_concern else []
    return tuple(dict.fromkeys(said))


def is_by_veterinarian(exam: Exam) -> bool:
    """Return whether a veterinarian examined in this exam."""
    starter = exam.person(exam.started_by)
    is_veterinarian = starter is not None and starter.role is Role.VETERINARIAN
    return is_veterinarian and exam.scope is not Scope.INTAKE


def _is_intake(exam: Exam) -> bool:
    """Whether the animal came in with this exam; a continuation comes later."""
    has_kind = exam.intake is not None and bool(exam.intake.kind)
    return not exam.continues and (exam.scope is Scope.INTAKE or has_kind)


def _newest(exams: Sequence[Exam], say: Callable[[Exam], str]) -> str:
    """Return what the newest exam that says it says; an older one with its date."""
    for exam in exams:
        text = say(exam)
        if text:
            if exam is exams[0]:
                return text
            return tr("{text} (said {date})", text=text, date=_date(exam))
    return ""


def _date(exam: Exam) -> str:
    return f"{exam.started.local():%Y-%m-%d}"


def _can_hurt(exams: Sequence[Exam]) -> str:
    """Return what was typed as a danger, and how the animal answered to the hands."""
    told = [exams[0].animal.dangers]
    for exam in exams:
        for one in reactions_of(exam):
            part = one.key.replace("_", " ").replace(".", ", ")
            said = reason_shown(one.text)
            told.append(f"{part}: {said}" if part else said)
    return "; ".join(dict.fromkeys(filter(None, told)))


def _weighed(exam: Exam) -> str:
    entry = exam.vital("weight")
    if entry.reading is None:
        return ""
    typed, unit = entry.reading.typed, entry.reading.unit
    has_unit = any(letter.isalpha() for letter in typed)
    shown = typed if has_unit else f"{typed} {unit}"
    if not entry.is_estimate:
        return shown
    return tr("about {weight} (estimate)", weight=shown)

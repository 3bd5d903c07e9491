"""What is asked of a value: unit, length of a count, scale, what the exam says already.

A number that its form would ask about is asked about in the same words.
"""

from collections.abc import Sequence
from dataclasses import replace

from exam_app.app.forms import vital_form as forms
from exam_app.app.queries.history import last_weight
from exam_app.app.view.region_presenter import term_label
from exam_app.app.view.vital_presenter import value_text
from exam_app.app.words.question import (
    REPEAT,
    REPLACE,
    YES,
    Answer,
    Question,
    asking,
    without,
)
from exam_app.app.words.settled import Around, Settled, entry_of
from exam_app.domain.errors import ExamError, MissingReasonError
from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.vitals import RateState
from exam_app.domain.lumps.lumps import LUMP_LENGTH
from exam_app.domain.measure.conversion import with_unit
from exam_app.domain.measure.counting import WINDOWS
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.protocol import VitalKind
from exam_app.domain.words.items import Doubt, ItemKind
from exam_app.language.catalogue import tr

_LONGEST_WINDOW = 120
_COUNTED = (ItemKind.VALUE, ItemKind.COUNT)


def ask_unit(around: Around, settled: Settled) -> Question | None:
    """Ask in which unit a number was taken: it is never guessed."""
    item = settled.item
    if Doubt.UNIT not in item.doubts:
        return None
    if item.sizes:
        return asking(
            tr("“{said}”: in which unit?", said=settled.said),
            *(
                Answer(
                    f"unit:{unit}",
                    f"{' x '.join(item.sizes)} {unit}",
                    without(settled, Doubt.UNIT, sizes=_with_unit(item.sizes, unit)),
                )
                for unit in LUMP_LENGTH.units_offered
            ),
        )
    vital = around.vital(item)
    measure = vital.measure
    offered = measure.units_offered if measure else ()
    answers = [
        Answer(
            f"unit:{unit}",
            with_unit(item.value, measure.label_of(unit) if measure else unit),
            without(settled, Doubt.UNIT, unit=unit),
        )
        for unit in offered
    ]
    return asking(
        tr("{name}: in which unit?", name=around.name_of(item.places[0])),
        *answers,
    )


def _with_unit(sizes: tuple[str, ...], unit: str) -> tuple[str, ...]:
    return tuple(f"{size} {unit}" for size in sizes)


def ask_window(around: Around, settled: Settled) -> Question | None:
    """Ask how long something was counted: it is never guessed."""
    if Doubt.WINDOW not in settled.item.doubts:
        return None
    name, count = around.name_of(settled.item.places[0]), settled.item.value
    answers = [
        Answer(
            f"window:{seconds}",
            tr("{count} in {seconds} s", count=count, seconds=seconds),
            without(settled, Doubt.WINDOW, seconds=seconds),
        )
        for seconds in WINDOWS
        if seconds <= _LONGEST_WINDOW
    ]
    return asking(
        tr("{name}, “{said}”: counted for how long?", name=name, said=settled.said),
        *answers,
    )


def ask_scale(around: Around, settled: Settled) -> Question | None:
    """Ask on which scale a grade was given."""
    item = settled.item
    if Doubt.SCALE not in item.doubts:
        return None
    if item.kind is ItemKind.FINDING:
        term = around.region(item).term(item.term_id)
        grades = around.words.grades(term.scale_id if term else "")
        after = without(settled, Doubt.SCALE)
        name = term_label(around.exam, term) if term else item.term_id
        values = [grade.value for grade in grades]
        known = item.value in values
        said = [Answer(YES, _on(item.value, values), after)] if known else []
        return asking(
            tr("{name}: grade {value} of which scale?", name=name, value=item.value),
            *said,
        )
    answers = []
    for place in item.places:
        grades = around.words.grades(around.words.vitals[place].scale_id)
        if item.value in [grade.value for grade in grades]:
            numbers = [g.value for g in grades if g.value[:1].isdigit()]
            label = _on(item.value, numbers)
            after = without(
                settled, Doubt.SCALE, Doubt.WHICH, Doubt.NUMBER, places=(place,)
            )
            answers.append(Answer(f"scale:{place}", label, after))
    return asking(
        tr("{name}: on which scale?", name=around.name_of(item.places[0])),
        *answers,
    )


def _on(value: str, grades: Sequence[str]) -> str:
    """Say a grade with the ends of its scale."""
    low, high = grades[0], grades[-1]
    return tr("{value}, on {low} to {high}", value=value, low=low, high=high)


def ask_number(around: Around, settled: Settled) -> Question | None:
    """Say that a number cannot be taken; it is entered at its own place."""
    item = settled.item
    if Doubt.NUMBER not in item.doubts:
        return None
    name = around.name_of(item.places[0])
    return asking(
        tr(
            "{name}, “{said}”: the number can be read in more than one way, or "
            "not at all. Write it in digits above, or leave it out.",
            name=name,
            said=settled.said,
        ),
        dropped=tr("Leave it out"),
    )


def ask_limit(around: Around, settled: Settled) -> Question | None:
    """Ask what "about" and "under" mean."""
    item = settled.item
    doubts = {Doubt.LIMIT, Doubt.ESTIMATE} & item.doubts
    if not doubts:
        return None
    vital = around.vital(item)
    name = around.name_of(item.places[0])
    after = without(settled, *doubts)
    if vital.is_body_weight:
        return asking(
            tr(
                "{name}, “{said}”: weighed, or estimated?", name=name, said=settled.said
            ),
            Answer("weighed", tr("Weighed"), after),
            Answer("estimate", tr("Estimated"), replace(after, is_estimate=True)),
        )
    answers = [
        Answer(
            f"choice:{choice.value}",
            tr(choice.label),
            without(
                settled, *item.doubts, kind=ItemKind.CHOICE, value=choice.value, unit=""
            ),
        )
        for choice in vital.choices
    ]
    exact = Answer(
        YES,
        tr("Exactly {value} {unit}", value=item.value, unit=item.unit).strip(),
        after,
    )
    return asking(
        tr("{name}, “{said}”: which?", name=name, said=settled.said), *answers, exact
    )


def ask_state(around: Around, settled: Settled) -> Question | None:
    """Ask what the animal was doing while a rate was taken, as its form does."""
    item = settled.item
    if item.kind not in _COUNTED or around.vital(item).kind is not VitalKind.RATE:
        return None
    if item.state or forms.recent_state(
        around.exam, around.editor.protocol, around.editor.now()
    ):
        return None
    answers = [
        Answer(
            f"state:{state.value}",
            tr(state.value).capitalize(),
            without(settled, state=state.value),
        )
        for state in RateState
    ]
    name = around.name_of(item.places[0])
    return asking(tr("{name}: what was the animal doing?", name=name), *answers)


def ask_expected(around: Around, settled: Settled) -> Question | None:
    """Ask about a number that its form would ask about, the likelier unit first."""
    item = settled.item
    if item.kind not in _COUNTED or settled.is_confirmed:
        return None
    try:
        entry = entry_of(around, settled)
    except MissingReasonError:
        return None
    except ExamError as refusal:
        reason = tr(getattr(refusal, "reason", "") or refusal.advice)
        name = around.name_of(item.places[0])
        return asking(
            f"{name}, “{settled.said}”: {reason}.", dropped=tr("Leave it out")
        )
    editor, vital = around.editor, around.vital(item)
    last = last_weight(
        around.session.vault, editor, vital, around.session.examiner.role
    )
    asked = forms.what_is_asked(around.exam, editor.protocol, vital, entry, last)
    if asked is None:
        return None
    units = [
        Answer(f"unit:{u.reading.unit}", u.label, _in_unit(settled, u.reading))
        for u in asked.units
    ]
    believed = Answer(YES, asked.as_typed, replace(settled, is_confirmed=True))
    return asking(asked.text, *units, believed, dropped=tr("Leave it out"))


def _in_unit(settled: Settled, reading: Reading) -> Settled:
    return without(settled, Doubt.PLAUSIBLE, value=reading.typed, unit=reading.unit)


def ask_already(around: Around, settled: Settled) -> Question | None:
    """Ask where the exam says something of it: nothing is overwritten unseen."""
    item, exam = settled.item, around.exam
    is_decided = settled.is_repeat or settled.is_replacing
    if is_decided or item.places[0] not in around.words.vitals:
        return None
    entry = exam.vital(item.places[0])
    if not entry.is_answered:
        return None
    vital, words = around.vital(item), words_for(exam)
    now = value_text(around.editor.protocol, vital, entry, words)
    after = replace(settled, is_replacing=True)
    answers = [Answer(REPLACE, tr("Put this in its place"), after)]
    if item.kind in _COUNTED and entry.reading is not None:
        more = replace(settled, is_repeat=True)
        answers.insert(0, Answer(REPEAT, tr("Taken once more: keep both"), more))
    name = around.name_of(item.places[0])
    return asking(
        tr("{name} is recorded as {now}.", name=name, now=now),
        *answers,
        dropped=tr("Keep what stands"),
    )

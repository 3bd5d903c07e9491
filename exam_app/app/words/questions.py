"""What has to be asked of an item before it may stand, one question after the other.

Each answer is a tap, and has a key that is kept with the line: after a lock or a kill
the same answers settle the same items. No answer is chosen in advance, and one of every
question is that it was not said.
"""

from collections.abc import Callable

from exam_app.app.words.part_questions import (
    ask_negated,
    ask_sentence,
    ask_sex,
    ask_side,
    ask_term,
    ask_tool,
    ask_where,
)
from exam_app.app.words.question import YES, Answer, Question, asking, without
from exam_app.app.words.settled import Around, Settled
from exam_app.app.words.vital_questions import (
    ask_already,
    ask_expected,
    ask_limit,
    ask_number,
    ask_scale,
    ask_state,
    ask_unit,
    ask_window,
)
from exam_app.domain.exam.region_states import NOT_EXAMINED_REASONS
from exam_app.domain.words.items import Doubt
from exam_app.language.catalogue import tr

Ask = Callable[[Around, Settled], Question | None]


def next_question(around: Around, settled: Settled) -> Question | None:
    """Return what is asked next of an item; ``None`` once all is settled."""
    if settled.as_remark:
        return None
    for asked in _ORDER:
        question = asked(around, settled)
        if question is not None:
            return question
    return None


def ask_reason(around: Around, settled: Settled) -> Question | None:
    """Ask why something was not done, in the reasons offered for it."""
    item = settled.item
    if Doubt.REASON not in item.doubts:
        return None
    vital = around.words.vitals.get(item.places[0])
    known = vital.not_done_reasons if vital else NOT_EXAMINED_REASONS
    answers = [
        Answer(
            f"reason:{why}",
            tr(why).capitalize(),
            without(settled, Doubt.REASON, value=why),
        )
        for why in known
    ]
    return asking(tr("{name}: why not?", name=around.name_of(item.places[0])), *answers)


def ask_words(around: Around, settled: Settled) -> Question | None:
    """Ask about what stands beside words that were not understood, or twice."""
    item = settled.item
    doubts = {Doubt.WORDS, Doubt.TWICE} & item.doubts
    if not doubts:
        return None
    name, said = around.name_of(item.places[0]), settled.said
    is_twice = Doubt.TWICE in doubts
    told = (
        tr("{name}, “{said}”: the line says it in two ways.", name=name, said=said)
        if is_twice
        else tr(
            "{name}, “{said}”: words beside it were not understood.",
            name=name,
            said=said,
        )
    )
    key = "this" if is_twice else YES
    kept = Answer(key, tr("Record this"), without(settled, *doubts))
    return asking(told, kept)


def ask_dose(_around: Around, settled: Settled) -> Question | None:
    """Ask about what was given: nothing tells a product from a misheard word."""
    item = settled.item
    if Doubt.DOSE not in item.doubts:
        return None
    said = ", ".join(text for text in (item.value, item.dose, item.route) if text)
    given = Answer(YES, tr("Yes, given"), without(settled, Doubt.DOSE, Doubt.WORDS))
    return asking(tr("Given: {said}?", said=said), given)


_ORDER: tuple[Ask, ...] = (
    ask_where,
    ask_side,
    ask_term,
    ask_negated,
    ask_sentence,
    ask_unit,
    ask_window,
    ask_scale,
    ask_limit,
    ask_number,
    ask_reason,
    ask_dose,
    ask_words,
    ask_tool,
    ask_expected,
    ask_already,
    ask_state,
    ask_sex,
)

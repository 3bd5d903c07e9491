"""How a correction is written: the new value and the one before it, side by side."""

from collections.abc import Iterable, Sequence

from exam_app.domain.exam.exam import Correction, Exam
from exam_app.domain.wording.exam_wording import person_name

# Why something reads otherwise where two records are read together.
AGAIN = "answered again in a continuation"
NOT_SAID, TAKEN_OUT = "nothing was recorded", "taken out"


def corrected_items(exam: Exam, *, again: bool = False) -> str:
    """Name what was corrected after closing, each once; empty where nothing was.

    Args:
        again: Whether what a continuation answered again is meant instead.
    """
    items = (
        one.item
        for one in exam.corrections
        if one.item and (one.reason == AGAIN) is again
    )
    return ", ".join(dict.fromkeys(items))


def correction_lines(exam: Exam, beside: Sequence[Correction] = ()) -> tuple[str, ...]:
    """Return a line for each correction: now, before, when, by whom and why.

    Args:
        beside: What signed notes say should read otherwise.
    """
    own = tuple(
        f"{one.item}: {one.now or TAKEN_OUT}; before: {one.was or NOT_SAID}. "
        f"{_who(exam, one)}{_why(one)}"
        for one in exam.corrections
        if one.item
    )
    noted = tuple(
        f"{one.item}: recorded {one.was or NOT_SAID}; a note says it should read: "
        f"{one.now}{_why(one)}"
        for one in beside
    )
    return (*own, *noted)


def _who(exam: Exam, one: Correction) -> str:
    if one.attribution is None or one.reason == AGAIN:
        return "Both stand" if one.reason == AGAIN else "Corrected"
    by = one.attribution
    return (
        f"Corrected {by.entered.date_and_time()} by {person_name(exam, by.entered_by)}"
    )


def _why(one: Correction) -> str:
    return f": {one.reason}" if one.reason else ""


def marks_of(exam: Exam, beside: Iterable[Correction] = ()) -> dict[str, str]:
    """Return by item what stands beside its line: what it read before, what it should.

    Args:
        beside: What signed notes say should read otherwise.
    """
    found: dict[str, list[str]] = {}
    for one in exam.corrections:
        if one.item and one.now:
            why = "ANSWERED AGAIN" if one.reason == AGAIN else "CORRECTED"
            said = f"{why}, before: {one.was or NOT_SAID}"
            found.setdefault(one.item, []).append(said)
    for one in beside:
        said = f"A NOTE SAYS IT SHOULD READ: {one.now}"
        found.setdefault(one.item, []).append(said)
    return {item: "; ".join(said) for item, said in found.items()}


def marked(line: str, exam: Exam, beside: Sequence[Correction] = ()) -> str:
    """Return a line of a record with what was corrected of it beside it.

    Args:
        line: As ``Weight: 24.6 kg``; one that was not corrected is returned as it is,
            also where something else was that is said of the same part.
        exam: The exam it was written from.
        beside: What signed notes say should read otherwise.
    """
    item, colon, words = line.partition(": ")
    is_meant = any(
        one.item == item and words in one.now for one in exam.corrections
    ) or any(one.item == item and words in one.was for one in beside)
    if not colon or not is_meant:
        return line
    return f"{line} [{marks_of(exam, beside)[item]}]"

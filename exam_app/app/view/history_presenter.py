"""What the history of an animal says: beside each plot a line, and its numbers behind.

A value is laid beside the one before it as both were typed. Only of a weight is a
difference said, with days and with what was estimated.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from exam_app.app.view.plot import MarkKind, Plot
from exam_app.app.view.rest_presenter import side_label, with_side
from exam_app.domain.animal.history import (
    AnimalHistory,
    PastLine,
    PastValue,
    Series,
    past_value,
)
from exam_app.domain.animal.weight_changes import weight_change
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.measure.known_units import unit_label
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital, split_key
from exam_app.domain.wording.phrases import capital
from exam_app.language.catalogue import to_translate, tr, tr_plural

# Letters said of a find in a line that leads to all of it: two rows of a small phone.
_MOST_OF_A_FIND = 60
_KINDS = {
    MarkKind.VALUE: to_translate("dot: value"),
    MarkKind.ESTIMATE: to_translate("ring: estimate"),
    MarkKind.OUTSIDE: to_translate("square: outside all published ranges compared"),
}


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """A line that leads to the record that says it."""

    exam_id: str
    title: str
    words: str


def day_words(at: Moment) -> str:
    """Write the local date of a moment."""
    return f"{at.local():%Y-%m-%d}"


def newest_words(series: Series) -> str:
    """Say the newest value of a series and when it was taken."""
    newest = series.values[-1]
    return f"{newest.shown}, {day_words(newest.at)}"


def since_words(series: Series) -> str:
    """Lay the newest value beside the one before it; empty where there is none."""
    if len(series.values) < 2:
        return ""
    before, newest = series.values[-2:]
    said = tr("Before: {value}, {day}", value=before.shown, day=day_words(before.at))
    change = weight_change(before, newest) if newest.is_body_weight else None
    return f"{capital(change.words)}. {said}" if change else said


def before_words(
    history: AnimalHistory, exam: Exam, protocol: SpeciesProtocol, vital: Vital
) -> str:
    """Lay a vital of an open exam beside the last time; empty where there was none.

    Args:
        history: From before this exam.
        exam: The open one.
        protocol: The one it names.
        vital: What is shown; where it has no value yet, only the last one is said.
    """
    last = history.last_value(vital.vital_id)
    if last is None:
        return ""
    said = tr("Before: {value}, {day}", value=last.shown, day=day_words(last.at))
    if last.detail:
        said += f", {last.detail}"
    change = None
    if vital.is_body_weight and exam.vital(vital.vital_id).has_value:
        change = weight_change(last, value_now(exam, protocol, vital))
    return f"{capital(change.words)}. {said}" if change else said


def found_before_words(
    history: AnimalHistory, keys: Sequence[str], asked: Collection[str] = ()
) -> str:
    """Say what was found in a part the last time; empty where nothing ever was.

    Where a later exam looked there and noted no find, that is said first.

    Args:
        history: From before the exam in which the part is shown.
        keys: Region keys of the part, left before right.
        asked: Ids of the finds that are asked about beside these words.
    """
    count = len(history.found_in(keys))
    if not count:
        return ""
    said = ((key, _last_found(history, key, asked)) for key in keys)
    sides = ((side_label(split_key(key)[1]), words) for key, words in said)
    told = "; ".join(with_side(side, words) for side, words in sides if words)
    if not told:
        return tr("All that was found here before ({count})", count=count)
    return tr("Before: {finds}", finds=told)


def _last_found(history: AnimalHistory, key: str, asked: Collection[str]) -> str:
    """Say what was found there last; empty where it is asked about, or nothing was."""
    looked = ""
    for exam in reversed(history.exams):
        found = [line for line in exam.found if line.key == key]
        fresh = [line.text for line in found if line.finding_id not in asked]
        if fresh:
            said = f"{_in_short('; '.join(fresh))}, {day_words(exam.at)}"
            if not looked:
                return said
            return tr(
                "no find noted {day}, before that {finds}", day=looked, finds=said
            )
        if found:
            return ""
        if not looked and key in exam.looked_at:
            looked = day_words(exam.at)
    return ""


def _in_short(text: str) -> str:
    if len(text) <= _MOST_OF_A_FIND:
        return text
    whole_words = text[:_MOST_OF_A_FIND].rpartition(" ")[0]
    return f"{whole_words} \N{HORIZONTAL ELLIPSIS}"


def value_now(exam: Exam, protocol: SpeciesProtocol, vital: Vital) -> PastValue:
    """Return what an open exam says of a vital."""
    entry = exam.vital(vital.vital_id)
    return past_value(exam, entry, vital, protocol, words_for(exam))


def value_lines(values: Sequence[PastValue]) -> tuple[HistoryLine, ...]:
    """Write the table behind a plot, the newest value first."""
    lines = []
    for value in reversed(values):
        flag = capital(value.flag)
        words = " · ".join(filter(None, (value.detail, flag)))
        title = f"{day_words(value.at)}: {value.shown}"
        lines.append(HistoryLine(value.exam_id, title, words))
    return tuple(lines)


def past_lines(lines: Sequence[PastLine]) -> tuple[HistoryLine, ...]:
    """Write finds, or what was given, the newest first."""
    return tuple(
        HistoryLine(
            line.exam_id,
            ", ".join(filter(None, (day_words(line.at), line.part))),
            line.text,
        )
        for line in reversed(lines)
    )


def spoken_plot(series: Series) -> str:
    """Say in a sentence what a plot shows."""
    numbers = series.numbers
    low, *_, high = sorted(numbers, key=lambda value: value.number or 0)
    return tr_plural(
        "Plot of {label}, {count} value from {first} to {last}. Lowest {lowest}, "
        "{lowest_day}; highest {highest}, {highest_day}; newest {newest}. The numbers "
        "are behind the button below.",
        "Plot of {label}, {count} values from {first} to {last}. Lowest {lowest}, "
        "{lowest_day}; highest {highest}, {highest_day}; newest {newest}. The numbers "
        "are behind the button below.",
        len(numbers),
        label=tr(series.label),
        first=day_words(numbers[0].at),
        last=day_words(numbers[-1].at),
        lowest=low.shown,
        lowest_day=day_words(low.at),
        highest=high.shown,
        highest_day=day_words(high.at),
        newest=newest_words(series),
    )


def legend(series: Series, plot: Plot) -> str:
    """Say the unit of a plot and what its shapes mean, as far as it has them."""
    label = unit_label(series.unit)
    measured = (
        tr("per {unit}", unit=label[1:])
        if label.startswith("/")
        else tr("in {unit}", unit=label)
    )
    said = [measured] if label else []
    said += [tr(words) for kind, words in _KINDS.items() if kind in plot.kinds]
    if plot.ranges:
        said.append(tr("shaded between dashed lines: published ranges compared then"))
    words = "; ".join(said)
    return f"{capital(words)}."


def drawn_first(history: AnimalHistory) -> tuple[Series, ...]:
    """Return the series in order: weight, then the newest exam's."""
    return tuple(sorted(history.series, key=lambda one: not one.is_body_weight))


def elsewhere(history: AnimalHistory) -> str:
    """Say that a wound may stand below too; empty where nothing is in own words."""
    if not any(line.is_own_words for line in history.found):
        return ""
    return tr("What was found in own words stands with the other finds.")


def waiting_words(waiting: int, unread: int) -> str:
    """Say what is not shown; empty where everything is."""
    said = []
    if waiting:
        said.append(
            tr_plural(
                "{count} earlier exam still being read.",
                "{count} earlier exams still being read.",
                waiting,
            )
        )
    if unread:
        said.append(
            tr_plural(
                "{count} record cannot be read here; open it below to see why.",
                "{count} records cannot be read here; open it below to see why.",
                unread,
            )
        )
    return " ".join(said)

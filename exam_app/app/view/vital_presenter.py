"""What the vitals show: one card each, its value or reason, its flag, its open point.

Nothing here draws. A flag is shown with its reason and source and never names an
illness; "within" is shown quietly, and a vital nobody answered is never blank.
"""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.exam.exam import Exam, required_vitals, words_for
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import sign_label, vital_label
from exam_app.domain.exam.vital_transitions import (
    shown_flag,
    sign_to_count_again_for,
    why_not_compared,
)
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.counting import rate
from exam_app.domain.measure.pulse_sentences import pulse_words
from exam_app.domain.measure.units import show
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.intervals import Flag, ReferenceInterval, source_text
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import Choice, SpeciesProtocol, Vital, VitalKind
from exam_app.domain.protocol.scales import show_grade
from exam_app.domain.wording.exam_wording import known_words
from exam_app.domain.wording.kept_words import offered
from exam_app.domain.wording.phrases import capital
from exam_app.domain.wording.source_words import cited
from exam_app.language.catalogue import to_translate, tr, tr_plural

NOT_TAKEN = to_translate("not taken yet")
STATE_STANDS_MS = 10 * 60_000
RECOUNT_ADVICE = to_translate(
    "Count again before this is taken as out of range: "
    "many healthy animals race for a while."
)


class FlagWeight(StrEnum):
    """How loudly a flag is shown; each has its own sign and word."""

    OUTSIDE = "outside"
    NEAR = "near"
    DISPUTED = "disputed"
    WITHIN = "within"


LOUD = (FlagWeight.OUTSIDE, FlagWeight.NEAR)
_WORDS = {
    FlagWeight.OUTSIDE: to_translate("Outside"),
    FlagWeight.NEAR: to_translate("Near"),
    FlagWeight.DISPUTED: to_translate("Sources differ"),
    FlagWeight.WITHIN: "",
}


@dataclass(frozen=True, slots=True)
class FlagNotice:
    """A flag as shown.

    Attributes:
        word: A word of its own, with its colon; empty where nothing stands out.
        text: Which side, and of how many ranges; two lines on a phone.
        behind: What a tap opens, a pair for each source: the ranges it printed, and
            who printed them, when, and how that was checked.
    """

    weight: FlagWeight
    word: str
    text: str
    behind: tuple[tuple[str, str], ...] = ()


class CardState(StrEnum):
    """Where one vital stands."""

    OPEN = "open"
    VALUE = "value"
    REASON = "reason"


@dataclass(frozen=True, slots=True)
class VitalCard:
    """One vital in the list.

    Attributes:
        shown: The value, the words or the reason; or that it was not taken yet.
        detail: State, site, count and estimate behind the value; may be empty.
        is_needed: The exam cannot close without it and it is still open.
        lacks_state: A rate whose animal's state was not said.
        not_compared: Why a number stands beside no published range; may be empty.
    """

    vital_id: str
    label: str
    state: CardState
    shown: str
    detail: str
    flag: FlagNotice | None
    is_needed: bool
    lacks_state: bool
    not_compared: str = ""


def choice_label(choice: Choice, words: Role) -> str:
    """Name a worded answer as it is recorded, in plain words for volunteers."""
    return choice.plain if words is Role.VOLUNTEER and choice.plain else choice.label


def vital_notice(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital
) -> FlagNotice | None:
    """Say how the flag of a vital is shown, with what is behind it."""
    entry = exam.vital(vital.vital_id)
    shown = shown_flag(exam, protocol, vital, entry)
    return flag_notice(entry.flag, protocol, shown)


def flag_notice(
    flag: Flag | None,
    protocol: SpeciesProtocol | None = None,
    shown: Flag | None = None,
) -> FlagNotice | None:
    """Say how a flag is shown; ``None`` where no published range applied.

    Args:
        flag: As it stands in the exam.
        protocol: Where its ranges and sources stand; without it nothing is behind.
        shown: The same in the language chosen; without it in the words that are kept.
    """
    if flag is None or flag.level is FlagLevel.NONE:
        return None
    weight, shown = _weight_of(flag), shown or flag
    _, _, place = shown.summary.partition(": ")
    word = f"{tr(_WORDS[weight])}: " if _WORDS[weight] else ""
    if not word:
        place = capital(place)
    behind = _behind(shown, protocol) if protocol else ()
    return FlagNotice(weight, word, place, behind)


def _weight_of(flag: Flag) -> FlagWeight:
    if flag.level in {FlagLevel.BELOW, FlagLevel.ABOVE}:
        return FlagWeight.OUTSIDE
    if flag.level in {FlagLevel.NEAR_LOW, FlagLevel.NEAR_HIGH}:
        return FlagWeight.NEAR
    return FlagWeight.DISPUTED if flag.is_disputed else FlagWeight.WITHIN


def _behind(flag: Flag, protocol: SpeciesProtocol) -> tuple[tuple[str, str], ...]:
    rows = [row for row in protocol.intervals if row.interval_id in flag.interval_ids]
    titles = protocol.source_titles()
    by_source: dict[str, list[ReferenceInterval]] = {}
    for row in sorted(rows, key=lambda row: flag.interval_ids.index(row.interval_id)):
        by_source.setdefault(source_text(row, titles), []).append(row)
    return tuple(
        (line, _about_rows(rows, protocol))
        for line, rows in zip(flag.lines, by_source.values(), strict=False)
    )


def _about_rows(rows: list[ReferenceInterval], protocol: SpeciesProtocol) -> str:
    named = [name for row in rows for name in row.every_source()]
    is_recalled = any(row.provenance == "memory" for row in rows)
    notes = [f"{capital(tr(row.note))}." for row in rows if row.note]
    return " ".join((*notes, cited(protocol, named, "memory" if is_recalled else "")))


def card(exam: Exam, protocol: SpeciesProtocol, vital: Vital) -> VitalCard:
    """Show one vital of an exam."""
    entry = exam.vital(vital.vital_id)
    needed = {v.vital_id for v in required_vitals(exam, protocol)}
    is_rate = vital.kind is VitalKind.RATE
    without_value = CardState.REASON if entry.reason else CardState.OPEN
    return VitalCard(
        vital_id=vital.vital_id,
        label=vital_label(vital, words_for(exam)),
        state=CardState.VALUE if entry.has_value else without_value,
        shown=value_text(protocol, vital, entry, words_for(exam)) or tr(NOT_TAKEN),
        detail=detail_text(entry, vital),
        flag=flag_notice(entry.flag, shown=shown_flag(exam, protocol, vital, entry)),
        is_needed=vital.vital_id in needed and not entry.is_answered,
        lacks_state=is_rate and entry.reading is not None and entry.state is None,
        not_compared=not_compared(exam, protocol, vital),
    )


def not_compared(exam: Exam, protocol: SpeciesProtocol, vital: Vital) -> str:
    """Say that a number stands beside no published range; empty where one does."""
    entry = exam.vital(vital.vital_id)
    why = "" if entry.flag else why_not_compared(exam, protocol, vital, entry)
    return tr("No range compared: {why}", why=why) if why else ""


def value_text(
    protocol: SpeciesProtocol, vital: Vital, entry: VitalEntry, words: Role
) -> str:
    """Return the value, grade and words, or the reason; empty when unanswered."""
    parts = []
    if entry.reading is not None and vital.measure is not None:
        parts.append(show(entry.reading, vital.measure, is_estimate=entry.is_estimate))
    scale = protocol.scale(entry.grade.scale_id) if entry.grade else None
    if entry.grade is not None and scale is not None:
        parts.append(show_grade(entry.grade, scale, is_plain=words is Role.VOLUNTEER))
    parts.extend(known_words(text, protocol) for text in entry.words)
    if parts:
        return ", ".join(parts)
    if not entry.reason:
        return ""
    return tr("not done: {reason}", reason=known_words(entry.reason, protocol))


def beside_name(protocol: SpeciesProtocol, vital_id: str, label: str, text: str) -> str:
    """Return what is said of a vital whose name stands beside it already.

    A scale that is called as the vital is does not say so again: in one line of a phone
    the grade itself would be cut.
    """
    vital = protocol.vital(vital_id)
    scale = protocol.scale(vital.scale_id) if vital and vital.scale_id else None
    named = (tr(scale.label), tr(scale.plain_label)) if scale else ()
    for name in named:
        if name.casefold().startswith(label.casefold()):
            text = text.removeprefix(f"{name} ")
    return text


def detail_text(entry: VitalEntry, vital: Vital) -> str:
    """Say what stands behind a value, shortest first; empty when nothing does."""
    parts = [tr(entry.state.value)] if entry.state else []
    site = tr(entry.site) if entry.site in vital.sites else entry.site
    felt = pulse_words(entry.beats_felt).rstrip(".")
    parts += [text for text in (site, offered(entry.rhythm), felt) if text]
    if entry.is_estimate:
        parts.append(tr("estimated, not weighed"))
    if entry.evidence is not None:
        parts.append(rate(entry.evidence).basis)
    if entry.earlier:
        times = len(entry.earlier)
        is_counted = bool(entry.state or entry.evidence)
        parts.append(_again(times, is_counted=is_counted))
    if entry.note:
        parts.append(entry.note)
    return " · ".join(parts)


def _again(times: int, *, is_counted: bool) -> str:
    if times == 1:
        return tr("counted again") if is_counted else tr("measured again")
    if is_counted:
        return tr_plural(
            "counted again {count} time", "counted again {count} times", times
        )
    return tr_plural(
        "measured again {count} time", "measured again {count} times", times
    )


def recent_state(
    exam: Exam, protocol: SpeciesProtocol, now: Moment
) -> RateState | None:
    """Return the state last said beside a rate, if that was within ten minutes."""
    said = [
        (entry.attribution.observed.utc_ms, entry.state)
        for vital_id, entry in exam.vitals.items()
        if entry.state and entry.attribution and protocol.vital(vital_id)
    ]
    recent = [pair for pair in said if now.utc_ms - pair[0] <= STATE_STANDS_MS]
    return max(recent, key=lambda pair: pair[0])[1] if recent else None


def recount_advice(exam: Exam, protocol: SpeciesProtocol, vital: Vital) -> str:
    """Say why a number is to be taken again; empty where one is enough.

    A first count outside its range is not believed yet, one that is near the limit of
    an urgent sign is made sure of, and a sign that asks for two counts gets its second.
    """
    entry = exam.vital(vital.vital_id)
    sign = sign_to_count_again_for(exam, protocol, vital, entry)
    if sign is not None:
        label = sign_label(sign, words_for(exam))
        is_rate = vital.kind is VitalKind.RATE
        again = (
            tr("Count again: two counts decide.")
            if is_rate
            else tr("Measure again: two readings decide.")
        )
        return tr(
            "This is at the limit of an urgent sign ({sign}). {again}",
            sign=label,
            again=again,
        )
    notice = flag_notice(entry.flag)
    is_outside = notice is not None and notice.weight is FlagWeight.OUTSIDE
    is_first = vital.kind is VitalKind.RATE and not entry.earlier
    return tr(RECOUNT_ADVICE) if is_first and is_outside else ""

"""The answer for one vital: a value, a grade, words, or an honest reason."""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.exam.people import Attribution
from exam_app.domain.measure.counting import Evidence
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.intervals import Flag
from exam_app.domain.protocol.scales import Graded
from exam_app.language.catalogue import to_translate


class RateState(StrEnum):
    """What the animal was doing while a rate was taken."""

    ASLEEP = to_translate("asleep")
    RESTING = to_translate("resting")
    ALERT = to_translate("alert")
    RESTRAINED = to_translate("restrained or stressed")
    AFTER_EXERTION = to_translate("after exertion")
    HOT = to_translate("hot")


class Setting(StrEnum):
    """Where the exam takes place; published ranges differ by it."""

    CLINIC = to_translate("clinic")
    HOME = to_translate("home")
    FARM = to_translate("farm")
    SHELTER = to_translate("shelter")


@dataclass(frozen=True, slots=True)
class EarlierCount:
    """A count or a reading that was repeated; kept, never overwritten.

    Attributes:
        is_estimate: A weight that was not weighed.
    """

    reading: Reading
    evidence: Evidence | None
    state: RateState | None
    attribution: Attribution
    is_estimate: bool = False


@dataclass(frozen=True, slots=True)
class VitalEntry:
    """Everything said about one vital.

    Attributes:
        reading: Typed or counted value with its unit as typed.
        grade: Grade on the vital's scale.
        words: Worded answers as shown ("panting", "pink", "1–2 s").
        values: The choices' values behind ``words``, same order.
        reason: Why there is no value; empty when there is one.
        evidence: Raw count or tap times behind a rate.
        state: What the animal was doing, for a rate.
        site: Where it was measured, and ``depth`` or method in words.
        rhythm: Rhythm in words, for a heart or pulse rate.
        beats_felt: Answer to "every beat felt?" for a pulse, in words.
        is_estimate: A weight that was not weighed.
        flag: The flag as shown; ``None`` when nothing applied.
        earlier: Counts that this one repeats, oldest first.
    """

    reading: Reading | None = None
    grade: Graded | None = None
    words: tuple[str, ...] = ()
    values: tuple[str, ...] = ()
    reason: str = ""
    evidence: Evidence | None = None
    state: RateState | None = None
    site: str = ""
    rhythm: str = ""
    beats_felt: str = ""
    is_estimate: bool = False
    was_implausible_confirmed: bool = False
    note: str = ""
    flag: Flag | None = None
    earlier: tuple[EarlierCount, ...] = ()
    attribution: Attribution | None = None

    @property
    def has_value(self) -> bool:
        """Whether a reading, grade or worded answer stands."""
        return bool(self.reading or self.grade or self.words)

    @property
    def is_gap(self) -> bool:
        """Whether it was left undone for a reason."""
        return bool(self.reason) and not self.has_value

    @property
    def is_answered(self) -> bool:
        """Whether there is a value or an honest reason."""
        return self.has_value or bool(self.reason)

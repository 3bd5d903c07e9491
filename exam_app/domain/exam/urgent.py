"""Urgent signs noticed during the exam, and whether a veterinarian knows."""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.exam.people import Attribution
from exam_app.domain.moments import Moment
from exam_app.language.catalogue import to_translate


class AnswerKind(StrEnum):
    """How an urgent sign was answered."""

    TOLD = to_translate("told")
    TRIED = to_translate("tried, not reached")
    AM_VETERINARIAN = to_translate("I am the veterinarian")


@dataclass(frozen=True, slots=True)
class UrgentAnswer:
    """Who was told, when and how, and what they said.

    Attributes:
        whom: Name of the veterinarian told or tried.
        how: In person, phone, message.
        at: When.
        instruction: What was instructed, or the action taken.
        was_read_back: Whether the instruction was read back.
    """

    kind: AnswerKind
    attribution: Attribution
    whom: str = ""
    how: str = ""
    at: Moment | None = None
    instruction: str = ""
    was_read_back: bool = False


@dataclass(frozen=True, slots=True)
class UrgentEntry:
    """One urgent sign of this exam.

    Attributes:
        entry_id: UUID as 32 hexadecimal digits.
        sign_id: The protocol's sign, or empty for own words.
        label: As shown.
        action: The sign's own action, as shown.
        origin: ``button``, ``vital:ID`` or ``region:KEY:FINDING``.
    """

    entry_id: str
    label: str
    attribution: Attribution
    sign_id: str = ""
    action: str = ""
    origin: str = "button"
    note: str = ""
    answers: tuple[UrgentAnswer, ...] = ()

    @property
    def is_answered(self) -> bool:
        """Whether a veterinarian was told, tried, or is the examiner."""
        return bool(self.answers)

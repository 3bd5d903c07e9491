"""Transponder (microchip) numbers as typed or scanned: what can be wrong with one.

A printed chip number carries no check digit, so a slip of one digit cannot be seen
in the number itself: two independent reads are compared instead.
"""

from dataclasses import dataclass
from enum import StrEnum


class ChipKind(StrEnum):
    """What a chip number looks like."""

    ISO = "iso"
    OLDER = "older"
    UNKNOWN = "unknown"


class Severity(StrEnum):
    """How a problem is met: stop, ask, or only tell."""

    REFUSE = "refuse"
    WARN = "warn"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class ChipProblem:
    """One thing to know about a chip number, in a plain sentence."""

    severity: Severity
    text: str


@dataclass(frozen=True, slots=True)
class ChipCheck:
    """A chip number looked at.

    Args:
        number: The number without spaces and dashes.
        kind: What it looks like.
        problems: Everything found, the gravest first; empty when plain.
    """

    number: str
    kind: ChipKind
    problems: tuple[ChipProblem, ...]


@dataclass(frozen=True, slots=True)
class ChipComparison:
    """Two independent reads laid side by side.

    Args:
        is_same: Both reads give the same number.
        differing_positions: Digits that differ, counted from 1; empty when the
            reads are the same or of different length.
        text: The result in a plain sentence.
    """

    is_same: bool
    differing_positions: tuple[int, ...]
    text: str

"""What a receipt says to the person at the device: code, outcome, what may go.

A code says that a whole hand-over was stored. Only the signed receipt says what
became of each exam, and only an exam it calls stored may be deleted here.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from exam_app.app.view.hand_over_presenter import RECEIVED
from exam_app.domain.wording.count_words import count_words

Row = Mapping[str, Any]

HINT = "Eight characters. Capitals, spaces and dashes do not matter; O is 0, I is 1."
MISTYPED = (
    "That is no receipt code: a character is missing, swapped or misread. "
    "No try was used. Compare all eight with the clinic's screen."
)
NO_MORE_TRIES = (
    "Five codes were wrong. The exams stay on this device. "
    "Only the clinic's signed receipt counts for this hand-over now."
)
_ARRIVED = {
    "stored": "stored at the clinic",
    "had already": "was at the clinic already",
    "revision": "stored at the clinic as a later version",
    "fork": "stored at the clinic beside another version; both are kept",
}
_NOT_ARRIVED = {
    "quarantined": "set aside at the clinic; not among its records",
    "refused": "refused by the clinic; it is not there",
}


def wrong_code_words(tries_left: int) -> str:
    """Say that a code is not the right one, and how many more may be typed."""
    if tries_left < 1:
        return NO_MORE_TRIES
    again = "One try is" if tries_left == 1 else f"{tries_left} tries are"
    return (
        "That is not the code of this hand-over. "
        f"{again} left; compare it with the clinic's screen."
    )


@dataclass(frozen=True, slots=True)
class OutcomeLine:
    """What became of one exam.

    Attributes:
        has_arrived: Whether it is among the clinic's records.
    """

    name: str
    words: str
    has_arrived: bool


def outcome_lines(
    outcomes: Iterable[tuple[str, str]], rows: Mapping[str, Row]
) -> tuple[OutcomeLine, ...]:
    """Return what became of each exam; what did not arrive comes first.

    Args:
        outcomes: Record hash and outcome, as the receipt says.
        rows: Projections by record hash; a note has none.
    """
    lines = [_line(outcome, rows.get(record_hash)) for record_hash, outcome in outcomes]
    return tuple(sorted(lines, key=lambda line: line.has_arrived))


def _line(outcome: str, row: Row | None) -> OutcomeLine:
    name = "A note" if row is None else str(row.get("name") or "An animal")
    words = _ARRIVED.get(outcome) or _NOT_ARRIVED.get(outcome, outcome)
    return OutcomeLine(name, words, outcome in _ARRIVED)


def outcome_summary(lines: Sequence[OutcomeLine]) -> str:
    """Say in one sentence what arrived and what did not."""
    arrived = sum(line.has_arrived for line in lines)
    missing = len(lines) - arrived
    if not missing:
        return f"All {len(lines)} arrived." if len(lines) > 1 else "It arrived."
    return f"{arrived} arrived, {missing} did not. What did not arrive stays here."


def is_deletable(state: str, outcome: str) -> bool:
    """Whether an exam may be deleted here: signed for, and among the records."""
    return state == RECEIVED and outcome in _ARRIVED


def delete_question(count: int) -> str:
    """Ask before exams are deleted from this device."""
    them, they = ("it", "it") if count == 1 else ("them", "they")
    return (
        f"Delete {count_words(count)} from this device? The clinic signed that it has "
        f"{them}. Here {they} cannot be read again afterwards."
    )

"""What stands between an exam and its closing, each point with the way to it.

Also the words of the three ends: closing, stopping early, and what a closed record
still leaves open for a continuation.
"""

from collections.abc import Sequence

from exam_app.app.typed_entries import ANSWERS, PICTURE, Unsaved
from exam_app.domain.animal.chips import is_scan_open
from exam_app.domain.exam.exam import (
    Exam,
    StopReason,
    keys_in_scope,
    required_vitals,
)
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.review import (
    OpenPoint,
    PointKind,
    hasty_span,
    review,
)
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.count_words import count_words

HEADINGS = (
    (PointKind.URGENT, "Urgent signs not answered"),
    (PointKind.BITE, "Bites: when, and who was told"),
    (PointKind.SCAN, "Chip scan not answered"),
    (PointKind.GROUP, "The group"),
    (PointKind.VITAL, "Vitals with no value and no reason"),
    (PointKind.STATE, "Rates: what was the animal doing?"),
    (PointKind.EARLIER, "Earlier findings to look at"),
    (PointKind.REGION, "Parts not answered"),
)
STOP_LABELS = (
    (StopReason.URGENT, "Urgent: the animal needs care first"),
    (StopReason.UNSAFE, "Unsafe to go on"),
    (StopReason.OWNER_STOPPED, "The owner stopped it"),
    (StopReason.ESCAPED, "The animal escaped"),
    (StopReason.DIED, "The animal died"),
    (StopReason.VETERINARIAN_STOPPED, "The veterinarian stopped it"),
)


def point_groups(
    exam: Exam, protocol: SpeciesProtocol
) -> tuple[tuple[str, tuple[OpenPoint, ...]], ...]:
    """Return every open point under its heading, the most pressing first."""
    points = review(exam, protocol)
    groups = (
        (heading, tuple(p for p in points if p.kind is kind))
        for kind, heading in HEADINGS
    )
    return tuple(group for group in groups if group[1])


def open_count_text(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Say how much is open, in one line."""
    count = len(review(exam, protocol))
    if count == 0:
        return "Nothing is open. The exam can be closed."
    points = count_words(count, "point is", "points are")
    return f"{points} open. Tap one to go there."


def haste_text(exam: Exam) -> str:
    """Ask about many answers in few seconds, without blame; empty when there are none.

    Closing does not wait for an answer: the times stay in the record either way.
    """
    span = hasty_span(exam)
    if span is None:
        return ""
    return (
        f"{len(span.keys)} parts were called free of abnormality within "
        f"{span.seconds} s. Is each as you found it? Look again, or close as it is."
    )


def unsaved_text(unsaved: Sequence[Unsaved]) -> str:
    """Name what was typed and not saved, form by form; empty where there is none."""
    if not unsaved:
        return ""
    said = "; ".join(f"{one.label}: {_words(one)}" for one in unsaved)
    return (
        f"Typed and not saved, so not in the record: {said}. Open that place and save "
        "it there, or throw it away. Then the exam can be closed."
    )


def _words(one: Unsaved) -> str:
    hidden = (PICTURE, ANSWERS)
    texts = (text for name, text in one.words.items() if name not in hidden)
    picture = ["a picture"] if one.words.get(PICTURE) else []
    return ", ".join([*picture, *(f"“{text}”" for text in texts if text.strip())])


def stop_preview(exam: Exam, protocol: SpeciesProtocol, reason: StopReason) -> str:
    """Say what stopping early will record, before it is done."""
    parts = sum(
        exam.entry(key).state is RegionState.UNEXAMINED
        for key in keys_in_scope(exam, protocol)
    )
    vitals = sum(
        not exam.vital(vital.vital_id).is_answered
        for vital in required_vitals(exam, protocol)
    )
    scan = "the chip scan" if is_scan_open(exam) else ""
    counted = ((parts, "part"), (vitals, "vital"))
    texts = (*(count_words(n, noun) if n else "" for n, noun in counted), scan)
    what = " and ".join(filter(None, texts))
    if not what:
        return f"Nothing is left. The record will say: stopped early, {reason.value}."
    return f"{what} will be recorded as not examined: {reason.value}. None as normal."

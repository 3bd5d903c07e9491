"""Many "no abnormality found" in few seconds: asked about once, without blame.

The times stay in the record either way; nothing is changed by asking.
"""

from dataclasses import dataclass

from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.region_states import RegionState

PARTS = 12
SECONDS = 10


@dataclass(frozen=True, slots=True)
class HastySpan:
    """The most parts called free of abnormality within ten seconds.

    Attributes:
        keys: Their region keys, in the order entered; at least twelve.
        seconds: From the first to the last, rounded up, at least one.
    """

    keys: tuple[str, ...]
    seconds: int


def hasty_span(exam: Exam) -> HastySpan | None:
    """Return the densest ten seconds, if twelve parts or more fell into them.

    Twelve parts in ten seconds is common practice, no source: nobody feels a part in
    less than a second.
    """
    times = sorted(
        (entry.attribution.entered.utc_ms, key)
        for key, entry in exam.regions.items()
        if entry.attribution and entry.state is RegionState.NO_ABNORMALITY
    )
    best: list[tuple[int, str]] = []
    start = 0
    for end, (when, _) in enumerate(times):
        while when - times[start][0] > SECONDS * 1000:
            start += 1
        if end + 1 - start > len(best):
            best = times[start : end + 1]
    if len(best) < PARTS:
        return None
    span_ms = best[-1][0] - best[0][0]
    return HastySpan(tuple(key for _, key in best), max(1, -(-span_ms // 1000)))

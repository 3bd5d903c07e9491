"""What endangers the hands: signs that stop the handling, warnings that name a part."""

import re

from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol


def newly_stopping(
    before: Exam, after: Exam, protocol: SpeciesProtocol
) -> tuple[UrgentEntry, ...]:
    """Return the signs a change brought up that stop the handling, in their order.

    A sign that stood before, from wherever it came, is not told again: adding a
    detail to a find must not stop the hands a second time.
    """
    known = {entry.sign_id for entry in before.urgent}
    stopping = {sign.sign_id for sign in protocol.urgent_signs if sign.stops_handling}
    fresh = {e.sign_id: e for e in after.urgent if e.sign_id in stopping - known}
    return tuple(fresh.values())


def warnings_of_part(dangers: str, region: Region) -> tuple[str, ...]:
    """Return those warnings of an animal that name a part, as they were typed.

    A warning names a part that it calls by a word of the part's own name, one or many:
    "Snaps when ears are touched" stands at the ears.

    Args:
        dangers: As typed; warnings end with a full stop, a semicolon or their line.
        region: The part.
    """
    named = _words(f"{region.label} {region.plain_label} {region.group}")
    said = (text.strip() for text in re.split(r"[.;\n]", dangers))
    return tuple(text for text in said if text and named & _words(text))


def _words(text: str) -> frozenset[str]:
    found = re.findall(r"[^\W\d_]{3,}", text.lower())
    return frozenset(word.removesuffix("s") for word in found) - _SMALL


# Words of a part's name that many warnings have for other reasons.
_SMALL = frozenset({"and", "the", "other", "back", "left", "right", "from", "distance"})

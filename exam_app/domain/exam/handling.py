"""What endangers the hands: signs that stop the handling, warnings, reactions.

A reaction is how an animal answered to the hands, read from what was typed of its
parts. Nothing is concluded: words that tell of one are shown again as they were typed.
A sentence that tells of one in other words stands where it was typed and nowhere else.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from exam_app.domain.exam.exam import Exam, StopReason
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.review import region_label
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, split_key
from exam_app.domain.wording.exam_wording import known_words


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


# Reasons of the app's own for leaving a part, that tell of the animal.
# Offered by every sheet; "not tolerated" stands in records of earlier versions.
_REASONS = frozenset({"unsafe", "refused", "not tolerated"})
_TOLD = re.compile(
    r"""\b(?:
        snap(?:s|ped|ping|py)? | lung(?:es|ed|ing) | growl\w* | hiss(?:es|ed|ing)?
      | kick(?:s|ed|ing|er)?\b(?!\ (?:at\ )?(?:the\ |its\ )?(?:belly|flank))
      | (?<!flea\ )(?<!tick\ )(?<!insect\ )bites\b(?!\ itself) | biter | nips
      | bit\ (?:at|me|us|him|her|them|the|my|when)
      | (?:will|may|tries\ to|tried\ to)\ bite
      | scratch(?:es|ed)\ (?:at\ )?(?:me|us|him|her|them|people|when|if)
      | swats? | swiped? | claws\ at | strikes | struck\ (?:out|at) | butts | charges
      | rears | head[- ]?shy | pulls\ away | pulled\ away | flinch\w* | resent(?:s|ed)?
      | aggressive | attack\w* | threat\w* | fearful | afraid | panics? | panicked
      | (?:cries|cried|screams|screamed|yelps?|yelped)
      | (?:when|if|whenever)\ (?:\w+\ ){0,4}(?:touched|lifted|held|handled|approached)
      | do\ not\ touch | cannot\ be\ touched | will\ not\ be\ touched | muzzle[ds]?
      | unsafe | not\ tolerate[ds]?
    )\b""",
    re.IGNORECASE | re.VERBOSE,
)
# A term's own label tells of the animal's body as often as of the hands.
_TOLD_BY_TERM = re.compile(r"\b(?:threat\w*|fear\w*|afraid)\b", re.IGNORECASE)


@lru_cache(maxsize=1024)
def _term_tells(words: str) -> bool:
    return bool(_TOLD_BY_TERM.search(words))


@dataclass(frozen=True, slots=True)
class Reaction:
    """One reaction.

    Attributes:
        key: The part's key; empty where it is the whole animal's.
        text: As typed, or the reason as it was chosen.
        day: Of the earlier exam that tells of it; empty in an exam's own.
    """

    key: str
    text: str
    day: str = ""


def reaction_words(reaction: Reaction, protocol: SpeciesProtocol, words: Role) -> str:
    """Write a reaction: the part, what was typed, the day of an earlier exam."""
    part = f"{region_label(protocol, reaction.key, words)}: " if reaction.key else ""
    day = f" ({reaction.day})" if reaction.day else ""
    return f"{part}{known_words(reaction.text, protocol)}{day}"


_KIND = re.compile(
    r"""(?:(?:very|always|quite|really|and|with|to|people|children|everybody|is|a|the
      |friendly|calm|gentle|kind|sweet|tame|quiet|relaxed|easy|good|loves|likes|licks
      |purrs|wags|tail|its|playful|cuddly|hands|attention|used|being|handled)\W*)+""",
    re.IGNORECASE | re.VERBOSE,
)


def is_kind(behaviour: str) -> bool:
    """Whether words of an animal's behaviour are kind throughout.

    "Friendly, licks" warns of nothing; "friendly, but not with men" does: one word that
    is not known as kind is enough.
    """
    return bool(_KIND.fullmatch(behaviour.strip()))


def tells_of_reaction(text: str) -> bool:
    """Whether own words tell how an animal answered to the hands."""
    return bool(_TOLD.search(text))


def reactions_of(exam: Exam) -> tuple[Reaction, ...]:
    """Return every reaction an exam tells of, the whole animal's first, each once.

    What was said of both sides alike is said of the part.
    """
    found = [Reaction("", text) for text in _of_animal(exam)]
    sides: dict[tuple[str, str], list[str]] = {}
    for key, entry in exam.regions.items():
        if not (entry.reason or entry.remark or entry.struck or entry.findings):
            continue
        for text in dict.fromkeys(_of_part(entry)):
            sides.setdefault((split_key(key)[0], text), []).append(key)
    found += [
        Reaction(keys[0] if len(keys) == 1 else region_id, text)
        for (region_id, text), keys in sides.items()
    ]
    return tuple(dict.fromkeys(found))


def _of_animal(exam: Exam) -> Iterator[str]:
    stopped = exam.stopped
    if stopped is not None and stopped.reason is StopReason.UNSAFE:
        yield f"stopped early: {stopped.note or stopped.reason.value}"
    if tells_of_reaction(exam.remark):
        yield exam.remark


def _of_part(entry: RegionEntry) -> Iterator[str]:
    # What the stop itself left undone the whole animal's reaction says, once.
    is_by_stop = entry.reason.startswith("stopped early: ")
    reason = entry.reason
    is_told = bool(reason) and (reason in _REASONS or tells_of_reaction(reason))
    if is_told and not is_by_stop:
        yield f"not examined: {entry.reason}"
    for struck in entry.struck:
        if struck.reason in _REASONS or tells_of_reaction(struck.reason):
            yield f"not all seen: {struck.reason}"
    if entry.remark and tells_of_reaction(entry.remark):
        yield entry.remark
    for finding in entry.findings:
        yield from _of_finding(finding)


def _of_finding(finding: Finding) -> Iterator[str]:
    words = finding.words
    if _term_tells(words) if finding.term_id else tells_of_reaction(words):
        yield words
    if finding.note and tells_of_reaction(finding.note):
        yield finding.note

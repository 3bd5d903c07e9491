"""What one tap still says of a part: its sentence, the rest beside a find, a result.

What a find denies is in none of them. What is left out of a sentence is kept as pairs
of a claim and why: not seen for a reason, answered by the claim's own result ("felt
for, not felt"), or denied by what was found in own words.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from exam_app.domain.exam.denials import has_own_words, open_claims, rest_claims
from exam_app.domain.exam.exam import Exam, claim_name, clauses_for, words_for
from exam_app.domain.exam.region_states import Conclusion, RegionEntry, RegionState
from exam_app.domain.exam.transitions import clause_words
from exam_app.domain.protocol.protocol import Clause, Region, split_key
from exam_app.domain.wording.phrases import capital
from exam_app.language.catalogue import to_translate, tr

SIDE_LABELS = {"": "", "left": to_translate("Left"), "right": to_translate("Right")}
DENIED = to_translate("what I found denies it")
LeftOut = Sequence[tuple[str, str]]
Pairs = tuple[tuple[str, str], ...]


def side_label(side: str) -> str:
    """Name a side of a region key in the language chosen: ``Left``; empty for none."""
    return tr(SIDE_LABELS.get(side, side))


@dataclass(frozen=True, slots=True)
class RestOffer:
    """The rest of a part with findings that nothing is said of yet.

    Attributes:
        side: ``Left``, ``Right`` or empty.
        text: What one tap records, or what must be asked first.
        asks: Whether the examiner must say what own words deny.
    """

    key: str
    side: str
    text: str
    asks: bool


@dataclass(frozen=True, slots=True)
class ResultOffer:
    """A claim that can be answered by a result in its place, or by itself again.

    Attributes:
        label: The button: the result, or the claim where the result stands already.
        left_out: What the sentence leaves out when the button is tapped.
    """

    clause_id: str
    label: str
    left_out: Pairs


@dataclass(frozen=True, slots=True)
class Parted:
    """What a sentence leaves out, by the three ways that it can."""

    struck: Pairs
    instead: tuple[str, ...]
    denied: tuple[str, ...]


def parted(region: Region, left_out: LeftOut) -> Parted:
    """Part what is left out into what was not seen, results, and what is denied."""
    results = {c.clause_id: c.strike_as for c in region.clauses if c.strike_as}
    denied = tuple(c for c, why in left_out if why == DENIED)
    instead = tuple(c for c, why in left_out if results.get(c) == why)
    others = {*denied, *instead}
    return Parted(
        tuple((c, why) for c, why in left_out if c not in others), instead, denied
    )


def habits(exam: Exam, region: Region, key: str) -> Pairs:
    """Return the claims of a part that this exam answers by their result."""
    return tuple(
        (clause.clause_id, clause.strike_as)
        for clause in rest_claims(exam, region, key)
        if clause.strike_as
        and claim_name(region.region_id, clause.clause_id) in exam.instead_claims
    )


def sentence_to_say(
    exam: Exam, region: Region, key: str, left_out: LeftOut | None = None
) -> str:
    """Return what one tap will record of a part; empty where nothing is left to say.

    Args:
        left_out: Claims left out, with why; ``None``: what is answered by habit.
    """
    out = dict(habits(exam, region, key) if left_out is None else left_out)
    clauses = rest_claims(exam, region, key)
    words = words_for(exam)
    claims = [clause_words(c, words) for c in clauses if c.clause_id not in out]
    results = [c.strike_as for c in clauses if _is_result(c, out)]
    return _sentence(claims, results)


def _is_result(clause: Clause, out: dict[str, str]) -> bool:
    return bool(clause.strike_as) and out.get(clause.clause_id) == clause.strike_as


def sentence_said(entry: RegionEntry) -> str:
    """Return what was recorded of a part without abnormality, as it was said."""
    return _sentence(list(entry.asserted), [item.reason for item in entry.instead])


def _sentence(claims: list[str], results: list[str]) -> str:
    all_of_them = "; ".join(map(tr, claims))
    said = [tr("no abnormality found: {claims}", claims=all_of_them)] if claims else []
    return capital("; ".join((*said, *map(tr, results))))


def only_result(exam: Exam, region: Region, key: str, left_out: LeftOut) -> str:
    """Return the result that is all a tap records ("Felt for, not felt"), or empty."""
    clauses, out = rest_claims(exam, region, key), dict(left_out)
    is_all = bool(clauses) and all(_is_result(c, out) for c in clauses)
    return capital(tr(clauses[0].strike_as)) if is_all else ""


def rest_offers(
    exam: Exam, region: Region, keys: tuple[str, ...], left_out: LeftOut | None = None
) -> tuple[RestOffer, ...]:
    """Return the sides with findings whose rest is still open, left before right."""
    found = []
    for key in keys:
        entry = exam.entry(key)
        is_open = entry.findings and entry.conclusion is Conclusion.OPEN
        if not is_open or not open_claims(exam, region, key):
            continue
        asks = has_own_words(exam, region, key)
        rest = sentence_to_say(exam, region, key, left_out)
        text = (
            tr("The rest: say what your own words deny, then record it")
            if asks
            else tr("The rest: {rest}", rest=lowered(rest))
        )
        side = split_key(key)[1]
        found.append(RestOffer(key, side_label(side), text, asks))
    return tuple(found)


def result_offers(
    exam: Exam, region: Region, key: str, left_out: LeftOut
) -> tuple[ResultOffer, ...]:
    """Return the results that one tap can say in a claim's place, or the other way.

    Args:
        left_out: What the sentence leaves out now.
    """
    if exam.entry(key).state is not RegionState.UNEXAMINED:
        return ()
    out = dict(left_out)
    words = words_for(exam)
    return tuple(
        _result_offer(clause, out, clause_words(clause, words))
        for clause in rest_claims(exam, region, key)
        if clause.strike_as and out.get(clause.clause_id, "") in {"", clause.strike_as}
    )


def _result_offer(clause: Clause, out: dict[str, str], claim: str) -> ResultOffer:
    others = tuple((c, why) for c, why in out.items() if c != clause.clause_id)
    if clause.clause_id in out:
        return ResultOffer(clause.clause_id, capital(tr(claim)), others)
    after = (*others, (clause.clause_id, clause.strike_as))
    return ResultOffer(clause.clause_id, capital(tr(clause.strike_as)), after)


def is_beyond_routine(exam: Exam, region: Region, keys: tuple[str, ...]) -> bool:
    """Whether the exam asks nothing of a part, and nothing was said of it yet."""
    said = any(exam.entry(key).is_answered for key in keys)
    return not clauses_for(exam, region) and not said


def with_side(side: str, text: str) -> str:
    """Name the side before what is said of it: ``Left: the rest``."""
    return f"{side}: {lowered(text)}" if side else text


def lowered(text: str) -> str:
    """Return a phrase as it stands behind a colon: its first letter is small."""
    return text[:1].lower() + text[1:]

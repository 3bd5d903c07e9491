"""The urgent list: what belongs together, what the current part can show first.

Every sign is one tap away as soon as the list is open; headings and order only help to
find it. Which heading a sign stands under is the protocol's.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from exam_app.app.view.exam_places import vital_of
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.review import part_label, sign_label, vital_label
from exam_app.domain.exam.transitions import signs_offered
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key
from exam_app.domain.protocol.urgent_signs import UrgentSign
from exam_app.language.catalogue import to_translate, tr

OTHERS = to_translate("Others")


@dataclass(frozen=True, slots=True)
class SignGroup:
    """Signs under one heading, in the protocol's order; at least one."""

    heading: str
    signs: tuple[UrgentSign, ...]


def first_sign(exam: Exam, protocol: SpeciesProtocol) -> UrgentSign | None:
    """Return the sign that comes before all others: the first of the protocol."""
    return next(iter(signs_offered(exam, protocol)), None)


def sign_groups(
    exam: Exam, protocol: SpeciesProtocol, place: str
) -> tuple[SignGroup, ...]:
    """Return the signs offered on the button, each once.

    First those that the current part or value can show, then by heading, in the order
    in which the protocol names one first. The sign before all others is left out: it
    has a place of its own.

    Args:
        place: What is answered now: a part as ``eyes.left``, a vital as ``vital:ID``;
            empty for none.
    """
    first = first_sign(exam, protocol)
    listed = [s for s in signs_offered(exam, protocol) if s is not first]
    named = _shown_at(protocol, place)
    here = tuple(sign for sign in listed if sign.sign_id in named)
    by_heading: dict[str, list[UrgentSign]] = {}
    for sign in listed:
        if sign not in here:
            by_heading.setdefault(sign.group or OTHERS, []).append(sign)
    others = by_heading.pop(OTHERS, [])
    groups = [SignGroup(tr(name), tuple(signs)) for name, signs in by_heading.items()]
    if others:
        groups.append(SignGroup(tr(OTHERS), tuple(others)))
    if here:
        groups.insert(
            0, SignGroup(tr("Here: {place}", place=_name(exam, protocol, place)), here)
        )
    return tuple(groups)


def signs_named(
    exam: Exam, protocol: SpeciesProtocol, typed: str
) -> tuple[UrgentSign, ...]:
    """Return the signs offered whose words hold every word that was typed."""
    wanted = typed.casefold().split()

    def said(sign: UrgentSign) -> str:
        shown = sign_label(sign, words_for(exam))
        others = " ".join(map(tr, (sign.label, sign.plain, sign.group)))
        return f"{shown} {others}".casefold()

    offered = signs_offered(exam, protocol)
    return tuple(s for s in offered if all(word in said(s) for word in wanted))


def _name(exam: Exam, protocol: SpeciesProtocol, place: str) -> str:
    vital = protocol.vital(vital_of(place))
    if vital is not None:
        return vital_label(vital, words_for(exam))
    return part_label(exam, protocol, split_key(place)[0])


def _shown_at(protocol: SpeciesProtocol, place: str) -> frozenset[str]:
    """Return the ids of the signs that an answer at a place can open.

    A part that is watched before any touch is the whole animal, and can show most.
    """
    region = protocol.region(split_key(place)[0])
    if region is None:
        return frozenset(_opened_by_vital(protocol, vital_of(place)))
    terms = () if region.untouched else region.terms
    return frozenset(term.urgent_sign_id for term in terms)


def _opened_by_vital(protocol: SpeciesProtocol, vital_id: str) -> Iterator[str]:
    vital = protocol.vital(vital_id)
    for choice in vital.choices if vital else ():
        yield choice.urgent_sign_id
    for sign in protocol.urgent_signs:
        if any(one.vital_id == vital_id for one in sign.every_trigger()):
            yield sign.sign_id

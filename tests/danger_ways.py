"""Every way in which a species' exam can be told of something, with the signs it opens.

A way is what one tap or one typed answer says: a term of a region, a term with one of
its qualities or grades, a grade of a vital, a worded answer, a sign of the urgent list.
What it means is read from its words, never from our ids; what it opens is asked of the
same functions that the exam uses.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.finding_transitions import opens_sign
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.vital_transitions import signs_of
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, Term, Vital
from exam_app.domain.protocol.scales import Graded, give_grade
from exam_app.protocols.loader import load_protocol
from tests.exam_samples import BY, new_exam


@dataclass(frozen=True, slots=True)
class Way:
    """One way to tell of something.

    Attributes:
        name: ``region/term``, ``region/term+quality``, ``region/term=grade``,
            ``vital=answer`` or ``button/sign``.
        said: What it says, in staff words and in plain words, in small letters,
            each after the place it is said of: ``eyes: squint``.
        signs: Ids of the urgent signs that it opens.
    """

    name: str
    said: tuple[str, ...]
    signs: frozenset[str]


@cache
def ways_of(species: str) -> tuple[Way, ...]:
    """Return every way of a species, values aside: they have no words."""
    protocol = load_protocol(species).protocol
    exam = new_exam(life_stage="")
    return (
        *(w for r in protocol.regions for t in r.terms for w in _term(protocol, r, t)),
        *(w for v in protocol.vitals for w in _vital(protocol, exam, v)),
        *(
            Way(
                f"button/{sign.sign_id}",
                _said("urgent list", "urgent list", sign.label, sign.plain),
                frozenset((sign.sign_id,)),
            )
            for sign in protocol.urgent_signs
            if sign.on_button
        ),
    )


def _said(place: str, plain_place: str, words: str, plain: str) -> tuple[str, ...]:
    both = (f"{place}: {words}", f"{plain_place or place}: {plain or words}")
    return tuple(dict.fromkeys(text.casefold() for text in both))


def _term(protocol: SpeciesProtocol, region: Region, term: Term) -> Iterator[Way]:
    name = f"{region.region_id}/{term.term_id}"

    def way(more: str, words: str, finding: Finding) -> Way:
        opened = (term.urgent_sign_id,) if opens_sign(term, finding) else ()
        said = _said(
            region.label,
            region.plain_label,
            f"{term.label}{words}",
            f"{term.plain or term.label}{words}",
        )
        return Way(name + more, said, frozenset(opened))

    yield way("", "", Finding("f", term.label, BY, term_id=term.term_id))
    for quality in term.qualities:
        found = Finding("f", term.label, BY, term_id=term.term_id, qualities=(quality,))
        yield way(f"+{quality}", f", {quality}", found)
    scale = protocol.scale(term.scale_id)
    for grade in scale.grades if scale else ():
        given = (Graded(term.scale_id, grade.value, grade.label),)
        found = Finding("f", term.label, BY, term_id=term.term_id, grades=given)
        words = f", {scale.label} {grade.value}: {grade.label}" if scale else ""
        yield way(f"={grade.value}", words, found)


def _vital(protocol: SpeciesProtocol, exam: Exam, vital: Vital) -> Iterator[Way]:
    def way(answer: str, words: str, plain: str, entry: VitalEntry) -> Way:
        opened = signs_of(exam, protocol, vital, entry)
        said = _said(vital.label, vital.plain_label, words, plain)
        ids = frozenset(sign.sign_id for sign in opened)
        return Way(f"{vital.vital_id}={answer}", said, ids)

    for choice in vital.choices:
        entry = VitalEntry(words=(choice.label,), values=(choice.value,))
        yield way(choice.value, choice.label, choice.plain, entry)
    scale = protocol.scale(vital.scale_id)
    for grade in scale.grades if scale else ():
        assert scale is not None
        entry = VitalEntry(grade=give_grade(scale, grade.value))
        words = f"{grade.value}: {grade.label}"
        yield way(grade.value, words, words, entry)

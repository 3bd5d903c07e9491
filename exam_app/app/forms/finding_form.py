"""What a finding's details are made of: the places, the times, the words kept."""

from dataclasses import dataclass

from exam_app.app.forms.form import Ask, Kind, choice
from exam_app.domain.exam.findings import Call, Finding, Severity
from exam_app.domain.protocol.protocol import SpeciesProtocol, Term, split_key
from exam_app.domain.protocol.scales import Graded, give_grade
from exam_app.language.catalogue import to_translate, tr

CALL_LABELS = (
    (Call.NOTED.value, to_translate("Noted")),
    (Call.VETERINARIAN_TO_LOOK.value, to_translate("Veterinarian to look")),
    (Call.URGENT.value, to_translate("Urgent")),
)
SEVERITY_LABELS = (
    (Severity.SLIGHT.value, to_translate("Slight")),
    (Severity.MODERATE.value, to_translate("Moderate")),
    (Severity.MARKED.value, to_translate("Marked")),
)
SINCE_LABELS = (
    ("today", to_translate("Today")),
    ("a few days", to_translate("Days")),
    ("weeks", to_translate("Weeks")),
    ("months", to_translate("Months")),
    ("always", to_translate("Always")),
    ("not known", to_translate("Not known")),
)
SIDE_LABELS = (
    ("left", to_translate("Left")),
    ("right", to_translate("Right")),
    ("midline", to_translate("On the midline")),
)
_TELL_A_SIDE = ("left", "right", "o'clock")


@dataclass(frozen=True, slots=True)
class Place:
    """A place as chosen from the term's landmarks and as added in own words."""

    landmark: str = ""
    words: str = ""

    def text(self) -> str:
        """Return the place as the finding keeps it."""
        return ", ".join(part for part in (self.landmark, self.words.strip()) if part)


def read_place(kept: str, term: Term | None) -> Place:
    """Split a kept place into landmark and own words again."""
    for landmark in sorted(term.places if term else (), key=len, reverse=True):
        if kept == landmark:
            return Place(landmark)
        if kept.startswith(f"{landmark}, "):
            return Place(landmark, kept.removeprefix(f"{landmark}, "))
    return Place(words=kept)


def read_since(kept: str) -> tuple[str, str]:
    """Split a kept time into the button that gave it and own words."""
    is_button = any(kept == value for value, _ in SINCE_LABELS)
    return (kept, "") if is_button else ("", kept)


def graded(
    finding: Finding, protocol: SpeciesProtocol, scale_id: str, value: str
) -> tuple[Graded, ...]:
    """Return a finding's grades with one scale's grade set, or taken away."""
    others = tuple(g for g in finding.grades if g.scale_id != scale_id)
    scale = protocol.scale(scale_id)
    if scale is None or not value:
        return others
    return (*others, give_grade(scale, value))


def lacks_side(term: Term | None, key: str) -> bool:
    """Whether a lump's side is told neither by its part nor by the places offered."""
    if term is None or not term.is_lump or split_key(key)[1]:
        return False
    return not any(word in place for place in term.places for word in _TELL_A_SIDE)


def asks_of(
    term: Term | None, protocol: SpeciesProtocol, key: str, finding: Finding
) -> tuple[Ask, ...]:
    """Return what may be added to a finding; a find in own words has no term.

    A mark says the side: it is not asked once more, and places that name another are
    not offered beside it, but for one that was chosen.

    Args:
        key: Of the part, on the side where it has two.
        finding: As it is recorded now.
    """
    sides = SIDE_LABELS if lacks_side(term, key) and not finding.mark else ()
    qualities = tuple((word, word) for word in term.qualities) if term else ()
    offered = term.places if term else ()
    if finding.mark and not split_key(key)[1]:
        others = {"left", "right", "both"} - {finding.mark.side}
        chosen = read_place(finding.place, term).landmark
        offered = tuple(
            place
            for place in offered
            if place == chosen or others.isdisjoint(place.split())
        )
    places = tuple((place, place) for place in offered)
    scale = protocol.scale(term.scale_id) if term else None
    grades = scale.grades if scale else ()
    # ``3: loud``, or the word alone where the grade is one.
    labelled = tuple(
        (g.value, g.label)
        if g.label.startswith(g.value)
        else (g.value, f"{g.value}: {tr(g.label)}")
        for g in grades
    )
    asks = (
        choice("call", tr("Your call"), CALL_LABELS, columns=3),
        choice("side", tr("Which side"), sides, is_clearable=True, columns=3),
        Ask("quality", tr("Which kind"), kind=Kind.SEVERAL, choices=qualities),
        choice("severity", tr("How marked"), SEVERITY_LABELS, is_clearable=True),
        choice("grade", scale.label if scale else "", labelled, is_clearable=True),
        choice("place", "", places, is_clearable=True),
        Ask("place-words", tr("Where: landmark and distance")),
        choice("since", tr("Since when"), SINCE_LABELS, is_clearable=True),
        Ask("since-words", tr("Since when, in words")),
        Ask("extent", tr("How much of the part")),
        Ask("note", tr("Note")),
    )
    return tuple(ask for ask in asks if ask.choices or ask.kind is Kind.TEXT)


def texts_of(finding: Finding, term: Term | None) -> dict[str, str]:
    """Return what is noted of a finding already, by field."""
    place = read_place(finding.place, term)
    since, since_words = read_since(finding.since)
    scale_id = term.scale_id if term else ""
    grades = (g.value for g in finding.grades if g.scale_id == scale_id)
    return {
        "call": finding.call.value,
        "side": finding.side,
        "quality": "\n".join(finding.qualities),
        "severity": finding.severity.value if finding.severity else "",
        "grade": next(grades, ""),
        "place": place.landmark,
        "place-words": place.words,
        "since": since,
        "since-words": since_words,
        "extent": finding.extent,
        "note": finding.note,
    }

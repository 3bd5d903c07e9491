"""What a finding's details are made of: the places, the times, the words kept."""

from dataclasses import dataclass

from exam_app.domain.exam.findings import Call, Finding, Severity
from exam_app.domain.protocol.protocol import SpeciesProtocol, Term
from exam_app.domain.protocol.scales import Graded, give_grade

CALL_LABELS = (
    (Call.NOTED.value, "Noted"),
    (Call.VETERINARIAN_TO_LOOK.value, "Veterinarian to look"),
    (Call.URGENT.value, "Urgent"),
)
SEVERITY_LABELS = tuple(
    (severity.value, severity.value.capitalize()) for severity in Severity
)
SINCE_LABELS = (
    ("today", "Today"),
    ("a few days", "Days"),
    ("weeks", "Weeks"),
    ("months", "Months"),
    ("always", "Always"),
    ("not known", "Not known"),
)


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


def severity_of(value: str) -> Severity | None:
    """Return the severity of a button; ``None`` when it was untapped."""
    return Severity(value) if value else None


def graded(
    finding: Finding, protocol: SpeciesProtocol, scale_id: str, value: str
) -> tuple[Graded, ...]:
    """Return a finding's grades with one scale's grade set, or taken away."""
    others = tuple(g for g in finding.grades if g.scale_id != scale_id)
    scale = protocol.scale(scale_id)
    if scale is None or not value:
        return others
    return (*others, give_grade(scale, value))


def grade_label(value: str, label: str) -> str:
    """Name a grade's button: ``3: loud``, or the word where the grade is one."""
    return label if label.startswith(value) or value == label else f"{value}: {label}"

"""What a group's exam cannot close without, and how its facts are written."""

from exam_app.domain.exam.visit import GroupFacts


def open_facts(facts: GroupFacts) -> tuple[str, ...]:
    """Return what a group's exam cannot close without, in words."""
    asked = (
        (facts.present is None, "how many were present"),
        (facts.examined is None, "how many were examined"),
        (not facts.chosen.strip(), "how the animals were chosen"),
    )
    return tuple(words for is_open, words in asked if is_open)


def group_lines(facts: GroupFacts) -> tuple[str, ...]:
    """Write the group's facts; what was not said is not written."""
    counted = (
        ("Present", facts.present),
        ("Examined", facts.examined),
        ("Affected", facts.affected),
        ("Dead", facts.dead),
    )
    told = (
        ("How they were chosen", facts.chosen),
        ("Feed", facts.feed),
        ("Housing", facts.housing),
        ("Note", facts.note),
    )
    return (
        *(f"{label}: {number}" for label, number in counted if number is not None),
        *(f"{label}: {text}" for label, text in told if text),
    )

"""Which lines of several written records stand in one of them only."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Difference:
    """What one version says and not every other one; lines with their heading."""

    only_here: tuple[str, ...]


def differences(texts: Sequence[str]) -> tuple[Difference, ...]:
    """Compare written records line by line, each line under its heading.

    Args:
        texts: As ``WrittenRecord.as_text`` gives them; at least one.

    Returns:
        One per text, in the same order.
    """
    spoken = [_lines(text) for text in texts]
    return tuple(
        Difference(tuple(line for line in lines if not _in_all(line, spoken)))
        for lines in spoken
    )


def _in_all(line: str, spoken: Sequence[Sequence[str]]) -> bool:
    return all(line in lines for lines in spoken)


def _lines(text: str) -> list[str]:
    """Return each line after its heading: ``Vitals: Weight: 12 kg``."""
    lines: list[str] = []
    for block in text.strip().split("\n\n"):
        heading, *rest = block.split("\n")
        items = [line for line in rest if line.startswith("- ")]
        if len(items) == len(rest) and rest:
            lines += [f"{heading.capitalize()}: {item[2:]}" for item in items]
        else:
            lines += [heading, *rest]
    return lines

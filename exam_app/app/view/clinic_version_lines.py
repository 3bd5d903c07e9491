"""Which lines of several written records stand in one of them only."""

from collections.abc import Sequence


def differences(texts: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """Compare written records line by line, each line under its heading.

    Args:
        texts: As ``WrittenRecord.as_text`` gives them; at least one.

    Returns:
        For each text, in the same order, the lines that not every other one has.
    """
    spoken = [_lines(text) for text in texts]
    return tuple(
        tuple(line for line in lines if not all(line in every for every in spoken))
        for lines in spoken
    )


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

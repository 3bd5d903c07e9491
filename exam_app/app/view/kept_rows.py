"""What rows of the store say of an exam, in the language that was chosen."""

from collections.abc import Iterable
from functools import cache

from exam_app.domain.wording.kept_lines import KnownWords, known_of
from exam_app.protocols.loader import available, load_protocol


def lines_shown(species: str, lines: Iterable[str]) -> tuple[str, ...]:
    """Return lines of a row as they are shown.

    Only the program's own protocols have words in other languages.

    Args:
        species: Of the animal, as the row names it.
        lines: In English, as the row keeps them.
    """
    return _known(species if species in available() else "").shown(lines)


@cache
def _known(species: str) -> KnownWords:
    return known_of(load_protocol(species).protocol if species else None)

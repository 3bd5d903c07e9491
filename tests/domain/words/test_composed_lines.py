"""Thousands of lines whose meaning is known: nothing wrong may be sure."""

from random import Random

import pytest

from exam_app.protocols.loader import available
from tests.composed_lines import compose
from tests.line_reading import kind_of_wrong, read, shown, words_for

EVERYDAY = 1_000
WHOLE = pytest.param(20_000, marks=pytest.mark.exhaustive)


def _bare(item: str) -> str:
    return item.partition(" [")[0]


@pytest.mark.slow
@pytest.mark.parametrize("lines", [EVERYDAY, WHOLE])
def test_of_composed_lines_nothing_wrong_is_sure(lines: int) -> None:
    rng, species = Random(11), available()
    true = taken = right = 0
    wrong = []
    for n in range(lines):
        one = species[n % len(species)]
        text, truth = compose(rng, words_for(one))
        sure = {_bare(shown(item)) for item in read(text, one).items if item.is_sure}
        true, taken, right = (
            true + len(truth),
            taken + len(sure),
            right + len(sure & truth),
        )
        wrong += [
            (kind_of_wrong(item, frozenset(truth)), one, text, item)
            for item in sure - truth
        ]
    print(
        f"composed: lines {lines}, said {true}, taken {taken}, right {right}, "
        f"wrong {len(wrong)}"
    )
    assert wrong == []
    assert taken > true * 0.7

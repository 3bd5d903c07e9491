"""Thousands of lines whose meaning is known: nothing wrong may be sure."""

from random import Random

from exam_app.protocols.loader import available
from tests import samples
from tests.composed_lines import compose
from tests.line_reading import kind_of_wrong, read, shown, words_for

WHOLE = 20_000
EVERYDAY = 1_000


def _bare(item: str) -> str:
    return item.partition(" [")[0]


def test_of_composed_lines_nothing_wrong_is_sure() -> None:
    rng, species = Random(11), available()
    true = taken = right = 0
    wrong = []
    for n in range(WHOLE if samples.is_whole else EVERYDAY):
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
    print(f"composed: said {true}, taken {taken}, right {right}, wrong {len(wrong)}")
    assert wrong == []
    assert taken > true * 0.7

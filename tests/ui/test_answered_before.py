"""What stands in the clinic's list of what was answered before its page was opened."""

from types import SimpleNamespace

import pytest

from exam_app.app.clinic.imports import Answered
from exam_app.exchange.photographs import UnnamedPhotographError
from exam_app.ui.clinic.receipt import answered_line
from sync.errors import BundleTooLargeError
from tests.screen_words import words_of

TAB = SimpleNamespace(way=lambda route: route)


@pytest.mark.parametrize(
    ("error", "waits", "title"),
    [
        (UnnamedPhotographError, True, "A photograph waits"),
        (BundleTooLargeError, False, "Refused"),
    ],
)
def test_a_photograph_that_may_come_again_is_not_called_refused(error, waits, title):
    one = Answered("a" * 64, problem=error.advice, waits=waits)
    assert words_of(answered_line(TAB, one)) == f"{title}\n{error.advice}"

"""Every error of ours says what happened and what to do next."""

import importlib
import pkgutil

import pytest

import exam_app
import sync
from exam_app.crypto.errors import CryptoError
from exam_app.domain.errors import ExamError


def every_subclass(root):
    for child in root.__subclasses__():
        yield child
        yield from every_subclass(child)


def load_everything():
    for module in pkgutil.walk_packages(exam_app.__path__, "exam_app."):
        if not module.name.startswith(("exam_app.ui", "exam_app.__main__")):
            importlib.import_module(module.name)
    for module in pkgutil.walk_packages(sync.__path__, "sync."):
        importlib.import_module(module.name)


def is_ours(error):
    """Whether an error is the product's: a test may have made one of its own."""
    return error.__module__.partition(".")[0] in {"exam_app", "sync"}


load_everything()
ERRORS = sorted(
    filter(is_ours, {*every_subclass(ExamError), *every_subclass(CryptoError)}),
    key=lambda error: error.__name__,
)


@pytest.mark.in_whole
@pytest.mark.parametrize("error", ERRORS, ids=lambda error: error.__name__)
def test_error_has_advice_of_two_sentences_and_ends_in_error(error):
    assert error.__name__.endswith("Error")
    assert error.advice.count(".") >= 2, error.advice


@pytest.mark.in_whole
@pytest.mark.parametrize("error", ERRORS, ids=lambda error: error.__name__)
def test_error_is_not_one_that_query_runners_swallow(error):
    assert not issubclass(error, (KeyError, TypeError))

"""A number and its noun: the one place that knows one from many."""

from decimal import Decimal


def count_words(number: int | Decimal, one: str = "exam", many: str = "") -> str:
    """Write a number with its noun: ``1 exam``, ``4 exams``.

    Args:
        one: The noun of one thing, with its verb where there is one.
        many: The same of several; empty where an "s" makes it.
    """
    return f"{number} {one if number == 1 else many or one + 's'}"

"""A number and its noun: the one place that knows one from many."""


def count_words(number: int, one: str = "exam", many: str = "") -> str:
    """Write a number with its noun: ``1 exam``, ``4 exams``.

    In English, for what is printed, exported or said on the command line; a screen has
    its catalogue's plurals.

    Args:
        one: The noun of one thing, with its verb where there is one.
        many: The same of several; empty where an "s" makes it.
    """
    several = many or f"{one}s"
    return f"{number} {one if number == 1 else several}"

"""A number and its noun: the one place that knows one from many."""

from exam_app.language.catalogue import tr_plural


def count_words(number: int, one: str = "exam", many: str = "") -> str:
    """Write a number with its noun: ``1 exam``, ``4 exams``.

    A catalogue has it as the plural of ``{count} exam`` and ``{count} exams``.

    Args:
        one: The noun of one thing, with its verb where there is one.
        many: The same of several; empty where an "s" makes it.
    """
    several = many or f"{one}s"
    return tr_plural(f"{{count}} {one}", f"{{count}} {several}", number)

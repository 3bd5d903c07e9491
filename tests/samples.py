"""How many examples of a property are tried: a share every day, all where asked for.

With ``-m exhaustive`` every property is run again, with all its examples.
"""

from hypothesis import given, settings
from hypothesis import strategies as st

_SHARE = 4
is_whole = False

# Times are measured in benchmarks and never fail a test on a busy machine; the
# examples are the same in every run, so that a failure can be seen again.
settings.register_profile("whole", deadline=None, derandomize=True)
settings.register_profile(
    "everyday", settings.get_profile("whole"), max_examples=100 // _SHARE
)


def begin(marks: str) -> None:
    """Take the share that fits the run; called before any test is read.

    Args:
        marks: What the run was given with ``-m``.
    """
    global is_whole  # noqa: PLW0603 - one run has one share
    is_whole = "not exhaustive" not in marks
    settings.load_profile("whole" if is_whole else "everyday")


def examples(whole: int) -> int:
    """Give how many of so many examples this run tries."""
    return whole if is_whole else whole // _SHARE


@given(st.none())
def first_example(_: None) -> None:
    """Try nothing, so that the library has made what it keeps until the end."""

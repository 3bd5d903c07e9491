"""Name the walks that were repeated, and say of a whole run whether they were too many.

A repetition is allowed in ``.ci/run`` alone, and once: on two busy cores a frame that
never came is told from a fault only by looking again. More than two of a hundred walks
are a fault. Each part of the run names its own, and ``python -m tests.repeated_walks``
counts them over the logs of all parts.
"""

import re
import sys
from pathlib import Path

import pytest

MOST_REPEATED_PERCENT = 2
PASSED = re.compile(r"^=* ?(?:\d+ \w+, )*(\d+) passed", re.MULTILINE)
REPEATED = re.compile(r"^REPEATED: (.+)$", re.MULTILINE)


def repeated_in(config: pytest.Config) -> list[str]:
    """Give the names of the tests that were run again, each once."""
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    again = reporter.stats.get("rerun", []) if reporter else []
    return list(dict.fromkeys(report.nodeid for report in again))


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    for name in repeated_in(config):
        print(f"REPEATED: {name}")


def main(paths: list[str]) -> int:
    """Name every repeated walk of these logs; 1 for too many, or for no walk at all."""
    texts = [Path(path).read_text("utf-8") for path in paths]
    walks = sum(int(count) for text in texts for count in PASSED.findall(text))
    names = [name for text in texts for name in REPEATED.findall(text)]
    print(f"{len(names)} of {walks} walks were repeated", *names, sep="\n  ")
    return int(not walks or len(names) > walks * MOST_REPEATED_PERCENT / 100)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""Print what fails of the danger table now, ready to paste into it.

``python -m tests.print_danger_gaps cattle`` prints ``open_gaps`` of one species;
without a name, of all. ``-v`` adds the reason of each.
"""

import sys

from exam_app.protocols.loader import available
from tests.danger_table import held


def main() -> None:
    """Print the gaps of the species named, or of all."""
    names = [name for name in sys.argv[1:] if name in available()]
    for species in names or available():
        print(f"# {species}\nopen_gaps = [")
        for gap, why in held(species).failing.items():
            if "-v" in sys.argv:
                print(f"  # {why}")
            print(f"  {gap!r},".replace("'", '"'))
        print("]")


if __name__ == "__main__":
    main()

"""The app as it is, but with passphrases that cost almost nothing to derive.

Only tests start this; the app itself has no switch for it.
"""

import sys

from exam_app.__main__ import Costs, main
from exam_app.crypto.door import DerivationBounds, KeyDerivation

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
CHEAP_COSTS = Costs(CHEAP, DerivationBounds(CHEAP, KeyDerivation()))

if __name__ == "__main__":
    sys.exit(main(None, CHEAP_COSTS))

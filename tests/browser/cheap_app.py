"""The app as it is, but with passphrases that cost almost nothing to derive.

Only tests start this; the app itself has no switch for it. The environment can
shorten the time until the lock and add screens that fail on purpose.
"""

import os
import sys

from exam_app.__main__ import Costs, main
from exam_app.crypto.door import DerivationBounds, KeyDerivation
from exam_app.ui import desk
from tests.browser import failing_screens

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
CHEAP_COSTS = Costs(CHEAP, DerivationBounds(CHEAP, KeyDerivation()))

if __name__ == "__main__":
    failing_screens.add_routes()
    if "TEST_LOCK_AFTER" in os.environ:
        desk.LOCK_AFTER_SECONDS = float(os.environ["TEST_LOCK_AFTER"])
    sys.exit(main(None, CHEAP_COSTS))

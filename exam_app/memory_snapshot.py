"""Import the app into a Python whose memory a phone keeps for its later starts.

Such a start puts the memory back as it was and imports nothing (Pyodide's snapshots).
The code of a compiled package lies outside of that memory. So one stands there as a
module that imports the real one once anything of it is wanted, which no module of ours
does while it is imported itself. The memory holds modules and nothing of an exam: it is
made where nothing was begun.
"""

import gc
import importlib
import random  # noqa: TID251  only told to begin anew
import sys
from collections.abc import Iterable
from pathlib import Path
from types import ModuleType
from typing import Any

_OURS = ("exam_app.", "sync.", "flet.")
# Its import speaks to the page, which is not there when the memory is made.
_LEFT_OUT = {"flet.messaging.pyodide_connection"}


class LaterModule(ModuleType):
    """Stands for a package that is not imported before anything of it is wanted."""

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401
        """Import the package, become it, and give what was wanted of it."""
        if name.startswith("__"):
            raise AttributeError(name)
        own = self.__name__
        del sys.modules[own]
        try:
            vars(self).update(vars(importlib.import_module(own)))
        finally:
            sys.modules[own] = self
        self.__class__ = ModuleType  # type: ignore[assignment]
        return getattr(self, name)


def compiled_packages(folder: Path) -> set[str]:
    """Name the packages in a folder that are compiled, wholly or in part."""
    return {path.relative_to(folder).parts[0] for path in folder.rglob("*.so")}


def imported_names() -> list[str]:
    """Name what is imported here of the app and of Flet, to be in the memory too."""
    return [
        name for name in sys.modules if name.startswith(_OURS) and name not in _LEFT_OUT
    ]


def import_for_snapshot(packages: Iterable[str], names: Iterable[str]) -> None:
    """Import modules with compiled packages left for later, and tidy up.

    Args:
        packages: The compiled ones.
        names: Of modules.

    Raises:
        ImportError: A module wants something of a compiled package already.
    """
    later = {name: LaterModule(name) for name in packages}
    sys.modules.update(later)
    for name in names:
        importlib.import_module(name)
    wanted = [name for name, one in later.items() if type(one) is not LaterModule]
    if wanted:
        raise ImportError(f"{wanted} were wanted while the app was imported")
    gc.collect()
    # What is imported stays: nobody has to look again whether it can go.
    gc.freeze()


def after_restoring() -> None:
    """Forget what was true where the memory was made: which files lie where, chance.

    The offset of local time is asked anew at every moment. ``time.tzname`` and
    ``time.timezone`` stay as they were, and nobody reads them.
    """
    importlib.invalidate_caches()
    random.seed()

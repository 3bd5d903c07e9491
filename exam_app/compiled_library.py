"""Put compiled modules into a copy of the standard library's archive.

In a phone's browser Python reads its library from one archive of sources, and would
compile what it needs of it at every start. The copy is kept there for the next one.
"""

import asyncio
import importlib.util
import marshal
import sys
import zipfile
from collections.abc import Awaitable, Callable, Iterable
from shutil import copyfile

# A compiled module that is used without a look at its source (PEP 552): the archive's
# bytes are checked as a whole before Python gets it.
_UNCHECKED = (1).to_bytes(4, "little") + bytes(8)


def loaded_members(archive: str) -> list[str]:
    """List what Python has imported from an archive, as its members are named.

    Returns:
        Names of sources, ``json/decoder.py``, sorted, each once.
    """
    begin = f"{archive}/"
    modules = list(sys.modules.values())
    files = {str(getattr(module, "__file__", "")) for module in modules}
    names = (file.removeprefix(begin) for file in files if file.startswith(begin))
    return sorted(name for name in names if name.endswith(".py"))


async def _next_turn() -> None:
    await asyncio.sleep(0)


async def add_compiled(
    archive: str,
    target: str,
    names: Iterable[str],
    until_quiet: Callable[[], Awaitable[object]] = _next_turn,
) -> None:
    """Copy an archive and add named modules in compiled form, which Python prefers.

    Args:
        archive: Where Python will find the copy when it reads it, and where the
            archive is now.
        target: Written anew.
        names: Members of the archive that are sources.
        until_quiet: Awaited before each of them, so that nobody waits for it.

    Raises:
        KeyError: There is no such member.
        SyntaxError: A member is no source.
    """
    copyfile(archive, target)
    with zipfile.ZipFile(target, "a") as copy:
        for name in names:
            await until_quiet()
            place = f"{archive}/{name}"
            code = compile(copy.read(name), place, "exec", dont_inherit=True)
            compiled = importlib.util.MAGIC_NUMBER + _UNCHECKED + marshal.dumps(code)
            copy.writestr(f"{name}c", compiled)

"""A vault's files in the browser's private storage (OPFS), behind the file seam.

Opening is awaited and happens once, for all files of a vault; each open handle keeps
its file from every other tab, so that holding them is the lock. They stay open until
the page ends: a lock of the screen closes the vault, not the files. There is no
rename here and none is needed, since journals come in pairs.

References:
    File System Standard (WHATWG), ``FileSystemSyncAccessHandle``: read, write and
    flush are synchronous in a worker.
    Storage Standard (WHATWG), ``StorageManager``: a worker may ask ``persisted`` and
    ``estimate``; only the page may ask for ``persist``.
"""

import asyncio
import errno
import importlib
from collections.abc import Awaitable
from pathlib import Path
from typing import Any, ClassVar, TypeVar

from exam_app.language.catalogue import to_translate
from exam_app.store.engine.files import Room, SealedFile
from exam_app.store.errors import VaultError, VaultInUseError

_T = TypeVar("_T")
# A first screen was seen to wait for twenty and more while the browser was busy.
ANSWER_SECONDS = 2.0
NAMES = (
    "vault.head",
    "vault.a",
    "vault.b",
    "vault.reserve",
    "vault.torn",
    "vault.lists",
    "vault.pictures",
)
# A page that is loaded anew waits for the one before it to let go.
_TRIES = 20
_WAIT_SECONDS = 0.25


class BrowserStorageRefusedError(VaultError):
    """The browser gives this page no private storage."""

    advice: ClassVar[str] = to_translate(
        "This browser does not let the app keep exams on this device. Nothing was "
        "changed. Open it in a normal window, not a private one, from an https "
        "address, in an up-to-date Chrome, Edge, Firefox or Safari."
    )


class BrowserFile:
    """One open file of the private storage. Offsets and lengths are bytes."""

    __slots__ = ("_handle", "_place")

    def __init__(self, handle: Any) -> None:  # noqa: ANN401  a JavaScript object
        """Take an open ``FileSystemSyncAccessHandle``."""
        self._handle = handle
        self._place = importlib.import_module("js").Object.new()

    def read_at(self, offset: int, length: int) -> bytes:
        """Read up to ``length`` bytes; fewer only at the end of the file."""
        wanted = max(0, min(length, self.size() - offset))
        array = importlib.import_module("js").Uint8Array.new(wanted)
        count = self._ask("read", array, self._at(offset))
        content: bytes = array.to_bytes()
        return content[: int(count)]

    def write_at(self, offset: int, content: bytes) -> None:
        """Write all of ``content`` at ``offset``, growing the file if needed."""
        given = importlib.import_module("pyodide.ffi").to_js(content)
        count = int(self._ask("write", given, self._at(offset)))
        if count != len(content):
            raise OSError(errno.ENOSPC, "the browser wrote only a part")

    def flush(self) -> None:
        """Return once everything written is on the medium, as the browser says."""
        self._ask("flush")

    def truncate(self, size: int) -> None:
        """Cut or extend the file to ``size`` bytes."""
        self._ask("truncate", size)

    def size(self) -> int:
        """Give the size in bytes."""
        return int(self._ask("getSize"))

    def close(self) -> None:
        """Keep the handle: it is the lock, and the next unlocking uses it."""

    def _at(self, offset: int) -> Any:  # noqa: ANN401
        self._place.at = offset
        return self._place

    def _ask(self, name: str, *arguments: Any) -> Any:  # noqa: ANN401
        try:
            return getattr(self._handle, name)(*arguments)
        except Exception as error:
            # JavaScript's errors have a name, and no common type on both sides.
            is_full = getattr(error, "name", "") == "QuotaExceededError"
            code = errno.ENOSPC if is_full else errno.EIO
            raise OSError(code, f"the browser refused to {name}") from error


class BrowserFolder:
    """The files of one vault, held from opening until the page ends.

    An opener in the sense of ``files.Opener``: awaiting it with a path gives the file
    of that name.
    """

    __slots__ = ("_files",)

    def __init__(self, handles: dict[str, Any]) -> None:
        """Take open handles by file name; all of ``NAMES`` are there."""
        self._files = {name: BrowserFile(handle) for name, handle in handles.items()}

    async def __call__(self, path: Path) -> SealedFile:
        """Give the open file of this name."""
        return self._files[path.name]

    def peek(self, path: Path, length: int) -> tuple[int, bytes]:
        """Give a file's size and its first bytes."""
        file = self._files[path.name]
        return file.size(), file.read_at(0, length)

    async def room(self) -> Room:
        """Ask the browser; what it does not answer is None."""
        is_lasting, estimate = await asyncio.gather(
            answered(_answer("persisted")), answered(_answer("estimate"))
        )
        return Room(
            None if is_lasting is None else bool(is_lasting),
            _whole(estimate, "usage"),
            _whole(estimate, "quota"),
        )


async def open_browser_folder(folder_name: str) -> BrowserFolder:
    """Open, and so lock, the files of a vault in the private storage.

    Raises:
        VaultInUseError: Another tab of this browser has them.
        BrowserStorageRefusedError: There is no private storage here.
    """
    folder = await _private_folder(folder_name)
    handles: dict[str, Any] = {}
    try:
        for name in NAMES:
            handles[name] = await _open_handle(folder, name)
    except VaultError:
        # Kept open they would refuse the next try, as another tab's would.
        for handle in handles.values():
            handle.close()
        raise
    return BrowserFolder(handles)


async def answered(question: Awaitable[_T]) -> _T | None:
    """Wait for what a browser says of itself, but hold no screen back for it."""
    try:
        async with asyncio.timeout(ANSWER_SECONDS):
            return await question
    except TimeoutError:
        return None


async def _answer(question: str) -> Any:  # noqa: ANN401
    try:
        storage = importlib.import_module("js").navigator.storage
        return await getattr(storage, question)()
    except Exception:
        # Older browsers know neither question; some refuse while site data is blocked.
        return None


def _whole(estimate: Any, name: str) -> int | None:  # noqa: ANN401
    number = getattr(estimate, name, None)
    return None if number is None else int(number)


async def _private_folder(name: str) -> Any:  # noqa: ANN401
    storage = importlib.import_module("js").navigator.storage
    try:
        root = await storage.getDirectory()
        return await root.getDirectoryHandle(name, create=True)
    except Exception as error:
        raise BrowserStorageRefusedError("no private storage") from error


async def _open_handle(folder: Any, name: str) -> Any:  # noqa: ANN401
    for turn in range(_TRIES):
        try:
            file = await folder.getFileHandle(name, create=True)
            return await file.createSyncAccessHandle()
        except Exception as error:
            if getattr(error, "name", "") != "NoModificationAllowedError":
                raise BrowserStorageRefusedError("no file was opened") from error
            if turn == _TRIES - 1:
                raise VaultInUseError("another tab has the files") from error
        await asyncio.sleep(_WAIT_SECONDS)
    raise AssertionError(name)

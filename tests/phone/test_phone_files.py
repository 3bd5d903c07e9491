"""The vault's files in a browser's private storage, against an invented browser."""

import asyncio
import errno
import sys
import types

import pytest

from exam_app.store.engine import browser_files
from exam_app.store.engine.browser_files import (
    NAMES,
    BrowserFile,
    BrowserFolder,
    BrowserStorageRefusedError,
    open_browser_folder,
)
from exam_app.store.engine.files import OwnPlace, Room
from exam_app.store.errors import VaultFullError, VaultInUseError, VaultStoppedError
from exam_app.store.vault.folder import create_vault, vault_exists
from exam_app.store.vault.open import open_vault
from tests.store_disks import CHEAP, TEST_BOUNDS, MemoryFile


class BrowserError(Exception):
    """An error of JavaScript: told apart by its name alone."""

    def __init__(self, name):
        super().__init__(name)
        self.name = name


class Array(bytearray):
    """An array of bytes as the browser gives it."""

    new = classmethod(lambda cls, size: cls(size))

    def to_bytes(self):
        return bytes(self)


class Handle:
    """A synchronous access handle, by the standard: no more calls than these."""

    def __init__(self, content=b"", room=1 << 30):
        self.file, self.room, self.fails = MemoryFile(content), room, set()
        self.is_open = False

    def _may(self, name):
        if name in self.fails:
            raise BrowserError("InvalidStateError")

    def read(self, array, place):
        self._may("read")
        content = self.file.read_at(place.at, len(array))
        array[: len(content)] = content
        return len(content)

    def write(self, content, place):
        self._may("write")
        if place.at + len(content) > self.room:
            raise BrowserError("QuotaExceededError")
        self.file.write_at(place.at, content)
        return len(content)

    def flush(self):
        self._may("flush")

    def close(self):
        self.is_open = False

    def truncate(self, size):
        self._may("truncate")
        self.file.truncate(size)

    def getSize(self):  # noqa: N802
        return float(self.file.size())


class PrivateStorage:
    """``navigator.storage`` with one folder of files; some are held elsewhere."""

    def __init__(self, refusal=None, held=0, broken=None):
        self.refusal, self.held, self.broken = refusal, held, broken
        self.handles = {}

    async def getDirectory(self):  # noqa: N802
        if self.refusal:
            raise BrowserError(self.refusal)
        return self

    async def getDirectoryHandle(self, _name, *, create):  # noqa: N802
        assert create
        return self

    async def getFileHandle(self, name, *, create):  # noqa: N802
        assert create

        async def handle():
            if self.held:
                self.held -= 1
                raise BrowserError("NoModificationAllowedError")
            if name == self.broken:
                raise BrowserError("UnknownError")
            opened = self.handles.setdefault(name, Handle())
            if opened.is_open:
                raise BrowserError("NoModificationAllowedError")
            opened.is_open = True
            return opened

        return types.SimpleNamespace(createSyncAccessHandle=handle)


@pytest.fixture
def browser(monkeypatch):
    """Put an invented browser in the place of JavaScript's own names."""

    def put(storage):
        new = types.SimpleNamespace(new=types.SimpleNamespace)
        navigator = types.SimpleNamespace(storage=storage)
        js = types.SimpleNamespace(Object=new, Uint8Array=Array, navigator=navigator)
        monkeypatch.setitem(sys.modules, "js", js)
        ffi = types.SimpleNamespace(to_js=bytes)
        monkeypatch.setitem(sys.modules, "pyodide.ffi", ffi)
        monkeypatch.setattr(browser_files, "_WAIT_SECONDS", 0)
        return storage

    return put


async def test_vault_is_made_closed_and_opened_again_in_private_storage(
    browser, tmp_path
):
    storage = browser(PrivateStorage())
    folder = await open_browser_folder("exams")
    assert set(storage.handles) == set(NAMES)
    assert not vault_exists(tmp_path, folder)
    vault, _ = await create_vault(
        tmp_path, "passphrase", CHEAP, bounds=TEST_BOUNDS, opener=folder
    )
    vault.settings.put("practice", "Hill practice")
    vault.close()
    assert vault_exists(tmp_path, folder)
    assert [path.name for path in tmp_path.iterdir()] == ["vault.lock"]
    vault = await open_vault(tmp_path, "passphrase", bounds=TEST_BOUNDS, opener=folder)
    assert vault.settings.get("practice") == "Hill practice"
    vault.close()


async def test_files_held_by_another_tab_are_refused_and_a_late_release_is_awaited(
    browser,
):
    browser(PrivateStorage(held=5))
    assert isinstance(await open_browser_folder("exams"), BrowserFolder)
    browser(PrivateStorage(held=10_000))
    with pytest.raises(VaultInUseError) as refusal:
        await open_browser_folder("exams")
    assert "another window" in refusal.value.advice


async def test_room_that_the_browser_is_slow_to_count_holds_no_screen_back(
    browser, monkeypatch
):
    storage = browser(PrivateStorage())

    async def persisted():
        return False

    async def estimate():
        await asyncio.Event().wait()

    storage.persisted, storage.estimate = persisted, estimate
    monkeypatch.setattr(browser_files, "ANSWER_SECONDS", 0.01)
    folder = await open_browser_folder("exams")
    async with asyncio.timeout(10):
        assert await folder.room() == Room(is_lasting=False, used=None, most=None)


@pytest.mark.parametrize("name", NAMES)
async def test_a_file_that_is_refused_leaves_the_others_free_for_the_next_try(
    browser, name
):
    storage = browser(PrivateStorage(broken=name))
    with pytest.raises(BrowserStorageRefusedError):
        await open_browser_folder("exams")
    storage.broken = None
    assert isinstance(await open_browser_folder("exams"), BrowserFolder)


async def test_a_browser_without_private_storage_is_told_so(browser):
    browser(PrivateStorage(refusal="SecurityError"))
    with pytest.raises(BrowserStorageRefusedError) as refusal:
        await open_browser_folder("exams")
    assert "Nothing was changed" in refusal.value.advice


async def test_a_full_quota_saves_nothing_and_says_so_and_what_was_saved_stays(
    browser, tmp_path
):
    storage = browser(PrivateStorage())
    folder = await open_browser_folder("exams")
    vault, _ = await create_vault(
        tmp_path, "passphrase", CHEAP, bounds=TEST_BOUNDS, opener=folder
    )
    vault.settings.put("practice", "Hill practice")
    for handle in storage.handles.values():
        handle.room = 0
    with pytest.raises(VaultFullError):
        vault.settings.put("practice", "x" * 1000)
    assert vault.settings.get("practice") == "Hill practice"
    vault.close()


async def test_a_flush_that_fails_stops_saving(browser, tmp_path):
    storage = browser(PrivateStorage())
    folder = await open_browser_folder("exams")
    vault, _ = await create_vault(
        tmp_path, "passphrase", CHEAP, bounds=TEST_BOUNDS, opener=folder
    )
    for handle in storage.handles.values():
        handle.fails.add("flush")
    with pytest.raises(VaultStoppedError):
        vault.settings.put("practice", "Hill practice")
    vault.close()


class AnsweringStorage(PrivateStorage):
    """A browser that answers how it keeps files."""

    async def persisted(self):
        return False

    async def estimate(self):
        return types.SimpleNamespace(usage=41e6, quota=2e9)


async def test_the_browser_is_asked_how_it_keeps_files_and_silence_is_no_answer(
    browser,
):
    storage = browser(AnsweringStorage())
    folder = await open_browser_folder("exams")
    assert isinstance(folder, OwnPlace)
    assert await folder.room() == Room(
        is_lasting=False, used=41_000_000, most=2_000_000_000
    )

    async def refused():
        raise BrowserError("TypeError")

    storage.persisted = refused
    assert (await folder.room()).is_lasting is None
    browser(PrivateStorage())
    assert await folder.room() == Room()


def test_reads_end_with_the_file_and_part_of_a_write_is_no_write(browser):
    browser(PrivateStorage())
    handle = Handle(b"0123456789")
    file = BrowserFile(handle)
    assert file.read_at(6, 100) == b"6789"
    assert file.read_at(10, 1) == file.read_at(50, 1) == b""
    handle.write = lambda *_: 3
    with pytest.raises(OSError, match="only a part") as refusal:
        file.write_at(0, b"four")
    assert refusal.value.errno == errno.ENOSPC

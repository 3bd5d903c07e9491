"""Full disks, failing flushes, two copies of the app, and killed processes."""

import errno
import itertools
import os
import signal
import subprocess
import sys
import time

import pytest

from exam_app.store.engine.files import FolderLock, LocalFile
from exam_app.store.engine.journal import DISK_FULL, RESERVE_LENGTH
from exam_app.store.errors import (
    VaultFullError,
    VaultInUseError,
    VaultStoppedError,
    VaultUnreachableError,
)
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault, vault_exists
from exam_app.store.vault.open import open_vault
from tests.store_disks import CHEAP, TEST_BOUNDS, FaultyDisk, seeded

POSIX = pytest.mark.skipif(os.name != "posix", reason="uses POSIX limits and signals")


@pytest.fixture
async def disk_and_vault(tmp_path):
    disk = FaultyDisk()
    vault, _ = await create_vault(
        tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    vault.settings.put("turn", 1)
    yield disk, vault
    vault.close()


async def reopened(vault, tmp_path):
    vault.close()
    return await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EFBIG])
async def test_full_disk_refuses_the_save_and_keeps_everything_before(
    disk_and_vault, tmp_path, error
):
    disk, vault = disk_and_vault
    disk.only, disk.error, disk.changes, disk.fail_at = "write", error, 0, 0
    for _ in range(2):
        with pytest.raises(VaultFullError):
            vault.settings.put("turn", 2)
        assert vault.settings.get("turn") == 1
    disk.fail_at = None
    vault.settings.put("turn", 3)
    vault = await reopened(vault, tmp_path)
    assert vault.settings.get("turn") == 3
    assert vault.damage_report is None
    vault.close()


@pytest.mark.parametrize("error", [errno.EIO, errno.ENOSPC])
async def test_failed_flush_stops_all_saving(disk_and_vault, tmp_path, error):
    disk, vault = disk_and_vault
    disk.only, disk.error, disk.changes, disk.fail_at = "flush", error, 0, 0
    expected = VaultFullError if error == errno.ENOSPC else VaultStoppedError
    with pytest.raises(expected):
        vault.settings.put("turn", 2)
    disk.fail_at = None
    disk.log.clear()
    with pytest.raises(VaultStoppedError):
        vault.settings.put("turn", 3)
    assert disk.log == []
    assert vault.settings.get("turn") == 1
    vault = await reopened(vault, tmp_path)
    assert vault.settings.get("turn") in (1, 2)
    vault.settings.put("turn", 4)
    vault.close()


async def test_failing_disk_stops_all_saving(disk_and_vault):
    disk, vault = disk_and_vault
    disk.only, disk.error, disk.changes, disk.fail_at = "write", errno.EIO, 0, 0
    with pytest.raises(VaultStoppedError):
        vault.settings.put("turn", 2)
    disk.fail_at = None
    with pytest.raises(VaultStoppedError):
        vault.settings.put("turn", 3)
    assert vault.settings.get("turn") == 1


async def test_disk_failing_anywhere_in_a_day_loses_no_acknowledged_save(tmp_path):
    for fail_at in itertools.count():
        disk = FaultyDisk()
        folder = tmp_path / str(fail_at)
        vault, _ = await create_vault(
            folder, "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
        )
        disk.changes, disk.fail_at = 0, fail_at
        acknowledged = 0
        try:
            for turn in range(1, 6):
                vault.settings.put("turn", turn)
                acknowledged = turn
        except VaultFullError:
            pass
        vault.close()
        vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
        assert vault.settings.get("turn", 0) in (acknowledged, acknowledged + 1)
        vault.close()
        if acknowledged == 5:
            break
    assert fail_at == 10


async def test_disk_failing_anywhere_in_a_creation_can_be_begun_again(tmp_path):
    for fail_at in itertools.count():
        disk = FaultyDisk(fail_at=fail_at)
        folder = tmp_path / str(fail_at)
        try:
            vault, _ = await create_vault(
                folder, "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
            )
        except VaultFullError:
            if vault_exists(folder):
                vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
            else:
                vault, _ = await create_vault(folder, "hoof", CHEAP, bounds=TEST_BOUNDS)
            vault.close()
            continue
        vault.close()
        break
    assert fail_at == 14


async def test_full_disk_does_not_keep_the_exams_from_being_read(
    disk_and_vault, tmp_path
):
    _, vault = disk_and_vault
    vault.people.set_pin("p1", "1234")
    vault.people.check_pin("p1", "0000")
    vault.close()
    full = FaultyDisk(fail_at=0)
    vault = await open_vault(
        tmp_path / "v", "hoof", bounds=TEST_BOUNDS, opener=full.open
    )
    assert vault.settings.get("turn") == 1
    vault.close()


def run(script, *arguments):
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


SETUP = """
import asyncio, sys
from pathlib import Path
from exam_app.store.vault.open import open_vault
from exam_app.store.errors import VaultError
from exam_app.store.repositories.rows import ClosedExam
from tests.store_disks import TEST_BOUNDS
folder = Path(sys.argv[1])
async def opened():
    return await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
"""

FILL_UP = (
    SETUP
    + """
import resource
vault = asyncio.run(opened())
resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))
turn = 0
try:
    while True:
        vault.notes.put(f"n{turn}", "e1", b"x" * 3000)
        turn += 1
except VaultError as error:
    print(turn, type(error).__name__)
"""
)


@pytest.mark.slow
@POSIX
async def test_file_size_limit_of_the_system_keeps_every_earlier_save(
    disk_and_vault, tmp_path
):
    _, vault = disk_and_vault
    vault.close()
    out, err = run(FILL_UP, tmp_path / "v").communicate(timeout=60)
    turns, refusal = out.split()
    assert (refusal, err) == ("VaultFullError", "")
    vault = await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)
    assert len(vault.notes.for_exam("e1")) == int(turns)
    assert int(turns) > 5
    vault.close()


TRY_TO_OPEN = (
    SETUP
    + """
try:
    asyncio.run(opened())
    print("opened")
except VaultError as error:
    print(type(error).__name__)
"""
)


@pytest.mark.slow
async def test_second_copy_of_the_app_is_refused_until_the_first_is_closed(
    disk_and_vault, tmp_path
):
    _, vault = disk_and_vault
    folder = tmp_path / "v"
    assert run(TRY_TO_OPEN, folder).communicate(timeout=60)[0] == "VaultInUseError\n"
    with pytest.raises(VaultInUseError):
        await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
    with pytest.raises(VaultInUseError):
        FolderLock(folder)
    vault.close()
    assert run(TRY_TO_OPEN, folder).communicate(timeout=60)[0] == "opened\n"
    lock = FolderLock(folder)
    lock.release()
    lock.release()


async def test_refused_opening_gives_the_lock_back(disk_and_vault, tmp_path):
    _, vault = disk_and_vault
    vault.close()
    for _ in range(2):
        with pytest.raises(Exception, match="refused"):
            await open_vault(tmp_path / "v", "wrong", bounds=TEST_BOUNDS)
    (await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)).close()


SAVE_ON = (
    SETUP
    + """
import json
vault = asyncio.run(opened())
turn = vault.settings.get("turn")
print("ready", flush=True)
while True:
    turn += 1
    if turn % 7 == 0:
        vault.close_exam(ClosedExam(exam_id=f"e{turn}", animal_id="a1"), b"%d" % turn)
        vault.settings.put("turn", turn)
    else:
        with vault.transaction():
            vault.drafts.put(f"e{turn - turn % 7 + 7}", {"turn": turn})
            vault.settings.put("turn", turn)
    print(turn, flush=True)
"""
)


async def kill_rounds(folder, rounds, rng, script=SAVE_ON):
    """Kill a saving process at a random moment; give the acknowledged saves."""
    total = 0
    for _ in range(rounds):
        before = await checked_turn(folder)
        process = run(script, folder)
        assert process.stdout.readline() == "ready\n"
        time.sleep(rng.random() * 0.15)
        os.kill(process.pid, signal.SIGKILL)
        # Not communicate: it would leave out what readline took from the pipe.
        out, err = process.stdout.read(), process.stderr.read()
        process.communicate(timeout=60)
        assert err == ""
        whole = [line for line in out.splitlines(keepends=True) if line.endswith("\n")]
        acknowledged = int(whole[-1]) if whole else before
        assert acknowledged <= await checked_turn(folder) <= acknowledged + 1
        total += len(whole)
    return total


async def checked_turn(folder):
    vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
    turn = vault.settings.get("turn")
    closed = {row.exam_id for row in vault.closed.latest(10**6)}
    if closed:
        assert {f"e{number}" for number in range(7, turn + 1, 7)} <= closed
    for row in vault.drafts.open():
        assert vault.drafts.get(row.exam_id) is not None
        assert row.exam_id not in closed
    assert len(vault.closed.latest(3)) == min(3, len(closed))
    vault.close()
    return turn


@pytest.mark.slow
@POSIX
async def test_killed_app_loses_no_acknowledged_save(disk_and_vault, tmp_path):
    _, vault = disk_and_vault
    vault.close()
    assert await kill_rounds(tmp_path / "v", 3, seeded(1)) > 8


@POSIX
@pytest.mark.exhaustive
async def test_app_killed_two_hundred_times_loses_no_acknowledged_save(
    disk_and_vault, tmp_path
):
    _, vault = disk_and_vault
    vault.close()
    total = await kill_rounds(tmp_path / "v", 200, seeded(2))
    print(f"200 kill rounds, {total} acknowledged saves, 0 lost")


@POSIX
async def test_files_are_readable_by_their_owner_only(disk_and_vault, tmp_path):
    folder = tmp_path / "v"
    modes = {path.name: path.stat().st_mode & 0o777 for path in folder.iterdir()}
    assert modes == dict.fromkeys(
        ("vault.head", "vault.a", "vault.b", "vault.lock", "vault.reserve"), 0o600
    )
    assert folder.stat().st_mode & 0o777 == 0o700


async def test_folder_that_cannot_be_made_is_unreachable(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(VaultUnreachableError):
        await create_vault(tmp_path / "file" / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)


def test_file_is_read_and_written_at_offsets(tmp_path):
    file = LocalFile(tmp_path / "one")
    file.write_at(5, b"later")
    assert file.read_at(0, 100) == b"\0\0\0\0\0later"
    assert file.read_at(7, 2) == b"te"
    assert file.read_at(99, 2) == b""
    file.truncate(6)
    file.flush()
    assert file.size() == 6
    file.close()
    again = LocalFile(tmp_path / "one")
    assert again.read_at(0, 100) == b"\0\0\0\0\0l"
    again.close()


def test_system_that_writes_in_pieces_still_writes_all(tmp_path):
    class Piecemeal:
        def __init__(self, raw):
            self.raw = raw

        def write(self, content):
            return self.raw.write(content[:3])

        def __getattr__(self, name):
            return getattr(self.raw, name)

    file = LocalFile(tmp_path / "one")
    file._raw = Piecemeal(file._raw)
    file.write_at(0, b"0123456789")
    assert file.read_at(0, 10) == b"0123456789"
    file.close()


REWRITE_ON = (
    SETUP
    + """
vault = asyncio.run(opened())
turn = vault.settings.get("turn")
print("ready", flush=True)
while True:
    turn += 1
    vault.drafts.put(f"e{turn % 9}", {"turn": turn, "text": "x" * 500})
    vault.settings.put("turn", turn)
    if turn % 3 == 0:
        vault.rewrite()
    if turn % 8 == 0:
        vault.go_over(asyncio.run(vault.new_data_key("hoof")))
    print(turn, flush=True)
"""
)


@pytest.mark.slow
@POSIX
async def test_app_killed_while_writing_anew_loses_no_acknowledged_save(
    disk_and_vault, tmp_path
):
    _, vault = disk_and_vault
    vault.close()
    total = await kill_rounds(tmp_path / "v", 2, seeded(3), REWRITE_ON)
    assert total > 1


@POSIX
@pytest.mark.exhaustive
async def test_app_killed_a_hundred_times_while_writing_anew(disk_and_vault, tmp_path):
    _, vault = disk_and_vault
    vault.close()
    total = await kill_rounds(tmp_path / "v", 100, seeded(4), REWRITE_ON)
    print(f"100 kill rounds while writing anew, {total} acknowledged, 0 lost")


async def test_full_disk_is_saved_in_the_reserve_and_told(tmp_path):
    disk = FaultyDisk()
    folder = tmp_path / "v"
    vault, _ = await create_vault(
        folder, "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    assert (folder / "vault.reserve").stat().st_size == RESERVE_LENGTH
    assert vault.disk_report is None
    real = LocalFile.write_at

    def full_until_the_reserve_is_gone(file, offset, content):
        if (folder / "vault.reserve").stat().st_size:
            raise OSError(errno.ENOSPC, "full")
        real(file, offset, content)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(LocalFile, "write_at", full_until_the_reserve_is_gone)
        vault.settings.put("turn", 1)
        assert vault.disk_report == DISK_FULL
        vault.settings.put("turn", 2)
        vault.close()
    assert (folder / "vault.reserve").stat().st_size == 0
    full = FaultyDisk()
    full.only, full.fail_at = "write", 0
    vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS, opener=full.open)
    assert vault.settings.get("turn") == 2
    assert vault.damage_report == DISK_FULL
    vault.close()
    vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
    assert vault.damage_report is None
    assert (folder / "vault.reserve").stat().st_size == RESERVE_LENGTH
    vault.close()


def abandon(vault):
    """Leave a vault as a killed app does: nothing is written any more."""
    vault._files.close()


async def test_crash_between_the_two_pages_is_repaired_on_both(tmp_path):
    disk = FaultyDisk(error=errno.EIO)
    folder = tmp_path / "v"
    vault, _ = await create_vault(
        folder, "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    vault.settings.put("turn", 1)
    disk.log.clear()
    real, writes = LocalFile.write_at, []

    def failing_at_the_second_page(file, offset, content):
        if len(content) == 4096:
            writes.append(offset)
            if len(writes) == 2:
                raise OSError(errno.EIO, "failed")
        real(file, offset, content)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(LocalFile, "write_at", failing_at_the_second_page)
        with pytest.raises(VaultStoppedError):
            vault.rewrite()
    abandon(vault)
    vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
    abandon(vault)
    head = (folder / "vault.head").read_bytes()
    for page in (0, 4096):
        damaged = bytearray(head)
        damaged[page + 60] ^= 1
        (folder / "vault.head").write_bytes(damaged)
        vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
        assert vault.settings.get("turn") == 1
        abandon(vault)


@pytest.mark.parametrize("act", ["rewrite", "rotate", "erase"])
async def test_disk_failing_anywhere_while_the_journal_is_written_anew_loses_nothing(
    tmp_path, act
):
    for fail_at in itertools.count():
        disk = FaultyDisk(error=errno.EIO)
        folder = tmp_path / str(fail_at)
        vault, _ = await create_vault(
            folder, "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
        )
        vault.owners.put("e1", b"s", {"name": "Demo Owner"})
        vault.settings.put("turn", 1)
        disk.changes, disk.fail_at = 0, fail_at
        try:
            if act == "rewrite":
                vault.rewrite()
            elif act == "rotate":
                vault.go_over(await vault.new_data_key("hoof"))
            else:
                vault.owners.erase("e1")
        except VaultStoppedError:
            is_done = False
        else:
            is_done = True
        disk.fail_at = None
        acknowledged = 1
        try:
            vault.settings.put("turn", 2)
            acknowledged = 2
        except VaultStoppedError:
            pass
        abandon(vault)
        vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
        assert vault.settings.get("turn") == acknowledged
        assert vault.audit().is_sound
        vault.close()
        if is_done:
            break
    assert fail_at > 8


async def test_clock_that_goes_back_changes_nothing(tmp_path, monkeypatch):
    vault, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    for turn in range(6):
        monkeypatch.setattr(time, "time", lambda turn=turn: 1e9 - turn * 1e7)
        vault.closed.put(ClosedExam(exam_id=f"e{turn}"), b"signed")
        vault.close()
        for path in (tmp_path / "v").iterdir():
            os.utime(path, (1e9 - turn * 1e7,) * 2)
        vault = await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)
        assert vault.damage_report is None
    rows = [row.exam_id for row in vault.closed.latest(9)]
    assert rows == ["e5", "e4", "e3", "e2", "e1", "e0"]
    vault.close()

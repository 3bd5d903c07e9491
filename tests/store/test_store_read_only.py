"""Restoring, salvaging and verifying read: no more than needed, and never to write."""

import asyncio
import io
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from exam_app.__main__ import Costs, main
from exam_app.crypto import door
from exam_app.store.engine.read_files import (
    FilePart,
    ForgivingFile,
    GrownFile,
    ReadFile,
)
from exam_app.store.engine.replay import find_frames
from exam_app.store.errors import VaultInUseError
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault, open_vault_to_read
from exam_app.store.vault.restore import Secrets, restore_vault, salvage_vault
from tests.store_disks import (
    CHEAP,
    TEST_BOUNDS,
    MemoryFile,
    fill_folder,
    folder_bytes,
)

SECRETS = Secrets("hoof", "hoof", CHEAP, TEST_BOUNDS)
COSTS = Costs(CHEAP, TEST_BOUNDS)
ROOT = Path(__file__).resolve().parents[2]
FIVE_GIB = 5 * 2**30
MOST_MEMORY = 48 * 2**20


async def fill(place):
    """A store, its backup, and a file signed by it, in one folder."""
    vault, _ = await create_vault(place / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    with vault.transaction():
        vault.settings.put("role", "clinic")
        vault.settings.put("device_id", "f" * 32)
        vault.settings.put("signing_key", bytes(range(32)))
        vault.settings.put("agreement_key", bytes(range(32, 64)))
    for number in range(9):
        vault.animals.put({"animal_id": f"a{number}", "name": f"Demo {number}"})
        vault.closed.put(
            ClosedExam(exam_id=f"c{number}", animal_id="a1"), b"signed %d" % number
        )
    backup = MemoryFile()
    vault.back_up(backup)
    vault.close()
    (place / "exams.backup").write_bytes(backup.content)
    (place / "some.record").write_bytes(b"\xd2\x84 nothing signed")


@pytest.fixture
def media():
    # Every other pytest that starts closes its common folder to other users again.
    with tempfile.TemporaryDirectory(prefix="exam-media-") as own:
        place = Path(own) / "media"
        place.mkdir()
        asyncio.run(fill(place))
        yield place
        for path in (place, *place.rglob("*")):
            path.chmod(0o755)


AS_NOBODY = """
import concurrent.futures.thread, os, sys
from exam_app.__main__ import Costs, main
from tests.store_disks import CHEAP, TEST_BOUNDS

def look(event, given):
    path, _, flags = given if event == "open" else ("", "", 0)
    if str(path).startswith(sys.argv[1]) and flags & 0o103:
        print("OPENED TO WRITE", path, flush=True)

sys.addaudithook(look)
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
sys.exit(main(sys.argv[2:], Costs(CHEAP, TEST_BOUNDS)))
"""


def run_protected(media, *arguments):
    """Run a command as somebody who may not write there."""
    for path in (media, *media.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    new = media.parent / "new"
    new.mkdir(exist_ok=True)
    new.chmod(0o777)
    # The system's own folders let everybody through already.
    for path in [one for one in media.parents if not one.stat().st_mode & 0o001]:
        path.chmod(0o755)
    return subprocess.run(
        [sys.executable, "-c", AS_NOBODY, str(media), *map(str, arguments)],
        input="hoof\n",
        capture_output=True,
        text=True,
        timeout=120,
        cwd=ROOT,
        env={**os.environ, "HOME": str(new), "PYTHONDONTWRITEBYTECODE": "1"},
        check=False,
    )


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="the rights of a Unix system")
@pytest.mark.parametrize(
    ("command", "code", "said"),
    [
        (("restore", "exams.backup"), 0, "The exams are in"),
        (("salvage", "v"), 0, "Nothing is missing"),
        (("verify", "some.record"), 4, "some.record"),
    ],
)
def test_write_protected_media_are_read_and_never_opened_to_write(
    media, command, code, said
):
    name, source = command
    data = media / "v" if name == "verify" else media.parent / "new" / name
    before = folder_bytes(media / "v")
    done = run_protected(media, name, media / source, "--data", data)
    assert done.returncode == code, done.stderr
    assert said in done.stdout
    assert "OPENED TO WRITE" not in done.stdout
    media.chmod(0o755)
    assert folder_bytes(media / "v") == before


async def test_store_opened_to_read_shows_all_and_writes_nothing(media):
    folder = media / "v"
    with (folder / "vault.a").open("ab") as file:
        file.write(b"half a save")
    before = folder_bytes(folder)
    for _ in range(2):
        vault = await open_vault_to_read(folder, "hoof", bounds=TEST_BOUNDS)
        assert len(vault.animals.all()) == 9
        assert "in the middle of a save" in vault.damage_report
        with pytest.raises(Exception, match="an earlier save failed"):
            vault.settings.put("theme", "dark")
        vault.close()
        assert folder_bytes(folder) == before
    (folder / "vault.b").unlink()
    (folder / "vault.reserve").unlink()
    (folder / "vault.lock").unlink()
    vault = await open_vault_to_read(folder, "hoof", bounds=TEST_BOUNDS)
    vault.close()
    assert sorted(folder_bytes(folder)) == ["vault.a", "vault.head"]


async def test_readers_go_together_and_not_beside_a_writer(media):
    reading = [
        await open_vault_to_read(media / "v", "hoof", bounds=TEST_BOUNDS)
        for _ in range(2)
    ]
    with pytest.raises(VaultInUseError):
        await open_vault(media / "v", "hoof", bounds=TEST_BOUNDS)
    for vault in reading:
        vault.close()
    writing = await open_vault(media / "v", "hoof", bounds=TEST_BOUNDS)
    with pytest.raises(VaultInUseError):
        await open_vault_to_read(media / "v", "hoof", bounds=TEST_BOUNDS)
    writing.close()


def run(monkeypatch, *arguments):
    """Run a command with little memory; what is typed would open everything."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("hoof\n"))
    before = memory()
    code = main([str(argument) for argument in arguments], COSTS)
    assert memory() - before < MOST_MEMORY
    return code


def memory():
    """The most memory that this process ever took, in bytes."""
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit


def sparse(path, head=b"", size=FIVE_GIB):
    with path.open("wb") as file:
        file.write(head)
        file.truncate(size)


def sources(media):
    """What a person may name by mistake, by what it is."""
    place = media / "odd"
    place.mkdir()
    sparse(place / "five GiB")
    os.mkfifo(place / "pipe")
    (place / "folder").mkdir()
    (place / "empty").touch()
    (place / "words").write_text("no backup at all")
    backup = (media / "exams.backup").read_bytes()
    sparse(place / "backup grown to five GiB", backup)
    length = (FIVE_GIB - 58 - 4096).to_bytes(8, "big")
    sparse(place / "backup that says so", backup[:18] + length + backup[26:])
    shown = {path.name: path for path in place.iterdir()}
    return shown | {
        "device": Path("/dev/zero"),
        "missing": place / "missing",
        "half a name": Path("\0"),
    }


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices of Unix")
def test_what_is_no_backup_is_refused_at_once_in_one_sentence_with_advice(
    media, monkeypatch, capsys
):
    for name, source in sources(media).items():
        code = run(monkeypatch, "restore", source, "--data", media / "new")
        said = capsys.readouterr().err
        assert code == 1, name
        assert len(said.splitlines()) == 2, name
        assert "Nothing was changed" in said
        assert "ame the file itself" in said or "Choose another file" in said
        # Nobody was asked for a passphrase.
        assert sys.stdin.readline() == "hoof\n"


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices of Unix")
def test_what_cannot_be_verified_is_refused_at_once(media, monkeypatch, capsys):
    for name, source in sources(media).items():
        code = run(monkeypatch, "verify", source, "--data", media / "v")
        said = capsys.readouterr()
        # A folder may be a whole export; in this one there is none.
        if name in ("empty", "words", "folder"):
            assert code == 4, name
            continue
        assert code == 1, name
        assert len(said.err.splitlines()) == 2, name
        assert "othing was changed" in said.err
        assert sys.stdin.readline() == "hoof\n"


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices of Unix")
def test_folder_of_another_kind_is_not_salvaged_and_nothing_is_made_in_it(
    media, monkeypatch, capsys
):
    odd = sources(media)
    pipes = media / "pipes"
    pipes.mkdir()
    for name in ("vault.head", "vault.a", "vault.b"):
        os.mkfifo(pipes / name)
    odd |= {"folder of other things": media / "odd", "folder of pipes": pipes}
    for name, source in odd.items():
        before = sorted(source.iterdir()) if name.startswith("folder") else None
        code = run(monkeypatch, "salvage", source, "--data", media / "new")
        said = capsys.readouterr().err
        assert code == 1, name
        assert len(said.splitlines()) == 2, name
        assert "Nothing was changed" in said
        assert sys.stdin.readline() == "hoof\n"
        if before is not None:
            assert sorted(source.iterdir()) == before


def test_journal_of_five_gib_is_salvaged_in_little_memory(media, monkeypatch, capsys):
    folder = media / "v"
    content = (folder / "vault.a").read_bytes()
    sparse(folder / "vault.a", content)
    assert run(monkeypatch, "salvage", folder, "--data", media / "new") == 0
    assert "9 signed records, 9 animals" in capsys.readouterr().out


def test_torn_tail_of_five_gib_is_cut_off_in_little_memory(media):
    folder = media / "v"
    sparse(folder / "vault.a", (folder / "vault.a").read_bytes())

    async def look():
        vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
        assert len(vault.animals.all()) == 9
        vault.close()

    before = memory()
    asyncio.run(look())
    assert memory() - before < MOST_MEMORY
    assert (folder / "vault.torn").stat().st_size == 2**26
    (folder / "vault.torn").unlink()


class BadSectors(MemoryFile):
    """A medium on which some sectors cannot be read."""

    def __init__(self, content, bad):
        super().__init__(content)
        self.bad = bad

    def read_at(self, offset, length):
        if any(offset < at + 512 and at < offset + length for at in self.bad):
            raise OSError(5, "the test's disk failed")
        return super().read_at(offset, length)


def test_sectors_that_cannot_be_read_cost_only_themselves():
    content = bytes(range(256)) * 20
    file = ForgivingFile(BadSectors(content, {1024, 4096}))
    zeroed = bytearray(content)
    zeroed[1024:1536] = bytes(512)
    zeroed[4096:4608] = bytes(512)
    read = file.read_at(0, 10_000)
    assert len(read) == len(content)
    assert [
        at
        for at in range(0, 5120, 512)
        if read[at : at + 512] != content[at : at + 512]
    ] == [1024, 4096]
    assert read == zeroed
    assert file.read_at(1, 900) == content[1:901]


async def test_salvage_goes_on_where_the_medium_cannot_be_read(media, monkeypatch):
    content = (media / "v" / "vault.a").read_bytes()
    bad = {len(content) // 2 // 512 * 512}
    monkeypatch.setattr(
        "exam_app.store.vault.restore.ForgivingFile",
        lambda _: ForgivingFile(BadSectors(content, bad)),
    )
    vault, _, found = await salvage_vault(media / "v", media / "new", SECRETS)
    assert 4 < len(vault.animals.all()) + len(vault.closed.latest(99)) < 18
    assert not found.is_whole
    vault.close()


def test_file_kept_in_memory_behind_its_end_leaves_the_file_as_it_is():
    base = MemoryFile(b"0123456789")
    grown = GrownFile(FilePart(base, 2, 5))
    assert grown.read_at(0, 99) == b"23456"
    grown.write_at(5, b"abc")
    grown.write_at(6, b"XYZ")
    assert grown.read_at(3, 4) == b"56aX"
    assert (grown.size(), grown.read_at(0, 99)) == (9, b"23456aXYZ")
    grown.truncate(7)
    assert grown.read_at(0, 99) == b"23456aX"
    for refused in (lambda: grown.write_at(4, b"x"), lambda: grown.truncate(4)):
        with pytest.raises(OSError, match="only read"):
            refused()
    assert bytes(base.content) == b"0123456789"


def test_prefix_that_lies_across_two_pieces_of_a_large_file_is_found(media):
    from tests.store_journals import KEYS, begun

    opened = begun()
    opened.table().put("e1", {"draft": "one"})
    frame = bytes(opened.file.content)[78:]
    for offset in (-71, -40, -8, -1, 0, 1):
        content = bytes(2**20 + offset) + frame
        found = [at for at, _ in find_frames(MemoryFile(content), KEYS, 0)]
        assert found[0] == 2**20 + offset
        assert len(found) == 2
    assert media


@pytest.mark.slow
async def test_backup_is_read_piece_by_piece(media):
    class Watched(ReadFile):
        longest = 0

        def read_at(self, offset, length):
            read = super().read_at(offset, length)
            Watched.longest = max(Watched.longest, len(read))
            return read

    vault = await open_vault(media / "v", "hoof", bounds=TEST_BOUNDS)
    for number in range(60):
        vault.closed.put(
            ClosedExam(exam_id=f"large{number}"), door.random_bytes(50_000)
        )
    backup = MemoryFile()
    vault.back_up(backup)
    vault.close()
    (media / "large.backup").write_bytes(backup.content)
    assert len(backup.content) > 2**21
    file = Watched(media / "large.backup")
    again, _ = await restore_vault(file, media / "new", SECRETS)
    assert len(again.closed.latest(99)) == 69
    assert Watched.longest <= 2**20
    again.close()
    file.close()
    assert fill_folder

"""Disks for the fault tests: files in memory that fail, and what a power cut leaves.

Random choices are seeded, so a failing state can be made again.
"""

import errno
import random
from dataclasses import dataclass, field

from exam_app.crypto.door import DerivationBounds, KeyDerivation
from exam_app.store.engine.files import LocalFile
from exam_app.store.engine.journal import Journal

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
TEST_BOUNDS = DerivationBounds(cheapest=CHEAP, dearest=KeyDerivation())
SECTOR = 512


def on_writing_anew(vault, monkeypatch, happens):
    """Let a vault write its files anew as it closes, and ``happens`` just before."""
    plain = vault.rewrite

    def rewrite():
        happens()
        plain()

    monkeypatch.setattr(Journal, "is_due", lambda _journal: True)
    monkeypatch.setattr(vault, "rewrite", rewrite)


class MemoryFile:
    """A file in memory that keeps a log of what was done to it."""

    def __init__(self, content=b""):
        self.content = bytearray(content)
        self.log = []

    def read_at(self, offset, length):
        return bytes(self.content[offset : offset + length])

    def write_at(self, offset, content):
        self.log.append(("write", offset, bytes(content)))
        apply_step(self.content, self.log[-1])

    def truncate(self, size):
        self.log.append(("truncate", size))
        apply_step(self.content, self.log[-1])

    def flush(self):
        self.log.append(("flush",))

    def size(self):
        return len(self.content)

    def close(self):
        pass


def apply_step(content, step):
    if step[0] == "write":
        _, offset, written = step
        content.extend(bytes(max(0, offset - len(content))))
        content[offset : offset + len(written)] = written
    elif step[0] == "truncate":
        del content[step[1] :]
        content.extend(bytes(step[1] - len(content)))


def power_cut_states(before, steps, rng, every=False, subsets=12):
    """Contents that a cut during ``steps`` can leave in one file.

    Whole steps, every prefix of a write (or a sample), the new size with zeros
    behind the prefix, only the size, and random subsets of 512-byte sectors with
    old bytes, zeros or garbage in the others.
    """
    content = bytearray(before)
    yield bytes(content)
    for step in steps:
        if step[0] == "write":
            yield from _torn_writes(bytes(content), step, rng, every, subsets)
        apply_step(content, step)
        yield bytes(content)


def _torn_writes(before, step, rng, every, subsets):
    _, offset, written = step
    length = len(written)
    cuts = range(length)
    if not every:
        near = {0, 1, 15, 16, 61, 62, 63, length - 17, length - 1}
        near |= {rng.randrange(length) for _ in range(6)}
        cuts = sorted(cut for cut in near if 0 <= cut < length)
    for cut in cuts:
        torn = bytearray(before)
        apply_step(torn, ("write", offset, written[:cut]))
        yield bytes(torn)
        zeroed = torn.ljust(offset + length, b"\0")
        yield bytes(zeroed)
    after = bytearray(before)
    apply_step(after, step)
    for _ in range(subsets):
        mixed = bytearray(after)
        old = before[offset:]
        mixed[offset : offset + length] = _some_sectors(old, written, rng)
        yield bytes(mixed)


def _some_sectors(before, after, rng):
    """Half of the sectors new, the others old, zero or garbage."""
    missed = rng.choice(("old", "zero", "garbage"))
    mixed = bytearray()
    for start in range(0, len(after), SECTOR):
        sector = after[start : start + SECTOR]
        if rng.random() < 0.5:
            kinds = {
                "old": before[start : start + len(sector)].ljust(len(sector), b"\0"),
                "zero": bytes(len(sector)),
                "garbage": rng.randbytes(len(sector)),
            }
            sector = kinds[missed]
        mixed += sector
    return bytes(mixed)


@dataclass
class FaultyDisk:
    """Opens real files whose n-th change from now on fails; keeps a log of all."""

    fail_at: int | None = None
    error: int = errno.ENOSPC
    only: str | None = None
    log: list = field(default_factory=list)
    changes: int = 0

    async def open(self, path):
        return _FaultyFile(path, self)

    def note(self, name, step):
        if self.only in (None, step[0]):
            if self.fail_at is not None and self.changes == self.fail_at:
                raise OSError(self.error, "the test's disk failed")
            self.changes += 1
        self.log.append((name, step))


class _FaultyFile(LocalFile):
    __slots__ = ("_disk", "_name")

    def __init__(self, path, disk):
        super().__init__(path)
        self._name, self._disk = path.name, disk

    def write_at(self, offset, content):
        self._disk.note(self._name, ("write", offset, bytes(content)))
        super().write_at(offset, content)

    def truncate(self, size):
        self._disk.note(self._name, ("truncate", size))
        super().truncate(size)

    def flush(self):
        self._disk.note(self._name, ("flush",))
        super().flush()


def folder_bytes(folder):
    """What the folder holds, without the lock file."""
    return {
        path.name: path.read_bytes()
        for path in sorted(folder.iterdir())
        if path.is_file() and path.name != "vault.lock"
    }


def fill_folder(folder, contents):
    folder.mkdir(exist_ok=True)
    for name, content in contents.items():
        (folder / name).write_bytes(content)


def seeded(number):
    return random.Random(number)

"""Sealed pictures in one file of slots, for a place whose files are opened beforehand.

A browser opens its private files before anything is asked of them, and one only. So
the pieces lie in slots of this file: a head of 64 bytes, then room for one piece, in
units of 64 KiB. A slot keeps its place and its size for ever; one that was given up
takes the next piece that fits. Nothing is read before the first question, and then the
heads alone.

The head of a slot is written and flushed after its content, so that what was cut off
leaves a slot that holds nothing. A head that does not fit its checksum is passed over,
a unit at a time.
"""

import errno
import struct
import zlib
from dataclasses import dataclass

from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.picture_files import LONGEST_PIECE

UNIT = 1 << 16
_MAGIC = b"exam-vault slot\n"
_HEAD = struct.Struct(">16sBHI16s")
_CHECK = struct.Struct(">I")
HEAD_LENGTH = 64
_EMPTY, _KEPT = 0, 1


@dataclass(frozen=True, slots=True)
class Slot:
    """One slot.

    Attributes:
        at: Where its head stands, in bytes.
        units: Its size with the head.
        length: Bytes of what it holds; 0 for nothing.
        name: Of the piece; empty for none.
    """

    at: int
    units: int
    length: int = 0
    name: str = ""


class PictureSlots:
    """Pieces in the slots of one open file.

    Attributes:
        known_left: Bytes that the place said may still be written; None before it was
            asked.
    """

    __slots__ = ("_file", "_slots", "known_left")

    def __init__(self, file: SealedFile) -> None:
        """Take an open file; nothing is read yet."""
        self._file = file
        self._slots: dict[int, Slot] | None = None
        self.known_left: int | None = None

    def names(self) -> set[str]:
        """Give the name of every piece."""
        return {slot.name for slot in self._all().values() if slot.name}

    def holds(self, name: str) -> bool:
        """Whether there is a piece of this name."""
        return self._of(name) is not None

    def read(self, name: str) -> bytes | None:
        """Give a piece; None without one."""
        slot = self._of(name)
        if slot is None:
            return None
        return self._file.read_at(slot.at + HEAD_LENGTH, slot.length)

    def write(self, name: str, content: bytes) -> None:
        """Keep a piece; return once its content, then its head is on the medium."""
        if len(content) > LONGEST_PIECE:
            raise OSError(errno.EFBIG, "longer than a piece can be")
        before = self._of(name)
        slots, size = self._all(), self._file.size()
        needed = -(-(HEAD_LENGTH + len(content)) // UNIT)
        fitting = (s for s in slots.values() if not s.name and s.units >= needed)
        slot = min(fitting, key=lambda s: (s.units, s.at), default=None)
        if slot is None:
            # The last slot may reach beyond the end: it was cut off while it was made.
            ends = (s.at + s.units * UNIT for s in slots.values())
            slot = Slot(-(-max(size, *ends, 0) // UNIT) * UNIT, needed)
        try:
            self._put_head(slot)
            self._file.write_at(slot.at + HEAD_LENGTH, content)
            self._file.flush()
            slots[slot.at] = slot
            kept = Slot(slot.at, slot.units, len(content), name)
            self._put_head(kept)
            self._file.flush()
        except OSError:
            if slot.at not in slots:
                self._file.truncate(size)
            raise
        slots[slot.at] = kept
        if self.known_left is not None:
            self.known_left = max(0, self.known_left - len(content))
        if before is not None:
            self._give_up(before)

    def remove(self, name: str) -> None:
        """Give up the slot of a piece; without one nothing happens."""
        slot = self._of(name)
        if slot is not None:
            self._give_up(slot)

    def left(self) -> int | None:
        """Give what the place said may still be written, less what was since."""
        return self.known_left

    def close(self) -> None:
        """Release the file."""
        self._file.close()

    def _give_up(self, slot: Slot) -> None:
        slots = self._all()
        slots[slot.at] = empty = Slot(slot.at, slot.units)
        self._put_head(empty)
        last = max(slots)
        end = self._file.size()
        while slots and not slots[last].name and end <= last + slots[last].units * UNIT:
            # What is empty at the end of the file is given back.
            del slots[last]
            end, last = last, max(slots, default=0)
            self._file.truncate(end)
        self._file.flush()

    def _put_head(self, slot: Slot) -> None:
        state = _KEPT if slot.name else _EMPTY
        name = bytes.fromhex(slot.name).ljust(16, b"\0")
        head = _HEAD.pack(_MAGIC, state, slot.units, slot.length, name)
        whole = head + _CHECK.pack(zlib.crc32(head))
        self._file.write_at(slot.at, whole.ljust(HEAD_LENGTH, b"\0"))

    def _of(self, name: str) -> Slot | None:
        return next((s for s in self._all().values() if s.name == name), None)

    def _all(self) -> dict[int, Slot]:
        if self._slots is None:
            self._slots = self._found()
        return self._slots

    def _found(self) -> dict[int, Slot]:
        found: dict[int, Slot] = {}
        at, end = 0, self._file.size()
        while at + HEAD_LENGTH <= end:
            slot = _slot(at, self._file.read_at(at, HEAD_LENGTH))
            if slot is not None and at + HEAD_LENGTH + slot.length > end:
                # Its content was cut off: it holds nothing any more.
                slot = Slot(at, slot.units)
            if slot is not None:
                found[at] = slot
            at += UNIT * (slot.units if slot else 1)
        return found


def _slot(at: int, head: bytes) -> Slot | None:
    """Read the head of a slot; None where there is none that fits its checksum."""
    fixed = head[: _HEAD.size]
    (check,) = _CHECK.unpack(head[_HEAD.size : _HEAD.size + _CHECK.size])
    magic, state, units, length, name = _HEAD.unpack(fixed)
    is_head = magic == _MAGIC and check == zlib.crc32(fixed)
    if not is_head or not units or HEAD_LENGTH + length > units * UNIT:
        return None
    return Slot(at, units, length, name.hex()) if state == _KEPT else Slot(at, units)

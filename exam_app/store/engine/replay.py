"""Read a journal from its file and judge how it ends.

The rules: a part at the end that does not authenticate is a torn tail, unless a
later frame does authenticate or the head page knows that the part was kept once.
Reading writes nothing.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from exam_app.store.engine.documents import Bodies
from exam_app.store.engine.files import HasHoles, SealedFile
from exam_app.store.engine.format import (
    FIRST_TAG,
    HEADER_LENGTH,
    PREFIX_LENGTH,
    TAG_LENGTH,
    FrameKeys,
    Mark,
    Prefix,
    check_header,
    is_index,
    open_head,
    open_prefix,
    placed_lines,
)
from exam_app.store.engine.index import Tables, apply_line, decode_index
from exam_app.store.errors import (
    DocumentDamagedError,
    VaultAlteredError,
    VaultDamagedError,
)

_READ_AHEAD = 1 << 18
_SEARCHED_AT_ONCE = 1 << 20


@dataclass(slots=True)
class Replayed:
    """A journal as read.

    Attributes:
        tables: The state after its last whole frame.
        sequence: Of the last whole frame.
        tag: Of the last whole frame.
        end: Where the next frame goes.
        size: Of the file; beyond ``end`` stands a torn tail.
        base: Where the frames after the index begin.
        frames: Frames after the index.
        missing: Saves that were kept once and are not whole any more.
        is_other_copy: The newest known frame is another one than the head's.
    """

    tables: Tables = field(default_factory=dict)
    sequence: int = 0
    tag: bytes = FIRST_TAG
    end: int = HEADER_LENGTH
    size: int = 0
    base: int = HEADER_LENGTH
    frames: int = 0
    missing: int = 0
    is_other_copy: bool = False


@dataclass(frozen=True, slots=True)
class Frame:
    """One authentic frame: where it stands, and its opened head."""

    offset: int
    prefix: Prefix
    head: bytes
    tag: bytes

    @property
    def bodies_offset(self) -> int:
        """Where its first sealed body stands."""
        return self.offset + PREFIX_LENGTH + self.prefix.head_length


class AheadReader:
    """Reads small pieces of a file from larger ones."""

    __slots__ = ("_at", "_content", "_file")

    def __init__(self, file: SealedFile) -> None:
        """Read nothing yet."""
        self._file = file
        self._at = 0
        self._content = b""

    def read_at(self, offset: int, length: int) -> bytes:
        """Read up to ``length`` bytes; fewer only at the end of the file."""
        start = offset - self._at
        if start < 0 or start + length > len(self._content):
            self._at, start = offset, 0
            self._content = self._file.read_at(offset, max(length, _READ_AHEAD))
        return self._content[start : start + length]


def replay(file: SealedFile, keys: FrameKeys, bodies: Bodies, mark: Mark) -> Replayed:
    """Read a journal.

    Args:
        file: The open file.
        keys: Of this journal.
        bodies: Opens the bodies of the newest frame, which may be half written.
        mark: From the head page.

    Raises:
        VaultAlteredError: A frame is damaged and a later one authenticates.
        VaultDamagedError: The header or the index is not what the head names.
        VaultTooNewError: A newer version wrote it.
        OSError: The file could not be read.
    """
    check_header(keys, file.read_at(0, HEADER_LENGTH))
    size = file.size()
    found, last = _read(file, keys, bodies, mark, size)
    if last and not _has_bodies(file, bodies, last):
        found, _ = _read(file, keys, bodies, mark, last.offset)
        found.size = size
    _judge(file, keys, found, mark)
    return found


def frames(file: SealedFile, keys: FrameKeys, start: int, end: int) -> Iterator[Frame]:
    """Give frame after frame from ``start``, to the first that is not whole."""
    reader = AheadReader(file)
    while start < end:
        prefix = open_prefix(keys, reader.read_at(start, PREFIX_LENGTH))
        if prefix is None or start + prefix.length > end:
            return
        sealed = reader.read_at(start + PREFIX_LENGTH, prefix.head_length)
        head = open_head(keys, prefix, sealed)
        if head is None:
            return
        yield Frame(start, prefix, head, sealed[-TAG_LENGTH:])
        start += prefix.length


def apply_frame(tables: Tables, frame: Frame, file: SealedFile, bodies: Bodies) -> None:
    """Bring tables to the state after a frame, in place."""
    if is_index(frame.head):
        tables.clear()
        tables.update(decode_index(frame.head, file, frame.bodies_offset, bodies))
        return
    for line, offset in placed_lines(frame.head, frame.bodies_offset):
        apply_line(tables, line, offset)


def follow(found: Replayed, frame: Frame) -> bool:
    """Step over a frame, if it is the next of the chain."""
    prefix = frame.prefix
    if (prefix.sequence, prefix.previous) != (found.sequence + 1, found.tag):
        return False
    _step(found, frame)
    return True


def find_frames(
    file: SealedFile, keys: FrameKeys, start: int
) -> Iterator[tuple[int, Prefix]]:
    """Give every authentic prefix from ``start`` on, wherever it stands."""
    size = file.size()
    while start < size:
        if isinstance(file, HasHoles):
            # Zeros hold no marker; a frame that begins before them was found before.
            start = file.next_data(start)
        # A prefix that begins in one piece may end in the next.
        content = file.read_at(start, _SEARCHED_AT_ONCE + PREFIX_LENGTH - 1)
        at = content.find(keys.marker)
        while 0 <= at < _SEARCHED_AT_ONCE:
            prefix = open_prefix(keys, content[at : at + PREFIX_LENGTH])
            if prefix:
                yield start + at, prefix
            at = content.find(keys.marker, at + 1)
        start += _SEARCHED_AT_ONCE


def _read(
    file: SealedFile, keys: FrameKeys, bodies: Bodies, mark: Mark, end: int
) -> tuple[Replayed, Frame | None]:
    found = Replayed(size=end)
    if mark.index_offset:
        _start_at_index(file, keys, bodies, mark, found)
    last = None
    known_tag = found.tag if found.sequence == mark.sequence else None
    for frame in frames(file, keys, found.end, end):
        if not follow(found, frame):
            break
        apply_frame(found.tables, frame, file, bodies)
        found.frames += 1
        last = frame
        if found.sequence == mark.sequence:
            known_tag = found.tag
    found.is_other_copy = known_tag not in (None, mark.tag)
    return found, last


def _start_at_index(
    file: SealedFile, keys: FrameKeys, bodies: Bodies, mark: Mark, found: Replayed
) -> None:
    index = next(frames(file, keys, mark.index_offset, found.size), None)
    if index is None or not is_index(index.head):
        raise VaultDamagedError("the index of the journal did not authenticate")
    apply_frame(found.tables, index, file, bodies)
    found.end = index.offset
    _step(found, index)
    found.base = found.end


def _step(found: Replayed, frame: Frame) -> None:
    found.sequence, found.tag = frame.prefix.sequence, frame.tag
    found.end += frame.prefix.length


def _has_bodies(file: SealedFile, bodies: Bodies, frame: Frame) -> bool:
    if is_index(frame.head):
        return True
    for line, offset in placed_lines(frame.head, frame.bodies_offset):
        if not line.tag:
            continue
        sealed = file.read_at(offset, line.length)
        try:
            bodies.open(line.table, line.document_id, sealed, line.tag)
        except DocumentDamagedError:
            return False
    return True


def _judge(file: SealedFile, keys: FrameKeys, found: Replayed, mark: Mark) -> None:
    for offset, prefix in find_frames(file, keys, found.end):
        follows = (prefix.sequence, prefix.previous) == (found.sequence + 1, found.tag)
        # The frame that comes next may be torn; any other has no business here.
        if offset > found.end or not follows:
            raise VaultAlteredError("a frame after a damaged one authenticates")
    found.missing = max(0, mark.sequence - found.sequence)

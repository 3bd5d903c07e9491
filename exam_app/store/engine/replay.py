"""Read a journal from its file and judge how it ends.

The rules: a part at the end that does not authenticate is a torn tail, unless a
later frame does authenticate or the head page knows that the part was kept once.
Reading writes nothing.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from exam_app.crypto.door import unseal
from exam_app.crypto.errors import WrongKeyError
from exam_app.store.engine.files import HasHoles, SealedFile
from exam_app.store.engine.format import (
    DROP,
    FIRST_TAG,
    HEADER_LENGTH,
    PREFIX_LENGTH,
    TAG_LENGTH,
    FrameKeys,
    Line,
    Mark,
    Prefix,
    check_header,
    decode_changes,
    is_index,
    open_prefix,
    placed,
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
        index_offset: Where the index stands; 0 without one.
        index_tag: Of the index that the tables start from; empty without one.
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
    index_offset: int = 0
    index_tag: bytes = b""
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

    @property
    def end(self) -> int:
        """Where the next frame goes."""
        return self.offset + self.prefix.length

    def lines(self) -> Iterator[tuple[Line, int]]:
        """Give every change, with the offset of its body; see ``decode_changes``."""
        return placed(decode_changes(self.head), self.bodies_offset)


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


def replay(file: SealedFile, keys: FrameKeys, mark: Mark) -> Replayed:
    """Read a journal that a head page marks; of the bodies only the newest frame's.

    Raises:
        VaultAlteredError: A frame is damaged and a later one authenticates.
        VaultDamagedError: The header or the index is not what the head names.
        VaultTooNewError: A newer version wrote it.
        OSError: The file could not be read.
    """
    check_header(keys, file.read_at(0, HEADER_LENGTH))
    size = file.size()
    found, last = _read(file, keys, mark, size)
    if last and not _has_bodies(file, keys, last):
        found, _ = _read(file, keys, mark, last.offset)
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
        frame = open_frame(reader, keys, start, prefix)
        if frame is None:
            return
        yield frame
        start = frame.end


def open_frame(
    file: SealedFile | AheadReader, keys: FrameKeys, offset: int, prefix: Prefix
) -> Frame | None:
    """Read and open the head behind a prefix; None if it does not authenticate."""
    sealed = file.read_at(offset + PREFIX_LENGTH, prefix.head_length)
    try:
        head = unseal(keys.head, prefix.nonce, sealed, prefix.raw)
    except WrongKeyError:
        return None
    return Frame(offset, prefix, head, sealed[-TAG_LENGTH:])


def index_in(file: SealedFile, keys: FrameKeys, frame: Frame) -> Tables:
    """Read the tables of a frame that is an index; see ``decode_index``."""
    return decode_index(frame.head, file, frame.bodies_offset, keys.bodies)


def opens(file: SealedFile, keys: FrameKeys, line: Line, offset: int) -> bool:
    """Whether a change has no body, or one that authenticates."""
    if not line.tag:
        return True
    sealed = file.read_at(offset, line.length)
    try:
        keys.bodies.open(line.table, line.document_id, sealed, line.tag)
    except DocumentDamagedError:
        return False
    return True


def _apply(found: Replayed, frame: Frame, file: SealedFile, keys: FrameKeys) -> None:
    """Bring tables to the state after a frame, in place."""
    if is_index(frame.head):
        found.tables = index_in(file, keys, frame)
        found.index_tag = frame.tag
        return
    for line, offset in frame.lines():
        if line.verb == DROP:
            # Lists made from the index know nothing of a table that begins again.
            found.index_tag = b""
        apply_line(found.tables, line, offset)


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
    file: SealedFile, keys: FrameKeys, mark: Mark, end: int
) -> tuple[Replayed, Frame | None]:
    found = Replayed(size=end, index_offset=mark.index_offset)
    if mark.index_offset:
        _start_at_index(file, keys, found)
    last = None
    known_tag = found.tag if found.sequence == mark.sequence else None
    for frame in frames(file, keys, found.end, end):
        if not follow(found, frame):
            break
        _apply(found, frame, file, keys)
        found.frames += 1
        last = frame
        if found.sequence == mark.sequence:
            known_tag = found.tag
    found.is_other_copy = known_tag not in (None, mark.tag)
    return found, last


def _start_at_index(file: SealedFile, keys: FrameKeys, found: Replayed) -> None:
    index = next(frames(file, keys, found.index_offset, found.size), None)
    if index is None or not is_index(index.head):
        raise VaultDamagedError("the index of the journal did not authenticate")
    _apply(found, index, file, keys)
    _step(found, index)
    found.base = found.end


def _step(found: Replayed, frame: Frame) -> None:
    found.sequence, found.tag = frame.prefix.sequence, frame.tag
    found.end = frame.end


def _has_bodies(file: SealedFile, keys: FrameKeys, frame: Frame) -> bool:
    lines = () if is_index(frame.head) else frame.lines()
    return all(opens(file, keys, line, offset) for line, offset in lines)


def _judge(file: SealedFile, keys: FrameKeys, found: Replayed, mark: Mark) -> None:
    for offset, prefix in find_frames(file, keys, found.end):
        follows = (prefix.sequence, prefix.previous) == (found.sequence + 1, found.tag)
        # The frame that comes next may be torn; any other has no business here.
        if offset > found.end or not follows:
            raise VaultAlteredError("a frame after a damaged one authenticates")
    found.missing = max(0, mark.sequence - found.sequence)

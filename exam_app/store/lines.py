"""What the head of a save says: its changes, one a line.

A change names table, document, the length and tag of its body, and its row: the few
fields that lists and searches need.
"""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from exam_app.store.bodies import WHERE, deflate, inflate
from exam_app.store.errors import VaultDamagedError, VaultTooNewError

Entry = tuple[bytes, bytes]
_CHANGES = b"c"
INDEX = b"i"
NEW, PUT, MOVE, REMOVE, DROP, TABLE = b"n", b"p", b"m", b"r", b"d", b"t"


class Line(NamedTuple):
    """One change.

    Attributes:
        verb: ``NEW`` keeps a document that was not there, ``PUT`` keeps it at its
            place, ``MOVE`` at the end, ``REMOVE`` removes it; ``DROP`` removes a whole
            table and ``TABLE`` names one, with the next free number in ``length``.
        table: Its table.
        document_id: Empty for ``DROP`` and ``TABLE``.
        length: Bytes of the sealed body; 0 without one.
        tag: Of the body; empty without one.
        row: JSON of the fields kept in the head; empty without any.
    """

    verb: bytes
    table: str
    document_id: str = ""
    length: int = 0
    tag: bytes = b""
    row: bytes = b""


def encode_changes(lines: Iterable[Line]) -> bytes:
    """Write the head of a save."""
    joined = b"\n".join(
        b"%b\t%b\t%b\t%d\t%b\t%b"
        % (
            line.verb,
            line.table.encode(),
            line.document_id.encode(),
            line.length,
            line.tag.hex().encode(),
            line.row,
        )
        for line in lines
    )
    return _CHANGES + deflate(joined)


def is_index(head: bytes) -> bool:
    """Whether a head is an index."""
    return head[:1] == INDEX


def decode_changes(head: bytes) -> Iterator[Line]:
    """Read the head of a save.

    Raises:
        VaultTooNewError: A kind of head or change that this version does not know.
        VaultDamagedError: It authenticated and makes no sense.
    """
    if head[:1] != _CHANGES:
        raise VaultTooNewError("a head of a kind that this version does not know")
    for line in inflate(head[1:]).split(b"\n"):
        try:
            verb, table, document_id, length, tag, row = line.split(b"\t", 5)
            yield Line(
                verb,
                table.decode("ascii"),
                document_id.decode("ascii"),
                int(length),
                bytes.fromhex(tag.decode("ascii")),
                row,
            )
        except ValueError as error:
            raise VaultDamagedError("a change makes no sense") from error


def placed_lines(head: bytes, offset: int) -> Iterator[tuple[Line, int]]:
    """Give every change with the offset of its body, the first at ``offset``."""
    for line in decode_changes(head):
        yield line, offset
        if line.tag:
            offset += line.length


def place_of(where: bytes) -> tuple[int, int, bytes]:
    """Give offset, length and tag of a body; zeros and nothing without one."""
    return WHERE.unpack(where) if where else (0, 0, b"")


def number_after(document_id: str) -> int:
    """Give the number after an id that is one; 1 after any other."""
    is_number = document_id.isdecimal() and len(document_id) < 19
    return int(document_id) + 1 if is_number else 1

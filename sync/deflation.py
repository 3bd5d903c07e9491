"""Deflate (RFC 1951) with a dictionary that ships here, and inflate within bounds.

The packed form begins with the dictionary's number; 0 is none. A number is never given
to another dictionary, and every dictionary is kept for ever.
"""

import zlib
from collections.abc import Sequence

from sync.dictionary_1 import DICTIONARY_1
from sync.dictionary_2 import DICTIONARY_2
from sync.errors import BundleTooLargeError, BundleTooNewError, NotABundleError

LARGEST_INFLATED = 4 * 2**20
NEWEST_DICTIONARY = 2
COLUMNS = 3
_DICTIONARIES = {0: b"", 1: DICTIONARY_1, 2: DICTIONARY_2}
_LENGTH_BYTES = 4


def deflate(
    columns: Sequence[bytes | bytearray], number: int = NEWEST_DICTIONARY
) -> bytes:
    """Return columns as one deflated stream, each in blocks of its own.

    Before them, inside the stream, stand the lengths of all but the last.

    Args:
        number: Of the dictionary.

    Raises:
        BundleTooLargeError: They pass the limit.
    """
    lengths = [len(column).to_bytes(_LENGTH_BYTES, "big") for column in columns[:-1]]
    if sum(map(len, columns)) + sum(map(len, lengths)) > LARGEST_INFLATED:
        raise BundleTooLargeError(f"more than {LARGEST_INFLATED} bytes unpacked")
    press = zlib.compressobj(
        9, zlib.DEFLATED, -15, 9, zlib.Z_DEFAULT_STRATEGY, _DICTIONARIES[number]
    )
    made = press.compress(b"".join(lengths))
    for column in columns[:-1]:
        made += press.compress(column) + press.flush(zlib.Z_BLOCK)
    return bytes([number]) + made + press.compress(columns[-1]) + press.flush()


def inflate(packed: bytes) -> list[bytes]:
    """Return the columns; never more than the limit is unpacked.

    Raises:
        NotABundleError: Damaged, cut off, or something follows.
        BundleTooNewError: A dictionary that this version does not have.
        BundleTooLargeError: It unpacks to more than the limit.
    """
    if not packed:
        raise NotABundleError("nothing is inside")
    if packed[0] not in _DICTIONARIES:
        raise BundleTooNewError(f"dictionary {packed[0]}")
    opener = zlib.decompressobj(-15, _DICTIONARIES[packed[0]])
    try:
        content = opener.decompress(packed[1:], LARGEST_INFLATED + 1)
    except zlib.error as error:
        raise NotABundleError("it cannot be unpacked") from error
    if len(content) > LARGEST_INFLATED:
        raise BundleTooLargeError(f"more than {LARGEST_INFLATED} bytes unpacked")
    if not opener.eof or opener.unused_data:
        raise NotABundleError("it ends too early, or something follows")
    return _columns(content)


def _columns(content: bytes) -> list[bytes]:
    place = _LENGTH_BYTES * (COLUMNS - 1)
    heads = [content[i : i + _LENGTH_BYTES] for i in range(0, place, _LENGTH_BYTES)]
    columns = []
    for head in heads:
        end = place + int.from_bytes(head, "big")
        columns.append(content[place:end])
        place = end
    if place > len(content):
        raise NotABundleError("a column is cut off")
    return [*columns, content[place:]]

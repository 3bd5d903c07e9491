"""The one spelling of CBOR that a record uses, written and demanded.

Deterministic encoding of RFC 8949, section 4.2.1: shortest heads, definite lengths,
map keys in bytewise order. No floats, no tags, no null, no undefined; keys are integers
or texts. Since keys must rise, a key cannot stand twice.

``check_form`` says what is wrong, by a loop in Python. What nearly always arrives is
right, and is known to be by less: no head but those allowed (before any library builds
a value), few levels, keys that rise in every map as the library gives it out, and the
same bytes once it writes the value again. Whatever is not known to be right by that
goes through the loop, so that nothing is accepted that it refuses.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import cbor2

from exam_app.record.errors import (
    CannotBeWrittenError,
    NotARecordError,
    RecordTooLargeError,
)

LARGEST = 262_144
DEEPEST = 16
MOST_ITEMS = 50_000
LONGEST_TEXT = 65_535
LARGEST_INTEGER = 2**63 - 1

UNSIGNED, NEGATIVE, BYTES, TEXT, ARRAY, MAP, _TAG, _SIMPLE = range(8)
_FALSE, _TRUE = 20, 21
_WIDTHS = {24: 1, 25: 2, 26: 4, 27: 8}


def short_strings(lengths: Iterable[int]) -> bytes:
    """Return a pattern for bytes and texts of these lengths, below 24, with heads."""
    return b"|".join(
        b"[%b%b].{%d}" % (re.escape(bytes([0x40 + n])), re.escape(bytes([0x60 + n])), n)
        for n in lengths
    )


# Heads in their shortest form, with the bodies of short strings, hashes and signatures.
# Arrays and maps of at most 4 095 parts: a library may make room for what is claimed.
_ALLOWED_RUN = re.compile(
    rb"(?:[\x00-\x17\x20-\x37\x40\x60\x80-\x97\xa0-\xb7\xf4\xf5]"
    rb"|[\x18\x38\x98\xb8][\x18-\xff]|[\x19\x39][\x01-\xff].|[\x99\xb9][\x01-\x0f]."
    rb"|[\x1a\x3a](?!\0\0).{4}|[\x1b\x3b](?!\0{4})[\x00-\x7f].{7}"
    rb"|\x58\x20.{32}|\x58\x40.{64}|" + short_strings(range(1, 24)) + rb"){0,2048}+",
    re.DOTALL,
)
_LONGER_STRINGS = {0x58: 1, 0x78: 1, 0x59: 2, 0x79: 2}
_NOT_SURE = object()
# Some versions of the library count the value inside the inmost holder, others do not.
_SURE_DEPTH = DEEPEST - 1
_KEYS = {int, str}


@dataclass(slots=True)
class _Open:
    """An array or map whose parts are still being read."""

    is_map: bool
    parts_left: int
    last_key: bytes = b""


def encode(value: object) -> bytes:
    """Return the bytes of a value made of dict, list, str, bytes, bool and int.

    Raises:
        CannotBeWrittenError: Something in it has no spelling here.
        RecordTooLargeError: It passes a limit.
    """
    try:
        content = cbor2.dumps(_in_order(value))
    except (cbor2.CBORError, ValueError, TypeError) as error:
        raise CannotBeWrittenError("a value has no place in a record") from error
    try:
        check_form(content)
    except NotARecordError as error:
        raise CannotBeWrittenError(error.reason) from error
    return content


def decode(content: bytes) -> Any:  # noqa: ANN401
    """Return the value of bytes in exactly this form.

    Raises:
        NotARecordError: The bytes are cut off, spelled otherwise, or more follows.
        RecordTooLargeError: They pass a limit.
    """
    value = _decode_if_sure(content)
    if value is not _NOT_SURE:
        return value
    check_form(content)
    try:
        return cbor2.loads(content)
    except (cbor2.CBORError, ValueError, TypeError) as error:
        raise NotARecordError("a text is not UTF-8") from error


def is_surely_in_form(content: bytes) -> bool:
    """Say whether bytes are known to pass ``check_form``, by less than it does."""
    return _decode_if_sure(content) is not _NOT_SURE


def _decode_if_sure(content: bytes) -> object:
    # An item takes at least a byte, so that so few bytes hold no more items.
    if len(content) > MOST_ITEMS or not _has_only_allowed_heads(content):
        return _NOT_SURE
    try:
        # A browser's Python has little room for calls within calls.
        value = cbor2.loads(content, object_hook=_ordered, max_depth=_SURE_DEPTH)
        is_same = cbor2.dumps(value) == content
    except (cbor2.CBORError, ValueError, TypeError):
        return _NOT_SURE
    return value if is_same else _NOT_SURE


def _has_only_allowed_heads(content: bytes) -> bool:
    """Say whether bytes are heads that are allowed, each with its body if it has one.

    Whether arrays and maps have as many parts as they claim is not looked at.
    """
    place, length = 0, len(content)
    while place < length:
        run = _ALLOWED_RUN.match(content, place)
        end = run.end() if run else place
        if end == place:
            end = _end_of_longer_string(content, place)
            if not place < end <= length:
                return False
        place = end
    return True


def _end_of_longer_string(content: bytes, start: int) -> int:
    """Return where a string of 24 bytes and more ends; ``start`` for anything else."""
    width = _LONGER_STRINGS.get(content[start], 0)
    body = start + 1 + width
    size = int.from_bytes(content[start + 1 : body], "big")
    is_shortest = size >= (24 if width == 1 else 256)
    return body + size if width and is_shortest else start


def _ordered(first: Any, second: Any) -> dict[Any, Any]:  # noqa: ANN401
    """Return a map whose keys rise; called for every map while it is read.

    Args:
        first: What reads it, or in later versions of the library the map.
        second: The map, or in later versions whether it has to be immutable.

    Raises:
        ValueError: They do not. One that stood twice is not seen here.
        TypeError: It is a key itself.
    """
    read: dict[Any, Any] = second if type(second) is dict else first
    last = -1
    for key in read:
        if type(key) is not int or key <= last:
            return _ordered_as_spelled(read)
        last = key
    return read


def _ordered_as_spelled(read: dict[Any, Any]) -> dict[Any, Any]:
    spelled = [*map(cbor2.dumps, read)]
    if not _KEYS.issuperset(map(type, read)) or spelled != sorted(spelled):
        raise ValueError("keys of another kind, or out of order")
    return read


def _in_order(value: object) -> object:
    if isinstance(value, dict):
        keys = sorted(value, key=cbor2.dumps)
        return {key: _in_order(value[key]) for key in keys}
    if isinstance(value, list):
        return [_in_order(part) for part in value]
    return value


def check_form(content: bytes) -> None:
    """Refuse bytes that are not one value in this form and nothing after it.

    Raises:
        NotARecordError: Names the first fault.
        RecordTooLargeError: A limit is passed.
    """
    if len(content) > LARGEST:
        raise RecordTooLargeError(f"more than {LARGEST} bytes")
    end, items = 0, 0
    waiting = [_Open(is_map=False, parts_left=1)]
    while waiting:
        inside = waiting[-1]
        if inside.parts_left == 0:
            waiting.pop()
            continue
        start = end
        major, argument, end = _read_item(content, start)
        items += 1
        if items > MOST_ITEMS or len(waiting) > DEEPEST:
            raise RecordTooLargeError(f"over {MOST_ITEMS} items or {DEEPEST} levels")
        if inside.is_map and inside.parts_left % 2 == 0:
            _check_key(inside, major, content[start:end])
        inside.parts_left -= 1
        if major in {ARRAY, MAP}:
            parts = argument * 2 if major == MAP else argument
            waiting.append(_Open(is_map=major == MAP, parts_left=parts))
    if end != len(content):
        raise NotARecordError("bytes follow the end")


def _check_key(inside: _Open, major: int, key: bytes) -> None:
    if major not in {UNSIGNED, NEGATIVE, TEXT}:
        raise NotARecordError("a key is neither integer nor text")
    if inside.last_key and key <= inside.last_key:
        raise NotARecordError("keys stand twice or out of order")
    inside.last_key = key


def _read_item(content: bytes, start: int) -> tuple[int, int, int]:
    """Return major type, argument, and where the item (or an opened head) ends."""
    major, argument, end = read_head(content, start)
    if major in {UNSIGNED, NEGATIVE} and argument > LARGEST_INTEGER:
        raise NotARecordError("an integer is out of range")
    if major == _TAG or (major == _SIMPLE and argument not in {_FALSE, _TRUE}):
        raise NotARecordError("a tag, float, null or other simple value")
    if major in {BYTES, TEXT}:
        if argument > LONGEST_TEXT:
            raise RecordTooLargeError(f"a text of more than {LONGEST_TEXT} bytes")
        end += argument
    if end > len(content) or (major in {ARRAY, MAP} and argument > len(content)):
        raise NotARecordError("the bytes end too early")
    return major, argument, end


def read_head(content: bytes, start: int) -> tuple[int, int, int]:
    """Return major type and argument of the head at ``start``, and where it ends.

    Raises:
        NotARecordError: Cut off, an indefinite length, or not the shortest spelling.
    """
    if start >= len(content):
        raise NotARecordError("the bytes end too early")
    major, short = divmod(content[start], 32)
    if short < 24:
        return major, short, start + 1
    width = _WIDTHS.get(short)
    if width is None:
        raise NotARecordError("an indefinite or reserved length")
    end = start + 1 + width
    argument = int.from_bytes(content[start + 1 : end], "big")
    if end > len(content):
        raise NotARecordError("the bytes end too early")
    if argument < (24 if width == 1 else 1 << (4 * width)):
        raise NotARecordError("a head is longer than it needs to be")
    return major, argument, end

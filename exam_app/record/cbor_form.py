"""The one spelling of CBOR that a record uses, written and demanded.

Deterministic encoding of RFC 8949, section 4.2.1: shortest heads, definite lengths,
map keys in bytewise order. No floats, no tags, no null, no undefined; keys are integers
or texts. Since keys must rise, a key cannot stand twice. The form is checked by a loop
with limits before any library builds a value from it.
"""

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
    check_form(content)
    try:
        return cbor2.loads(content)
    except (cbor2.CBORError, ValueError, TypeError) as error:
        raise NotARecordError("a text is not UTF-8") from error


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

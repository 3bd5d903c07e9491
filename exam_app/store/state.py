"""Documents and names as bytes.

Documents hold text, whole numbers, yes/no, nothing, lists and objects: no floats,
since the same value must read the same everywhere, and no bytes.
"""

import json
import re
from collections.abc import Mapping
from typing import Any

from exam_app.store.errors import (
    UnstorableValueError,
    VaultDamagedError,
)

Document = dict[str, Any]

_DEEPEST = 60
_TABLE_NAME = re.compile(r"[a-z_][a-z0-9_]*")
_DOCUMENT_ID = re.compile(r"[ -~]+")
_LARGEST_NUMBER = 2**63 - 1


def encode_document(document: Mapping[str, Any]) -> bytes:
    """Write a document as one line of JSON in UTF-8.

    Raises:
        UnstorableValueError: It holds a float, bytes, a number beyond 63 bits, a
            key that is not text, half a surrogate pair, or more than sixty levels.
    """
    _check_value(dict(document), 0)
    text = json.dumps(dict(document), ensure_ascii=False, separators=(",", ":"))
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise UnstorableValueError("text with half a surrogate pair") from error


def decode_document(line: bytes) -> Document:
    """Read what ``encode_document`` wrote, as a fresh object.

    Raises:
        VaultDamagedError: It is no JSON object. The bytes authenticated, so a
            faulty writer made them.
    """
    try:
        document = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise VaultDamagedError("a document does not parse") from error
    if not isinstance(document, dict):
        raise VaultDamagedError("a document is no object")
    return document


def _check_value(value: object, depth: int) -> None:
    # The most frequent kinds first: this runs on every field of every save.
    if value is None or isinstance(value, str):
        return
    if isinstance(value, int):
        if abs(value) > _LARGEST_NUMBER:
            raise UnstorableValueError("a number beyond 63 bits cannot be stored")
    elif depth > _DEEPEST or not isinstance(value, dict | list | tuple):
        raise UnstorableValueError(f"a {type(value).__name__} cannot be stored")
    else:
        _check_values(value, depth + 1)


def _check_values(
    values: dict[Any, Any] | list[Any] | tuple[Any, ...], depth: int
) -> None:
    if isinstance(values, dict):
        for key in values:
            if not isinstance(key, str):
                raise UnstorableValueError("a key that is not text")
        values = list(values.values())
    for inner in values:
        if type(inner) is not str:
            _check_value(inner, depth)


def check_names(table: str, document_id: object = "-") -> None:
    """Refuse names that a line of a head could not hold.

    Raises:
        UnstorableValueError: A table or document has a name that is not allowed.
    """
    is_plain = isinstance(document_id, str) and _DOCUMENT_ID.fullmatch(document_id)
    if not (is_plain and _TABLE_NAME.fullmatch(table)):
        raise UnstorableValueError("a table or document has a name with odd characters")

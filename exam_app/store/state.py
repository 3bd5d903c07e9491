"""The state as bytes: one line for each table and each document.

A save joins lines that did not change, and opening parses none. Documents hold
text, whole numbers, yes/no, nothing, lists and objects: no floats, since the same
value must read the same everywhere, and no bytes.
"""

import json
import re
from collections.abc import Mapping
from typing import Any

from exam_app.store.errors import (
    UnstorableValueError,
    VaultDamagedError,
    VaultTooNewError,
)

Document = dict[str, Any]
Tables = dict[str, dict[str, bytes]]

STATE_VERSION = 1
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
    _check_value(document, 0)
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":"))
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


def encode_state(tables: Tables) -> bytes:
    """Join all tables into the bytes that are sealed.

    Raises:
        UnstorableValueError: A table or document has a name that is not allowed.
    """
    lines = [b"state %d\n" % STATE_VERSION]
    for name, documents in tables.items():
        table = _checked_name(_TABLE_NAME, name)
        lines.append(table + b"\n")
        for document_id, line in documents.items():
            key = _checked_name(_DOCUMENT_ID, document_id)
            lines.append(b"%b\t%b\t%b\n" % (table, key, line))
    return b"".join(lines)


def decode_state(content: bytes) -> Tables:
    """Split the sealed bytes into tables; documents stay unparsed.

    Raises:
        VaultTooNewError: A newer version of the app laid the state out.
        VaultDamagedError: The bytes authenticated and make no sense.
    """
    first, *lines = content.split(b"\n")
    found = re.fullmatch(rb"state ([0-9]{1,9})", first)
    if found is None or not lines or lines.pop():
        raise VaultDamagedError("the state has no version line or no end")
    if int(found[1]) > STATE_VERSION:
        raise VaultTooNewError("state of a newer version")
    tables: Tables = {}
    for line in lines:
        name, *rest = line.split(b"\t", 2)
        table = tables.setdefault(name.decode("ascii", "replace"), {})
        if rest:
            document_id, document = rest if len(rest) == 2 else (b"", b"")
            if not document:
                raise VaultDamagedError("a line of the state is cut")
            table[document_id.decode("ascii", "replace")] = document
    return tables


def _check_value(value: object, depth: int) -> None:
    if value is None or isinstance(value, str):
        return
    if isinstance(value, int) and abs(value) <= _LARGEST_NUMBER:
        return
    if depth > _DEEPEST or not isinstance(value, Mapping | list | tuple):
        raise UnstorableValueError(f"a {type(value).__name__} cannot be stored")
    if isinstance(value, Mapping):
        if not all(isinstance(key, str) for key in value):
            raise UnstorableValueError("a key that is not text")
        value = list(value.values())
    for inner in value:
        _check_value(inner, depth + 1)


def _checked_name(allowed: re.Pattern[str], name: str) -> bytes:
    if not allowed.fullmatch(name):
        raise UnstorableValueError("a table or document has a name with odd characters")
    return name.encode("ascii")

"""The words of the trade that come with the program, and a practice's own beside them.

A practice writes its words, and short forms for what it says daily, into one file of
its folder, in the shape of ours. A file with a fault is not used and hides nothing.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from exam_app.domain.words.trade_words import TradeWords
from exam_app.protocols.codec import Fault, ProtocolFileError

FILE_NAME = "words.toml"
_MAX_BYTES = 500_000
_LONGEST = 200
_LONGEST_PHRASE = 500


@dataclass(frozen=True, slots=True)
class PracticeWords:
    """Words in use here.

    Attributes:
        trade: The program's and, where its file has no fault, the practice's.
        refused: Why the practice's file is not used; ``None`` where it is.
    """

    trade: TradeWords
    refused: ProtocolFileError | None = None


@cache
def trade_words() -> TradeWords:
    """Return the words that come with the program.

    Raises:
        ProtocolFileError: Words mean two things.
    """
    name = "trade_words.toml"
    text = files("exam_app.protocols").joinpath("tables", name).read_bytes()
    words = read_words(name, text)
    _refuse(name, words.faults())
    return words


def words_of(folder: Path) -> PracticeWords:
    """Return the program's words with those of a practice's folder; it may be missing.

    The file is read at each call; one that is the same is not checked again.
    """
    try:
        text = (folder / FILE_NAME).read_bytes()
    except OSError:
        return PracticeWords(trade_words())
    try:
        return PracticeWords(_joined(text))
    except ProtocolFileError as error:
        return PracticeWords(trade_words(), error)


@lru_cache(maxsize=8)
def _joined(text: bytes) -> TradeWords:
    own = read_words(FILE_NAME, text)
    both = trade_words().joined(own)
    _refuse(FILE_NAME, both.faults())
    return both


def _refuse(name: str, faults: tuple[tuple[str, str], ...]) -> None:
    if faults:
        problems = tuple(Fault(name, key, reason) for key, reason in faults)
        raise ProtocolFileError(name, problems)


def read_words(name: str, toml_bytes: bytes) -> TradeWords:
    """Return the words of a TOML text; whether they mean one thing is not asked here.

    Args:
        name: File name, for the faults.
        toml_bytes: The text in UTF-8, at most 500 kB.

    Raises:
        ProtocolFileError: The text has faults; all of them are listed.
    """
    if len(toml_bytes) > _MAX_BYTES:
        raise ProtocolFileError.of(name, "(file)", f"more than {_MAX_BYTES} bytes")
    try:
        raw = tomllib.loads(toml_bytes.decode())
    except (ValueError, RecursionError) as error:
        raise ProtocolFileError.of(
            name, "(file)", f"no TOML in UTF-8: {error}"
        ) from error
    known = {one.name for one in fields(TradeWords)}
    faults = [(key, "unknown table") for key in raw if key not in known]
    tables: dict[str, Any] = {}
    for key, value in raw.items():
        if key == "two_kinds":
            tables[key] = _texts(value, key, faults)
        elif key in ("either", "phrases"):
            tables[key] = _one_text_each(value, key, faults)
        elif key in known:
            tables[key] = _texts_each(value, key, faults)
    _refuse(name, tuple(faults))
    return TradeWords(**tables)


Faults = list[tuple[str, str]]


def _texts(value: object, at: str, faults: Faults) -> tuple[str, ...]:
    listed: list[object] = value if isinstance(value, list) else [value]
    texts = tuple(one.strip() for one in listed if isinstance(one, str))
    if len(texts) < len(listed) or not all(0 < len(t) <= _LONGEST for t in texts):
        faults.append((at, f"expected words of 1 to {_LONGEST} letters"))
        return ()
    return texts


def _texts_each(value: object, at: str, faults: Faults) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        faults.append((at, "expected a table"))
        return {}
    return {key: _texts(ways, f"{at}.{key}", faults) for key, ways in value.items()}


def _one_text_each(value: object, at: str, faults: Faults) -> Mapping[str, str]:
    if not isinstance(value, dict):
        faults.append((at, "expected a table"))
        return {}
    found: dict[str, str] = {}
    for key, text in value.items():
        if isinstance(text, str) and key.strip():
            found[key] = text.strip()
        if not 0 < len(found.get(key, "")) <= _LONGEST_PHRASE:
            told = f"expected a text of 1 to {_LONGEST_PHRASE} letters"
            faults.append((f"{at}.{key}", told))
    return found

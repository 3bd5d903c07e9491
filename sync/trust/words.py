"""Six words that two people compare, so that both screens speak of the same two cards.

The 2 048 English words of BIP-39 (github.com/bitcoin/bips, bip-0039), chosen there so
that the first four letters tell each word from all others. As distributed by
``mnemonic`` 0.21 under the MIT licence, copyright (c) 2013-2016 Pavol Rusnak. Part of
the format: the list and its order never change.
"""

from importlib.resources import files

from exam_app.crypto import door
from exam_app.crypto.door import KeyDerivation

WORD_COUNT = 6
_BITS = 11
_LABEL = b"exam-app pairing words v1"
_SLOW_LABEL = b"exam-app pairing words v2"
# Part of the format: both sides must find the same words.
WORDS_DERIVATION = KeyDerivation(memory_kib=65_536, passes=3, lanes=1)

WORDS = tuple((files(__package__) / "words.txt").read_text("ascii").split())


def words_of(first: bytes, second: bytes) -> tuple[str, ...]:
    """Return six words over two messages, the order of which matters.

    Sixty-six bits: the first of SHA-256 over a label and the hash of each. Version 1,
    of stored cards only: whoever tries another second message needs one hash a try.
    """
    return _first_words(door.sha256(_LABEL + door.sha256(first) + door.sha256(second)))


async def slow_words_of(
    first: bytes, second: bytes, derivation: KeyDerivation = WORDS_DERIVATION
) -> tuple[str, ...]:
    """Return six words over two messages, each try of which costs a derivation.

    Sixty-six bits: the first of Argon2id over the hash of each. Somebody in the middle
    who knows the words of one screen would have to find a card of his own that gives
    the same, within the minutes that a card is valid.

    Args:
        first: The clinic's card.
        second: The device's card.
        derivation: Anything but the default is for tests.
    """
    both = door.sha256(first) + door.sha256(second)
    return _first_words(await door.derive_key(both, _SLOW_LABEL, derivation))


def compared_words(digest: bytes) -> tuple[str, ...]:
    """Return six words for a hash or the id of a key, that a person can compare.

    Its first sixty-six bits.

    Args:
        digest: At least 9 bytes.
    """
    return _first_words(digest)


def _first_words(digest: bytes) -> tuple[str, ...]:
    bits = int.from_bytes(digest, "big") >> (len(digest) * 8 - WORD_COUNT * _BITS)
    places = (bits >> _BITS * place for place in reversed(range(WORD_COUNT)))
    return tuple(WORDS[place % len(WORDS)] for place in places)

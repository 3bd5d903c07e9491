"""Base45 of RFC 9285: bytes in the characters of a QR code's alphanumeric mode.

Two bytes become three characters, a single last byte two.
"""

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
_VALUES = {character: value for value, character in enumerate(ALPHABET)}


def encode_base45(content: bytes) -> str:
    """Write bytes in Base45."""
    characters: list[str] = []
    for start in range(0, len(content) - 1, 2):
        high, rest = divmod(content[start] << 8 | content[start + 1], 2025)
        middle, low = divmod(rest, 45)
        characters += (ALPHABET[low], ALPHABET[middle], ALPHABET[high])
    if len(content) % 2:
        middle, low = divmod(content[-1], 45)
        characters += (ALPHABET[low], ALPHABET[middle])
    return "".join(characters)


def decode_base45(text: str) -> bytes:
    """Read Base45.

    Raises:
        ValueError: A foreign character, an impossible length, or a group above what
            its bytes can hold.
    """
    try:
        values = [_VALUES[character] for character in text]
    except KeyError as error:
        msg = "no character of Base45"
        raise ValueError(msg) from error
    decoded = bytearray()
    for start in range(0, len(values), 3):
        group = values[start : start + 3]
        number = sum(value * 45**place for place, value in enumerate(group))
        try:
            # A single character is no byte, so it has no room for any number.
            decoded += number.to_bytes(len(group) - 1, "big")
        except OverflowError as error:
            msg = "a group is above what its bytes can hold"
            raise ValueError(msg) from error
        if len(group) == 1:
            msg = "one character is left over"
            raise ValueError(msg)
    return bytes(decoded)


def longest_content(characters: int) -> int:
    """Give how many bytes fit in so many characters."""
    return characters // 3 * 2 + (characters % 3 == 2)
